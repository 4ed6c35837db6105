"""Trains over all four ways of a double slip, both ways along, by throws of its two levers.

Two tracks meet in it and part again.  Live frogs are fed at the outer rails of the piece, as
common practice (no source) has it: then whatever is set is live, and nothing else need be.
"""

from __future__ import annotations

import pytest

from tests.pieces.cases import SLIP_FAMILIES
from tests.pieces.test_double_slip import ROUTES
from tests.run.plans import Plan

LIVE, ALL_LIVE = SLIP_FAMILIES
ROAD_MM = 400.0


def yard(**params: object) -> Plan:
    """A double slip between four roads of 400 mm: ``A-west`` and so on lead to its ends."""
    plan = Plan(60.0, run={"throw_s": 0.5, "nudges_at_most": 0}).supply()
    joins = [
        [f"{end}/{'east' if end.endswith('west') else 'west'}", f"slip/{end}"]
        for end in ("A-west", "B-west", "A-east", "B-east")
    ]
    plan.add("[[module]]", name="yard", joins=joins)
    plan.add(
        "[[module.piece]]", name="slip", kind="double slip", **{"frog_dead_mm": 5.0, **params}
    )
    for end in ("A-west", "B-west", "A-east", "B-east"):
        plan.add("[[module.piece]]", name=end, kind="straight", length_mm=ROAD_MM)
    return plan.feed("yard/slip/outer-A-B", "yard/slip/outer-B-A")


def throws(route: str) -> list[dict[str, object]]:
    west, east = ROUTES[route]
    return [
        {"do": "throw", "lever": "yard/slip/west", "to": west},
        {"do": "throw", "lever": "yard/slip/east", "to": east},
        {"do": "wait", "for_s": 1.0},
    ]


@pytest.mark.parametrize("toward", ["east", "west"])
@pytest.mark.parametrize("route", ROUTES)
@pytest.mark.parametrize("hand", ["left", "right"])
@pytest.mark.parametrize("family", SLIP_FAMILIES)
@pytest.mark.parametrize("circuit", [False, True], ids=["traced", "solved"])
def test_a_train_takes_the_way_that_is_set(
    circuit: bool, family: str, hand: str, route: str, toward: str
) -> None:
    ends = route[:6], route[7:]
    start, finish = ends if toward == "east" else ends[::-1]
    plan = yard(family=family, hand=hand)
    plan.train(
        at=f"yard/{start}",
        place_mm=200.0,
        heading=toward,
        orders=[*throws(route), {"do": "stop", "on": f"yard/{finish}"}],
    )
    record = plan.record(motions=True, circuit=circuit)
    assert [leg.outcome for leg in record.legs] == ["clean"]
    assert not record.stalls
    assert not record.trips
    assert not record.run_throughs
    taken = list(dict.fromkeys(m.route for m in record.motions))
    assert taken == [
        f"yard/{start}/west-east",
        f"yard/slip/{route}",
        f"yard/{finish}/west-east",
    ]
    at_rest = ROUTES["A-west-A-east"]
    moved = {
        lever
        for lever, to, rest in zip(("west", "east"), ROUTES[route], at_rest, strict=True)
        if to != rest
    }
    assert {c.who for c in record.changes if c.what == "lever"} == {
        f"yard/slip/{lever}" for lever in moved
    }


@pytest.mark.parametrize(
    ("start", "toward", "route", "lever"),
    [
        # levers at rest: A-west and A-east lead to each other, B's blades lead there too
        ("B-west", "east", "B-west-A-east", "east"),
        ("B-east", "west", "A-west-B-east", "west"),
    ],
)
def test_from_b_a_train_runs_through_the_other_lever(
    start: str, toward: str, route: str, lever: str
) -> None:
    plan = yard(family=ALL_LIVE)
    finish = route[7:] if toward == "east" else route[:6]
    plan.train(
        at=f"yard/{start}",
        place_mm=200.0,
        heading=toward,
        orders=[{"do": "stop", "on": f"yard/{finish}"}],
    )
    record = plan.record(motions=True)
    (through,) = record.run_throughs
    assert (through.route, through.lever) == (f"yard/slip/{route}", f"yard/slip/{lever}")
    assert through.then == "forced over"
    assert [leg.outcome for leg in record.legs] == ["clean"]


def test_a_slip_that_a_lever_sets_wrong_shorts_a_live_frog_under_the_train() -> None:
    """It trails the east blades, which rest for A-west: the frog before it has A's pole.

    That entering a wrongly set live frog trips a breaker is a rule of the trade, common
    practice, no source.  B's western road is fed of its own, past a gap.
    """
    plan = yard(family=LIVE, frog_gaps=True)
    plan.feed("yard/B-west/north", "yard/B-west/south")
    plan.train(
        at="yard/B-west",
        place_mm=200.0,
        heading="east",
        orders=[{"do": "run", "to": "yard/A-east"}],
    )
    record = plan.record()
    assert record.trips
    assert record.trips[0].supply == "cab"


def test_two_trains_never_meet_in_it() -> None:
    """The slips foul each other, and so do the straight ways: one waits for the other."""
    plan = yard(family=ALL_LIVE)
    plan.train("one", at="yard/A-west", place_mm=200.0, heading="east",
               orders=[{"do": "stop", "on": "yard/A-east"}])  # fmt: skip
    plan.train(
        "two",
        at="yard/B-west",
        place_mm=200.0,
        heading="east",
        orders=[
            {"do": "wait", "for_s": 8.0},
            *throws("B-west-B-east"),
            {"do": "stop", "on": "yard/B-east"},
        ],
    )
    record = plan.record()
    assert [leg.outcome for leg in record.legs] == ["clean", "clean"]
    inside = {p.train: (p.enter_s, p.leave_s) for p in record.passes if "slip" in p.route}
    left = inside["one"][1]
    assert left is not None
    assert inside["two"][0] >= left


@pytest.mark.parametrize(
    ("start", "toward", "slip"),
    [("A-west", "east", "A-west-B-east"), ("A-east", "west", "B-west-A-east")],
)
def test_to_cross_is_to_take_the_slip_from_either_end(
    start: str, toward: str, slip: str
) -> None:
    """The lever that it needs is thrown for the train, and goes back behind it."""
    plan = yard(family=ALL_LIVE)
    plan.train(
        at=f"yard/{start}",
        place_mm=200.0,
        heading=toward,
        orders=[{"do": "cross", "at": "yard/slip"}],
    )
    record = plan.record(motions=True)
    assert [leg.outcome for leg in record.legs] == ["clean"]
    assert f"yard/slip/{slip}" in {m.route for m in record.motions}
    states = [c.state for c in record.changes if c.what == "lever"]
    assert states.count("moving") == 2
