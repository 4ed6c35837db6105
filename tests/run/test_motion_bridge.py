"""What a train joins by standing across a gap: entry shorts, joined supplies, dead rails."""

from __future__ import annotations

import pytest

from sim.pages.phrases import cause_lines
from sim.run.run import LiveRun
from tests.run.plans import Plan, drive, set_up

RUN = drive({"do": "circulate", "laps": 99})
#: A coach whose pickups are 80 mm apart.
COACH = {"name": "coach", "length_mm": 100.0, "pickups_mm": [10.0, 90.0]}
ENGINE = {
    "name": "engine",
    "length_mm": 100.0,
    "pickups_mm": [10.0, 90.0],
    "motor": {"speed_mm_s": 100.0, "at_voltage_v": 10.0},
}


def live_frog(leg: str, to: str, duration_s: float = 20.0) -> Plan:
    """A train comes from ``leg`` of a live-frog turnout that is set ``to``, fed from beyond."""
    plan = Plan(duration_s).supply(trip_s=0.1, retry_s=3.0)
    plan.straight("a", 900.0, "cab").turnout(
        "T", leg, family="live frog", run_through="forced over"
    )
    plan.straight("b", 900.0, "cab")
    plan.add("[[gap]]", at=f"T/P/{leg}")
    if to == "diverging":
        plan.add("[[throw]]", at_s=0.0, lever="T/P/lever", to="diverging")
    return plan


@pytest.mark.parametrize("circuit", [False, True])
def test_entry_into_a_wrongly_set_live_frog_shorts(circuit: bool) -> None:
    """The engine's own pickups join the leg's fed rail to the frog of the other pole."""
    plan = live_frog("through", "diverging")
    plan.train(at="b/P", place_mm=300.0, heading="west", orders=RUN)
    record = plan.record(circuit=circuit)
    trip = record.trips[0]
    # Rest to 100 mm/s over 50 mm; the first pickup is at the gap after 310 mm: 3.6 s.
    assert trip.time_s == pytest.approx(3.6 + 0.1, abs=2e-6)
    assert trip.halted == ("local",)
    assert cause_lines(trip.cause)[0] == "cab is shorted"
    assert (
        cause_lines(trip.cause)[1]
        == "local joins rails of different poles at T/P/points-through"
    )
    assert "its pickups on the right rail stand on" in cause_lines(trip.cause)[2]
    assert record.stalls == ()


def test_the_same_entry_is_clean_when_the_points_are_set_for_it() -> None:
    plan = live_frog("through", "through")
    record = plan.train(at="b/P", place_mm=300.0, heading="west", orders=RUN).record()
    assert record.trips == ()
    assert record.dropouts == ()
    assert [p.outcome for p in record.passes] == ["clean"]


def test_a_train_that_makes_a_short_is_freed_by_hand() -> None:
    plan = live_frog("through", "diverging", 60.0)
    plan.run = {"nudge_after_s": 1.0, "nudge_mm": 120.0}
    record = plan.train(at="b/P", place_mm=300.0, heading="west", orders=RUN).record()
    nudges = [e for e in record.events if e.what == "nudge"]
    assert nudges[0].time_s == pytest.approx(record.trips[0].time_s + 1.0)
    # Pushed on, its first wheel forces the points over, and the short is gone.
    (through,) = record.run_throughs
    assert through.then == "forced over"
    assert record.passes[0].outcome == "tripped"
    assert record.passes[0].leave_s is not None
    assert record.stalls == ()
    assert len(record.trips) == 1  # however often the supply tried again meanwhile


@pytest.mark.parametrize(
    ("coasting_mm", "trips", "outcome"), [(400.0, 0, "hesitated"), (20.0, 1, "tripped")]
)
def test_a_short_that_is_rolled_over_before_the_supply_trips_is_a_hesitation(
    coasting_mm: float, trips: int, outcome: str
) -> None:
    """By definition nothing tripped. One that it stands on halts it until the supply trips.

    A trip is a current above the supply's for its trip time (common practice, no source).
    """
    plan = live_frog("through", "diverging")
    plan.parts[0] = plan.parts[0].replace("trip_s = 0.1", "trip_s = 9.0")
    plan.train(at="b/P", place_mm=300.0, heading="west", orders=RUN, coasting_mm=coasting_mm)
    record = plan.record()
    assert len(record.trips) == trips
    assert record.passes[0].outcome == outcome
    assert len(record.hesitations) == (not trips)
    assert record.stalls == ()


def dead_end(feeds: bool) -> Plan:
    """``b`` is gapped from ``a`` on the south rail, and nothing feeds that rail of it."""
    plan = Plan(20.0).supply().straight("a", 900.0, "cab").straight("b", 900.0)
    plan.add("[[gap]]", at="a/P/east", rails="south")
    coach = {**COACH, "name": "feeder"} if feeds else {"name": "wagon", "length_mm": 100.0}
    return plan.train(vehicles=[ENGINE, coach], place_mm=700.0, orders=RUN, coasting_mm=400.0)


def test_a_coach_that_stands_across_the_gap_feeds_the_dead_rail() -> None:
    """As long as its pickups bridge the gap, the engine beyond it runs."""
    without = dead_end(feeds=False).record().dropouts[0]
    with_coach = dead_end(feeds=True).record().dropouts[0]
    # Engine's last pickup 90 mm behind the front, the coach's last 190 mm behind it.
    assert without.time_s == pytest.approx(1.0 + (900 + 90 - 750) / 100, abs=2e-6)
    # Between the engine's last pickup (90) and the coach's first (110) nothing bridges.
    assert with_coach.time_s == without.time_s
    assert with_coach.duration_s < without.duration_s
    again = [d for d in dead_end(feeds=True).record().dropouts if d.where == "pickups"]
    assert len(again) == 2
    # The coach bridges for 80 mm of travel: supply is back in between.
    gap = again[1].time_s - (again[0].time_s + again[0].duration_s)
    assert gap > 0.5


def run_at(plan: Plan, at_s: float) -> LiveRun:
    live = set_up(plan.case())
    live.agenda.run_until(round(at_s * 1e6))
    return live


def test_a_wheel_set_does_not_join_left_and_right() -> None:
    """A dead wagon without pickups, and an engine, change nothing between the two rails."""
    plan = Plan(10.0).supply().straight("a", 900.0, "cab")
    plan.train(vehicles=[ENGINE, COACH], place_mm=400.0, orders=RUN)
    live = run_at(plan, 2.0)
    layout = live.layout
    north, south = layout.nodes.index("a/P/north"), layout.nodes.index("a/P/south")
    assert live.supply.label_of(north) != live.supply.label_of(south)
    assert live.supply.shorted() == frozenset()


def test_vehicles_share_pickups_only_where_the_coupling_is_wired() -> None:
    """An engine with short pickups is carried over a dead stretch by its tender's."""
    spans = [(200.0, "N", "Sw"), (150.0, "N", "dead"), (200.0, "N", "Se")]
    records = {}
    for shares in (False, True):
        plan = Plan(10.0).supply().strip("cut", spans).straight("a", 500.0, "cab")
        plan.piece("d", "cut").straight("b", 500.0)
        engine = {**ENGINE, "shares_with_next": shares}
        plan.train(vehicles=[engine, COACH], place_mm=300.0, orders=RUN, coasting_mm=200.0)
        records[shares] = plan.record(ring=True)
    assert [d.where for d in records[False].dropouts][:1] == ["motor"]
    # 10, 90, 110 and 190 mm: pickups reach 180 mm, past the 150 of dead rail.
    assert records[True].dropouts == ()


def test_a_train_that_bridges_two_supplies_of_one_kind_of_pole_joins_them() -> None:
    plan = (
        Plan(10.0).supply("A").supply("B").straight("a", 900.0, "A").straight("b", 900.0, "B")
    )
    plan.add("[[gap]]", at="a/P/east", rails="both")
    plan.train(place_mm=800.0, orders=RUN)
    layout = plan.case().layout
    north = [layout.nodes.index(f"{m}/P/north") for m in "ab"]
    apart, joined, again = (run_at(plan, t) for t in (1.0, 2.2, 4.0))
    same = [
        w.supply.label_of(north[0]) == w.supply.label_of(north[1])
        for w in (apart, joined, again)
    ]
    assert same == [False, True, False]


def test_a_short_that_two_trains_only_make_together_frees_both() -> None:
    """Each bridges one gap of a rail that leads from one pole to the other."""
    plan = Plan(30.0).supply(trip_s=0.1, retry_s=3.0)
    plan.run = {"nudge_after_s": 1.0}
    spans = [(300.0, "N", "S"), (300.0, "N", "x"), (300.0, "N", "y")]
    plan.strip("chain", spans).straight("a", 300.0, "cab").piece("d", "chain")
    plan.add("[[jumper]]", **{"from": "d/P/y", "to": "d/P/N"})
    stop = {"do": "wait", "for_s": 99}
    plan.train("one", at="d/P", place_mm=350.0, orders=[stop])
    plan.train("two", at="d/P", place_mm=650.0, orders=[stop])
    trip = plan.record().trips[0]
    assert trip.time_s == 0.1
    assert [
        line.split(" ")[0] for line in cause_lines(trip.cause) if "joins rails" in line
    ] == [
        "one",
        "two",
    ]
