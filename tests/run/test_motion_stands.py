"""Trains that stand again and again: legs on dead rail, two throttles, two breakers."""

from __future__ import annotations

import pytest

from sim.records.model import Record
from tests.run.plans import Plan, drive

BACK_AND_FORTH = drive(
    {"do": "stop", "on": "b/P", "for_s": 2.0},
    {"do": "stop", "on": "a/P", "for_s": 2.0, "backward": True},
)


def test_every_leg_that_only_a_hand_brings_to_its_end_has_stalled() -> None:
    """Nothing feeds either board: no leg is clean because the hand did its work."""
    plan = Plan(200.0, run={"nudge_after_s": 2.0}).supply().straight("fed", 300.0, "cab")
    plan.straight("a", 500.0).straight("b", 500.0)
    plan.add("[[gap]]", at="fed/P/east", rails="both")
    record = plan.train(orders=BACK_AND_FORTH, repeat=True).record()
    assert len(record.legs) > 3
    assert {leg.outcome for leg in record.legs} == {"stalled"}
    # Stopped by order, then asked to go: a stall of its own each time.
    assert len(record.stalls) == len(record.legs)
    assert record.hesitations == ()


def test_laps_that_end_and_begin_under_the_hand_have_stalled() -> None:
    plan = Plan(120.0, run={"nudge_after_s": 1.0, "nudges_at_most": 0}).supply()
    plan.straight("fed", 300.0, "cab")
    plan.straight("a", 500.0).straight("b", 500.0)
    plan.add("[[gap]]", at="fed/P/east", rails="both").add(
        "[[gap]]", at="fed/P/west", rails="both"
    )
    record = plan.train(orders=drive({"do": "circulate", "laps": 1})).record(ring=True)
    assert [leg.outcome for leg in record.legs][:1] == ["stalled"]


@pytest.mark.parametrize("circuit", [False, True])
def test_two_breakers_whose_time_is_up_together_trip_together(circuit: bool) -> None:
    """Two alike supplies, opposed, with nothing between: one cannot trip before the other."""
    plan = Plan(20.0)
    for name, reversed_ in (("A", False), ("B", True)):
        plan.supply(name, reversed=reversed_, trip_s=0.1, retry_s="never")
    plan.straight("a", 500.0, "A").straight("b", 500.0, "B")
    record = plan.train(orders=BACK_AND_FORTH).record(circuit=circuit)
    assert [(t.time_s, t.supply) for t in record.trips] == [(0.1, "A"), (0.1, "B")]
    assert [leg.outcome for leg in record.legs] == ["tripped"]


def torn_between_two_throttles() -> Record:
    """Two DC throttles that run against each other: it swings, less and less, and hums."""
    plan = Plan(120.0).supply("A", "dc", voltage_v=14.0, trip_a=3.0)
    plan.supply("B", "dc", voltage_v=14.0, trip_a=3.0, reversed=True)
    plan.straight("a", 1000.0, "A").straight("b", 1000.0, "B")
    plan.add("[[gap]]", at="a/P/east", rails="both")
    order = drive({"do": "stop", "on": "b/P"})
    plan.train(
        at="a/P",
        place_mm=500.0,
        orders=order,
        length_mm=105.0,
        pickups_mm=(24.0, 48.0, 74.0),
        coasting_mm=40.0,
        acceleration_mm_s2=60.0,
    )
    return plan.record(circuit=True)


def test_a_train_torn_between_two_throttles_stands_and_is_told_so() -> None:
    record = torn_between_two_throttles()
    assert record.reversals
    # It ends: no train turns round without end on one spot.
    spots = [(r.train, r.time_s, r.place_mm) for r in record.reversals]
    assert len(spots) == len(set(spots))
    torn = [s for s in record.stalls if s.cause.kind == "throttles opposed"]
    assert torn
    assert all(s.kind == "starved" and s.would_restore == () for s in torn)


def test_a_throttle_that_no_train_stands_on_is_turned_along() -> None:
    """A driver who crosses over has set the other loop's direction before."""
    plan = Plan(30.0).supply("A", "dc").supply("B", "dc")
    plan.straight("a", 1000.0, "A").straight("b", 1000.0, "B")
    plan.add("[[gap]]", at="a/P/east", rails="both")
    order = drive({"do": "stop", "on": "b/P", "for_s": 1.0})
    record = plan.train(at="a/P", place_mm=500.0, orders=order).record()
    assert record.reversals == ()
    assert [leg.outcome for leg in record.legs] == ["clean"]
