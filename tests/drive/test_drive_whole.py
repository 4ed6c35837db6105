"""A drive is what a run of the whole layout with this one train records.

An invariant: the drive is made on a cut-out of the rails and remembered by what it
looks like, the run on everything.  No other source.
"""

from __future__ import annotations

from dataclasses import replace

from hypothesis import HealthCheck, assume, given, settings
from hypothesis import strategies as st

from sim.drive.alone import Player
from sim.drive.drive import NO_COASTING_MM, Drive, Drives
from sim.layout.traffic import Case
from tests.drive.whole import Ran, ran
from tests.run.lots import plans
from tests.run.plans import Plan

#: Shared by all examples, so that what is remembered of one layout meets the others.
PLAYER = Player()


def along_mm(case: Case, drives: Drives, drive: Drive, positions: tuple[int, ...]) -> float:
    """The place of a drive, from where its lane begins."""
    train = next(t for t in case.trains if t.name == drive.train)
    length_um = round(train.length_mm * 1000)
    lane = drives.lanes.over(drive.route, drive.forward, positions, length_um)
    assert lane is not None and drive.place_mm is not None
    lengths = [case.layout.routes[r].length_um / 1000 for r, _ in lane.segments]
    begin = lane.begin_um / 1000 + sum(lengths[: lane.over])
    places = []
    at = 0.0
    for (route, forward), length in zip(lane.segments, lengths, strict=True):
        if route == drive.at:
            places.append(at + (drive.place_mm if forward else length - drive.place_mm))
        at += length
    # A ring that is shorter than the train has a route twice on its lane.
    return min(places, key=lambda p: abs(p - begin)) - begin if len(places) == 1 else -1.0


@settings(
    max_examples=60,
    deadline=None,
    suppress_health_check=[HealthCheck.too_slow, HealthCheck.filter_too_much],
)
@given(plans(most_trains=2), st.data())
def test_a_drive_is_what_a_run_of_the_whole_records(plan: Plan, data: st.DataObject) -> None:
    case = plan.case(ring=data.draw(st.booleans(), "ring"))
    layout = case.layout
    positions = tuple(
        data.draw(st.integers(0, len(lever.positions) - 1)) for lever in layout.levers
    )
    drives = Drives(layout, case.conduct, PLAYER)
    over = [
        (route, forward)
        for route in range(len(layout.routes))
        for forward in (True, False)
        if drives.lanes.is_set(route, positions)
    ]
    train = data.draw(st.sampled_from(case.trains))
    for route, forward in data.draw(st.lists(st.sampled_from(over), min_size=3, max_size=6)):
        told = drives.drive(train, route, forward, positions)
        whole = ran(case, train, (route, forward), positions, train.speed_mm_s)
        assert (told is None) == (whole is None)
        if told is None or whole is None:
            continue
        if told.outcome == "stops at crawl":
            assert whole.outcome in ("clear", "hesitates")
            slow = replace(train, coasting_mm=NO_COASTING_MM)
            crawl = drives.crawl_mm_s(train)
            whole = ran(case, slow, (route, forward), positions, crawl)
            assert whole is not None
            assert whole.outcome == "stops"
        else:
            assert told.outcome == whole.outcome
        if whole.dead_from_the_first:
            entry = 0.0 if forward else layout.routes[route].length_um / 1000
            assert (told.at, told.place_mm) == (route, entry)
        elif whole.at_mm is not None:
            told_mm = along_mm(case, drives, told, positions)
            assume(told_mm >= 0.0)
            assert abs(told_mm - whole.at_mm) < 1.0
        assert_the_same(case, told, whole)


@settings(
    max_examples=30,
    deadline=None,
    suppress_health_check=[HealthCheck.too_slow, HealthCheck.filter_too_much],
)
@given(plans(most_trains=1), st.data())
def test_a_start_from_rest_is_what_a_run_of_the_whole_records(
    plan: Plan, data: st.DataObject
) -> None:
    case = plan.case(ring=True)
    layout, train = case.layout, case.trains[0]
    positions = tuple(lever.rest for lever in layout.levers)
    drives = Drives(layout, case.conduct, PLAYER)
    over = [r for r in range(len(layout.routes)) if drives.lanes.is_set(r, positions)]
    for route in data.draw(st.lists(st.sampled_from(over), min_size=2, max_size=4)):
        way = route, data.draw(st.booleans())
        place_um = data.draw(st.integers(0, layout.routes[route].length_um // 1000)) * 1000
        rolling = drives.drive(train, *way, positions)
        told = drives.drive(train, *way, positions, [place_um])
        whole = ran(case, train, way, positions, train.speed_mm_s, place_um)
        assert told is not None and rolling is not None
        if rolling.outcome not in ("clear", "hesitates") or whole is None:
            assert told == rolling
        else:
            assert (told.outcome == "stops at crawl") == (whole.outcome == "stops")
            assert told == rolling or told.kind == whole.kind


def assert_the_same(case: Case, told: Drive, whole: Ran) -> None:
    """What is said besides outcome and place."""
    if whole.outcome == "shorts":
        assert {case.layout.supplies[s].name for s in told.shorted} == whole.shorted
        assert told.trips == whole.trips
    if whole.outcome == "stops":
        assert told.kind == whole.kind
        same_way = told.at < 0 or whole.side in (None, "both")
        assert not same_way or told.side == whole.side
