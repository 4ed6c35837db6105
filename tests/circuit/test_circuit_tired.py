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

# Common practice, no source: held at 12 V an N engine takes 0.4 A, so 30 ohm standing; it
# needs 3 V to start, turns down to 2 V and draws 0.06 A rolling.
ENGINE = {
    "start_voltage_v": 3.0,
    "turns_down_to_v": 2.0,
    "blocked_a": 0.4,
    "blocked_at_v": 12.0,
    "running_a": 0.06,
}
TIRED_OHM = 75.0
# The same said in the older way, by the current at the start voltage: 7.5 ohm.
OLD_ENGINE = {"start_voltage_v": 3.0, "starting_a": 0.4, "running_a": 0.1}


@pytest.mark.parametrize(
    ("engine", "tired_ohm", "standing_ohm", "at_rest_v", "lost_v"),
    [
        (ENGINE, TIRED_OHM, 30.0, 2.86, 4.5),  # 10 * 30 / 105; 75 * 0.06 (by hand)
        (OLD_ENGINE, 25.0, 7.5, 2.31, 2.5),  # 10 * 7.5 / 32.5; 25 * 0.1 (by hand)
    ],
)
def test_by_its_numbers(
    engine: dict[str, float],
    tired_ohm: float,
    standing_ohm: float,
    at_rest_v: float,
    lost_v: float,
) -> None:
    plan = Plan(assumptions={"rail_ohm_m": 1e-9, "joiner_ohm": 1e-9, "contact_opens": 0.0})
    plan.add("[[supply]]", name="cab", kind="dc", voltage_v=10.0, internal_ohm=tired_ohm)
    plan.straight("a", 100.0)
    plan.add("[[feeder]]", name="f", supply="cab", plus="a/P/north", minus="a/P/south",
             wire="100 mm2", length="1 mm")  # fmt: skip
    layout = plan.train(motor=engine).case().layout
    live = LiveCircuit(layout, ())
    motor = plan.case().trains[0].vehicles[0].motor
    assert motor is not None
    sides = [(live.network.cells[n][0].node,) for n in (0, 1)]

    def gets(load: Load) -> float:
        (volts,), _ = live.settle(sides, [load], [10.0])
        assert volts is not None
        return volts

    starting = dc_load([motor], Doing.STARTING)
    assert starting.ohm == pytest.approx(standing_ohm)
    assert gets(starting) == pytest.approx(at_rest_v, abs=0.005)
    assert gets(starting) < motor.start_voltage_v
    assert 10.0 - gets(dc_load([motor], Doing.RUNNING)) == pytest.approx(lost_v, abs=3e-4)
    assert 10.0 - lost_v > motor.turns_down_to_v


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
    rolling, standing = tired(TIRED_OHM, stop=False), tired(TIRED_OHM, stop=True)
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
    """12.5 ohm and 0.06 A: 9.25 V left of 10, (9.25 - 2) / (10 - 2) of its speed (by hand)."""
    moving = Plan(30.0).supply(kind="dc", voltage_v=10.0, internal_ohm=12.5)
    moving.straight("a", 2000.0, "cab").train(motor=ENGINE)
    speeds = [
        m.speed_mm_s for m in moving.record(ring=True, motions=True, circuit=True).motions
    ]
    # 7.25 / 8 of 100 mm/s, less what rail and wire take.
    assert max(speeds) == pytest.approx(90.6, abs=0.6)


def test_a_decoder_has_its_least_volts() -> None:
    """NMRA S-9.1 (2020), table 3: 7 V at the decoder."""
    plan = Plan().supply(voltage_v=12.0).straight("a", 500.0, "cab").train()
    motor = plan.case().trains[0].vehicles[0].motor
    assert motor is not None
    assert motor.minimum_v == 7.0
    load = digital_load([motor], Doing.RUNNING, 0.5)
    assert load == Load(motor.running_a / 2, 7.0 / (motor.running_a / 2), 7.0)
    weak = Plan(10.0).supply(voltage_v=7.1, internal_ohm=2.0).straight("a", 500.0, "cab")
    (stall, *_) = weak.train().record(ring=True, circuit=True).stalls
    assert stall.kind == "starved"
    strong = Plan(10.0).supply(voltage_v=8.5, internal_ohm=2.0).straight("a", 500.0, "cab")
    assert strong.train().record(ring=True, circuit=True).stalls == ()
