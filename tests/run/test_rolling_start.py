"""One train alone that starts rolling: a run of the same train, path and power.

The numbers follow from v² = 2 a d and the units; no other source.
"""

from __future__ import annotations

from dataclasses import replace

import pytest

from sim.layout.traffic import Case
from sim.records.model import Motion, Record
from sim.run.run import RollingStart, run
from tests.run.plans import Plan, dead_ring


def dead(dead_mm: float, kind: str = "digital") -> Case:
    """Train at 300 mm of ``a``; the south rail is dead from 700 mm on."""
    return dead_ring(dead_mm, kind).train(place_mm=300.0, coasting_mm=30.0).case(ring=True)


def rolled(
    case: Case,
    speed_mm_s: float = 100.0,
    way_mm: float = 800.0,
    circuit: bool = False,
    **keys: bool,
) -> Record:
    start = RollingStart(case.trains[0], speed_mm_s, way_mm=way_mm, **keys)
    return run(case, 1, True, circuit, start=start, protection="only tells")


def last(record: Record) -> Motion:
    return record.motions[-1]


@pytest.mark.parametrize("kind", ["digital", "dc"])
@pytest.mark.parametrize("circuit", [False, True])
def test_it_rolls_at_its_speed_from_the_first_instant(kind: str, circuit: bool) -> None:
    record = rolled(dead(20.0, kind), circuit=circuit)
    assert (record.dropouts, record.stalls, record.hesitations) == ((), (), ())
    first = record.motions[0]
    assert (first.time_s, first.place_mm) == (0.0, 300.0)
    assert first.speed_mm_s == pytest.approx(100.0)
    assert record.legs[-1].end_s == pytest.approx(8.0, abs=0.2)  # DC loses volts on the way


def test_the_run_ends_when_the_way_is_done() -> None:
    record = rolled(dead(20.0), way_mm=123.0)
    assert record.legs[-1].end_s == 1.23


def test_a_dead_stretch_beyond_the_pickups_is_rolled_over_or_stops_it() -> None:
    # 100 mm are bridged up to 80 mm; 20 mm are coasted over, from 100 mm/s and 30 mm.
    over = rolled(dead(100.0))
    assert [h.train for h in over.hesitations] == ["local"]
    assert over.stalls == ()
    stopped = rolled(dead(140.0))
    # Supply is lost when the rear pickup enters at 700 mm: the front is at 790.
    assert stopped.stalls[0].route == "d/P/west-east"
    assert stopped.stalls[0].place_mm == pytest.approx(790.0 + 30.0 - 500.0)
    # In at 4.9 s, then 30 mm at half the speed.
    assert stopped.stalls[0].time_s == pytest.approx(4.9 + 0.6, abs=2e-6)


def test_a_full_energy_store_carries_it_over() -> None:
    case = dead(140.0)
    stored = replace(case.trains[0], energy_store_s=1.0)
    start = RollingStart(stored, 100.0, way_mm=800.0)
    assert run(case, 1, start=start).stalls == ()


def test_dead_rails_at_the_start_stop_it_where_it_coasts_to() -> None:
    case = dead(450.0)
    train = replace(case.trains[0], route=1, place_mm=320.0)
    assert case.layout.routes[1].id == "d/P/west-east"
    record = run(case, 1, start=RollingStart(train, 100.0))
    assert record.stalls[0].place_mm == pytest.approx(350.0)


def test_standing_it_starts_as_ordered() -> None:
    record = rolled(dead(20.0), way_mm=50.0, standing=True)
    # 50 mm to 100 mm/s at 100 mm/s².
    assert record.legs[-1].end_s == pytest.approx(1.0, abs=1e-6)
    case = dead(450.0)
    train = replace(case.trains[0], route=1, place_mm=320.0)
    record = run(case, 1, start=RollingStart(train, 100.0, standing=True))
    assert (record.stalls[0].time_s, record.stalls[0].place_mm) == (0.0, 320.0)


def test_it_does_not_brake_for_the_end_of_the_track() -> None:
    plan = Plan(60.0).supply().straight("a", 1000.0, "cab").straight("b", 500.0)
    record = rolled(plan.train(place_mm=300.0).case(), way_mm=1e6)
    assert record.legs[-1].end_s == pytest.approx(12.0)


def test_levers_lie_as_stated() -> None:
    plan = Plan(60.0).supply().straight("a", 500.0, "cab").turnout("T", family="live frog")
    case = plan.straight("b", 500.0).train(place_mm=300.0).case()
    through = RollingStart(case.trains[0], 100.0, {0: 0})
    diverging = RollingStart(case.trains[0], 100.0, {0: 1})
    assert run(case, 1, start=through).passes[0].route == "T/P/points-through"
    assert run(case, 1, start=diverging).passes[0].route == "T/P/points-diverging"


def shorted(circuit: bool, trip_s: float) -> Record:
    """It comes from the leg that is not set of a live frog that is fed from beyond."""
    plan = Plan(60.0).supply(trip_s=trip_s, retry_s=3.0)
    plan.straight("a", 900.0, "cab").turnout("T", "through", family="live frog")
    plan.straight("b", 900.0, "cab").add("[[gap]]", at="T/P/through")
    case = plan.train(at="b/P", place_mm=300.0, heading="west").case()
    start = RollingStart(case.trains[0], 100.0, {0: 1}, way_mm=1000.0)
    return run(case, 1, circuit=circuit, start=start, protection="only tells")


@pytest.mark.parametrize("circuit", [False, True])
def test_protection_that_only_tells_trips_nothing(circuit: bool) -> None:
    record = shorted(circuit, 0.1)
    shorts = [(e.time_s, e.who, e.detail) for e in record.events if e.what == "short"]
    # The first pickup, 10 mm behind the front, is at the gap after 310 mm.
    assert shorts[0] == (pytest.approx(3.1, abs=2e-6), "cab", "begins")
    assert record.trips[0].time_s == pytest.approx(3.2, abs=2e-6)
    assert record.trips[0].halted == ()
    assert not any(e.what == "reset" for e in record.events)
    slow = shorted(circuit, 30.0)
    assert slow.trips == ()
    assert any(e.what == "short" for e in slow.events)


def test_nothing_is_left_to_chance() -> None:
    plan = Plan(60.0).supply()
    plan.assumptions = {"contact_opens": 1.0, "lever_fails": 1.0}
    plan.straight("a", 500.0, "cab").turnout("T", family="insulated frog, power routing")
    case = plan.straight("b", 500.0).train(place_mm=300.0).case()
    record = run(case, 1, start=RollingStart(case.trains[0], 100.0, way_mm=900.0))
    assert (record.stalls, record.dropouts, record.random) == ((), (), False)
