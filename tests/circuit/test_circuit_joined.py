"""Supplies that meet: in wires, across a crossover, in a train's trucks."""

from __future__ import annotations

from functools import cache
from pathlib import Path

import pytest

from sim.circuit.live import LiveCircuit
from sim.layout.assemble import assemble
from sim.layout.model import Layout
from sim.records.model import Record
from sim.run.run import run
from tests.checked import scenario_from_text
from tests.run.plans import Plan, drive

LOOPS = Path(__file__).parents[1] / "command" / "loops.toml"


def two_cabs(
    joins: list[tuple[str, str]], common: bool = False, turned: bool = False
) -> Layout:
    """Two tracks, a supply each (12 V, 0.5 ohm and 11 V, 0.25 ohm), and jumpers between."""
    shared = {"common": "earth"} if common else {}
    plan = Plan(assumptions={"common_ohm": 1e-6})
    plan.supply("A", voltage_v=12.0, internal_ohm=0.5, **shared)
    plan.supply("B", voltage_v=11.0, internal_ohm=0.25, reversed=turned, **shared)
    for name in "ab":
        plan.piece(name, "straight", on_line=False, length_mm=100.0)
        cab = name.upper()
        plan.add("[[feeder]]", name=f"f{name}", supply=cab, plus=f"{name}/P/north",
                 minus=f"{name}/P/south", wire="100 mm2", length="1 mm")  # fmt: skip
    for one, other in joins:
        plan.add("[[jumper]]", from_=one, to=other, wire="100 mm2", length="1 mm")
    return plan.case().layout


def amps(layout: Layout, volts: tuple[float, float]) -> list[float]:
    live = LiveCircuit(layout, ())
    return live.settle([], [], volts)[1]


LEADS = 4 * 0.001 + 2 * 0.001  #: feeders and jumpers count 1 mΩ each at least


def test_by_one_pole_no_current_flows() -> None:
    """The first of the four ways in which supplies can be joined: nothing comes back."""
    found = amps(two_cabs([("a/P/north", "b/P/north")]), (12.0, 11.0))
    assert found == pytest.approx([0.0, 0.0], abs=1e-9)


def test_by_one_pole_with_a_common_current_can_flow() -> None:
    """The second: 1 V over 0.75 ohm and what the leads take (by hand)."""
    found = amps(two_cabs([("a/P/north", "b/P/north")], common=True), (12.0, 11.0))
    assert found[0] == pytest.approx(1.0 / (0.75 + 3 * 0.001), rel=1e-5)
    assert found[1] == pytest.approx(-found[0])


def test_by_two_poles_in_phase_they_are_paralleled() -> None:
    """The third: 1 V over 0.75 ohm."""
    both = [("a/P/north", "b/P/north"), ("a/P/south", "b/P/south")]
    found = amps(two_cabs(both), (12.0, 11.0))
    assert found[0] == pytest.approx(1.0 / (0.75 + LEADS), rel=1e-5)
    alike = amps(two_cabs(both), (12.0, 12.0))
    assert alike == pytest.approx([0.0, 0.0], abs=1e-9)


def test_by_two_poles_opposed_both_voltages_are_shorted() -> None:
    """The fourth: 23 V over 0.75 ohm."""
    both = [("a/P/north", "b/P/north"), ("a/P/south", "b/P/south")]
    found = amps(two_cabs(both, turned=True), (12.0, -11.0))
    assert found[0] == pytest.approx(23.0 / (0.75 + LEADS), rel=1e-5)
    assert abs(found[1]) == pytest.approx(found[0])


# -- a crossover between two loops -------------------------------------------------


@cache
def crossing(turned: bool, voltage_b: float = 12.0, fix: str | None = None) -> Record:
    """One engine goes from loop A to loop B over a single crossover."""
    plan = Plan(40.0)
    plan.supply("A", kind="digital", voltage_v=12.0, trip_a=3.0, trip_s=0.05)
    plan.supply("B", kind="digital", voltage_v=voltage_b, trip_a=3.0, trip_s=0.05,
                reversed=turned)  # fmt: skip
    ends = {"west": ["A/west", "B/west"], "east": ["A/east", "B/east"]}
    for name in ("w", "e"):
        plan.add("[[module]]", name=name, ends=ends)
        for track in "AB":
            plan.add("[[module.piece]]", name=track, kind="straight", length_mm=700.0)
        plan.line.append(name)
        if name == "w":
            plan.add("[[module]]", name="x")
            plan.add("[[module.piece]]", name="X", kind="single crossover",
                     family="insulated frog, all live", track_centres_mm=33.0,
                     length_mm=400.0)  # fmt: skip
            plan.line.append("x")
    for track in "AB":
        for name in ("w", "e"):
            plan.feed(f"{name}/{track}/north", f"{name}/{track}/south", track)
    plan.train(at="w/A", place_mm=300.0, orders=drive({"do": "cross", "at": "x/X"}),
               pickups_mm=(5.0, 55.0), length_mm=60.0)  # fmt: skip
    plan.add("[[fix]]", name="reverse B", reverse=["B"])
    return run(plan.case(ring=True, fix=fix), 1)


def test_opposite_phase_trips_and_tells_where() -> None:
    """Opposite phase is a common convention; the crossover then shorts (practice)."""
    record = crossing(turned=True)
    assert record.trips
    trip = record.trips[0]
    # 24 V over two supplies of 0.1 ohm, wires and rails: far above 3 A, far below 120 A.
    assert trip.current_a is not None
    assert 20.0 < abs(trip.current_a) < 120.0
    assert any("local joins rails of different poles at x/X/" in line for line in trip.cause)
    assert any("pickups on the" in line for line in trip.cause)


def test_reversing_one_supply_cures_it() -> None:
    cured = crossing(turned=True, fix="reverse B")
    assert cured.trips == ()
    assert [leg.outcome for leg in cured.legs] == ["clean"]


def test_in_phase_nothing_trips() -> None:
    record = crossing(turned=False)
    assert record.trips == ()
    assert [leg.outcome for leg in record.legs] == ["clean"]


# -- shorts that trip, and that do not ---------------------------------------------


def shorted(wire: str, length: str) -> Record:
    """A wire laid across a fed loop for good."""
    plan = Plan(20.0).supply(kind="digital", trip_a=3.0, trip_s=0.1, retry_s=4.0)
    plan.straight("a", 500.0, "cab").straight("b", 500.0)
    plan.train(at="a/P")
    plan.add("[[jumper]]", **{"from": "b/P/north", "to": "b/P/south"}, wire=wire, length=length)
    return plan.record(ring=True, circuit=True)


def test_a_short_through_thick_wire_trips() -> None:
    (trip,) = shorted("AWG 20", "100 mm").trips
    assert trip.time_s == pytest.approx(0.1)
    assert trip.current_a is not None
    assert trip.current_a > 20.0


def test_a_short_through_thin_wire_never_trips_and_trains_run_on() -> None:
    """AWG 40 is 3.44 ohm/m (ASTM B258, computed): 2 m of it draw less than 2 A."""
    record = shorted("AWG 40", "2 m")
    assert record.trips == ()
    assert record.stalls == ()
    assert record.legs


def test_too_many_trains_trip_a_supply_that_nothing_shorts() -> None:
    plan = Plan(30.0).supply(kind="dc", trip_a=0.5, trip_s=1.0, retry_s=60.0)
    for n in range(6):
        plan.straight(f"m{n}", 500.0, "cab" if n == 0 else None)
        plan.train(f"t{n}", at=f"m{n}/P", place_mm=300.0,
                   motor={"running_a": 0.15, "starting_a": 0.4})  # fmt: skip
    (trip,) = plan.record(ring=True, circuit=True).trips
    assert trip.current_a == pytest.approx(6 * 0.15, abs=1e-6)
    assert trip.cause[0] == "cab gives 0.90 A, more than the 0.5 A it trips at"
    assert len(trip.halted) == 6


def test_a_wrongly_set_live_frog_trips_when_a_wheel_joins_it() -> None:
    """Rules of this project: entering a wrongly set live frog trips a breaker.

    The turnout lies diverging, so its frog has the north pole; a train comes from
    the through leg, which is fed beyond a gap, and joins the frog to the south pole.
    """
    plan = Plan(20.0).supply(kind="digital", trip_a=3.0, trip_s=0.05)
    plan.straight("a", 900.0, "cab").turnout("t", "through", family="live frog")
    plan.straight("c", 900.0, "cab").add("[[gap]]", at="t/P/through")
    plan.add("[[throw]]", at_s=0.0, lever="t/P/lever", to="diverging")
    orders = drive({"do": "run", "to": "a/P", "backward": True})
    plan.train(at="c/P", place_mm=400.0, orders=orders)
    record = plan.record(circuit=True)
    trip = record.trips[0]
    assert "local joins rails of different poles" in trip.cause[1]
    assert any(
        "t/P/BN, c/P/south" in line or "c/P/south, t/P/BN" in line for line in trip.cause
    )
    assert trip.current_a is not None
    assert trip.current_a > 3.0


def test_the_same_scenario_gives_the_same_record() -> None:
    case = assemble(scenario_from_text(LOOPS.read_text("utf-8")))
    assert run(case, 3) == run(case, 3)
