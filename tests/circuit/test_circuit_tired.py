"""The tired contact by its numbers, alone and in a run."""

from __future__ import annotations

import pytest

from sim.circuit.live import LiveCircuit
from sim.circuit.operating_point import Load
from sim.pages.phrases import cause_lines
from sim.records.model import Record
from sim.run.solved_supply import dc_load, digital_load
from sim.run.supply import Doing
from tests.run.plans import Plan, drive

# An engine that needs 0.4 A and 3 V to start and draws 0.1 A rolling, 10 V, 25 ohm.
ENGINE = {"start_voltage_v": 3.0, "starting_a": 0.4, "running_a": 0.1}


def test_by_its_numbers() -> None:
    """7.5 ohm; 2.5 V lost rolling; 10 * 7.5 / 32.5 = 2.3 V at rest (by hand)."""
    plan = Plan(assumptions={"rail_ohm_m": 1e-9, "joiner_ohm": 1e-9, "contact_opens": 0.0})
    plan.add("[[supply]]", name="cab", kind="dc", voltage_v=10.0, internal_ohm=25.0)
    plan.straight("a", 100.0)
    plan.add("[[feeder]]", name="f", supply="cab", plus="a/P/north", minus="a/P/south",
             wire="100 mm2", length="1 mm")  # fmt: skip
    layout = plan.train(motor=ENGINE).case().layout
    live = LiveCircuit(layout, ())
    motor = plan.case().trains[0].vehicles[0].motor
    assert motor is not None
    sides = [(live.network.cells[n][0].node,) for n in (0, 1)]
    feeders = 2 * 0.001  # each wire is worth that much at least

    def gets(load: Load) -> float:
        (volts,), _ = live.settle(sides, [load], [10.0])
        assert volts is not None
        return volts

    starting = dc_load([motor], Doing.STARTING)
    assert starting.ohm == pytest.approx(7.5)
    assert gets(starting) == pytest.approx(10 * 7.5 / (32.5 + feeders), abs=1e-9)
    assert gets(starting) == pytest.approx(2.3, abs=0.01)
    assert 10.0 - gets(dc_load([motor], Doing.RUNNING)) == pytest.approx(2.5, abs=3e-4)


def tired(ohm: float | None, stop: bool) -> Record:
    """A ring with a live-frog turnout whose through contact has ``ohm``."""
    plan = Plan(60.0)
    plan.supply(kind="dc", voltage_v=10.0, internal_ohm=0.01)
    plan.straight("a", 800.0, "cab")
    worn = {} if ohm is None else {"contact_ohm": {"through": ohm}}
    plan.turnout("t", "through", family="live frog", **worn)
    # Past the frog the rail hangs on the contact: the far end has a gap.
    plan.straight("b", 400.0).straight("c", 800.0, "cab")
    plan.add("[[gap]]", at="b/P/east")
    orders = drive({"do": "stop", "on": "b/P", "place_mm": 250.0, "for_s": 3.0},
                   {"do": "run", "to": "c/P"})  # fmt: skip
    if not stop:
        orders = drive({"do": "run", "to": "c/P"})
    plan.train(orders=orders, motor=ENGINE, speed_mm_s=100.0)
    return plan.record(circuit=True)


def test_it_rolls_on_where_it_would_not_start() -> None:
    """The same contact: rolling over it the train slows, standing behind it it stays."""
    rolling, standing = tired(25.0, stop=False), tired(25.0, stop=True)
    assert rolling.stalls == ()
    assert [leg.outcome for leg in rolling.legs] in ([], ["clean"])
    (stall,) = standing.stalls[:1]
    assert stall.kind == "starved"
    assert stall.section.startswith("b/P/")
    assert any("t/P/through costs" in line for line in cause_lines(stall.cause))
    assert ("t/P/through",) in stall.would_restore
    assert stall.charged_to == "t/P"


def test_a_good_contact_starts_it() -> None:
    assert tired(None, stop=True).stalls == ()


def test_a_weak_section_slows_the_train() -> None:
    """7.5 V left of 10: (7.5 - 2) / (10 - 2) of its speed, 68.75 mm/s (by hand)."""
    plan = Plan(30.0).supply(kind="dc", voltage_v=10.0, internal_ohm=25.0)
    plan.straight("a", 2000.0, "cab")
    plan.train(place_mm=150.0, motor=ENGINE, orders=drive({"do": "run", "to": "a/P"},
               {"do": "circulate"}))  # fmt: skip
    record = plan.record(motions=True, circuit=True)
    del record  # starts too weakly: 2.3 V
    moving = Plan(30.0).supply(kind="dc", voltage_v=10.0, internal_ohm=7.5)
    moving.straight("a", 2000.0, "cab").train(motor=ENGINE)
    speeds = [
        m.speed_mm_s for m in moving.record(ring=True, motions=True, circuit=True).motions
    ]
    # 10 - 0.75 = 9.25 V: 7.25 / 8 of 100 mm/s, less what rail and wire take.
    assert max(speeds) == pytest.approx(90.6, abs=0.6)


def test_a_decoder_has_its_least_volts() -> None:
    """NMRA S-9.1 (2020), table 3: 7 V at the decoder."""
    plan = Plan().supply(voltage_v=12.0).straight("a", 500.0, "cab").train()
    motor = plan.case().trains[0].vehicles[0].motor
    assert motor is not None
    assert motor.minimum_v == 7.0
    load = digital_load([motor], Doing.RUNNING, 0.5)
    assert load == Load(motor.running_a / 2, 7.0 / (motor.running_a / 2), 7.0)
    weak = Plan(10.0).supply(voltage_v=7.4, internal_ohm=2.0).straight("a", 500.0, "cab")
    (stall, *_) = weak.train().record(ring=True, circuit=True).stalls
    assert stall.kind == "starved"
    strong = Plan(10.0).supply(voltage_v=8.5, internal_ohm=2.0).straight("a", 500.0, "cab")
    assert strong.train().record(ring=True, circuit=True).stalls == ()
