"""Levers under and before trains: throws that take time, points that are met, run through."""

from __future__ import annotations

import pytest

from sim.pages.phrases import cause_lines
from tests.run.plans import Plan, drive, set_up

#: Blades of the test turnout: tip 20 mm in, heel 60; frog far behind.
TIP, HEEL = 20.0, 60.0


def fork(run_through: str = "forced over", live: bool = False, **contacts: float) -> Plan:
    """``a`` (500 mm, fed) leads to a described fork ``T``: ``b`` through, ``c`` diverging.

    All its rails are joined for good, so nothing but motion is tried; with ``live``
    its frog ``F`` (100 to 150 mm) is fed by contacts, from the rail that the lever
    says.
    """
    plan = Plan(20.0).supply()
    frog = {"sections": ["N", "S", "F"]} if live else {"sections": ["N", "S"]}
    routes = []
    for leg, north, south in (("through", "N", "F"), ("diverging", "F", "S")):
        rails = [(0, 100, "N", "S"), (100, 150, north, south), (150, 250, "N", "S")]
        if not live:
            rails = [(0, 250, "N", "S")]
        spans = [{"from_mm": a, "to_mm": b, "left": n, "right": s} for a, b, n, s in rails]
        points = [{"lever": "lever", "position": leg, "tip_mm": TIP, "heel_mm": HEEL}]
        routes.append({"from": "points", "to": leg, "spans": spans, "points": points})
    ends = [{"name": "points", "outward": "west", "north": "N", "south": "S"}]
    ends += [
        {"name": e, "outward": "east", "north": "N", "south": "S"}
        for e in ("through", "diverging")
    ]
    more: dict[str, object] = dict(frog)
    if live:
        more["contacts"] = [
            {"name": "to S", "a": "F", "b": "S", "when": [{"lever": "through"}], **contacts},
            {"name": "to N", "a": "F", "b": "N", "when": [{"lever": "diverging"}], **contacts},
        ]
    plan.add(
        "[[piece]]",
        kind="fork",
        ends=ends,
        routes=routes,
        levers=[{"name": "lever", "run_through": run_through}],
        **more,
    )
    plan.straight("a", 500.0, "cab")
    plan.add("[[module]]", name="T", joins=[])
    plan.add("[[module.piece]]", name="P", kind="fork")
    for leg, name in (("through", "b"), ("diverging", "c")):
        plan.straight(name, 800.0)
        plan.line.remove(name)
        plan.add("[[join]]", a=f"T/P/{leg}", b=f"{name}/P/west")
    plan.line.append("T")
    plan.add("[[join]]", a="a/P/east", b="T/P/points")
    plan.line.clear()
    return plan


#: The front starts at 100 mm of a; its first pickup is 10 mm behind it, the last 90.
#: Full speed (100 mm/s) after 1 s and 50 mm, so front at x on the line: 1 + (x - 150)/100.
def front_at_s(x_mm: float) -> float:
    return 1.0 + (x_mm - 150.0) / 100.0


TIP_MET, TIP_LEFT = front_at_s(500 + TIP + 10), front_at_s(500 + HEEL + 90)
RUN = drive({"do": "circulate", "laps": 9})


def throw(plan: Plan, at_s: float, to: str = "diverging") -> Plan:
    return plan.add("[[throw]]", at_s=at_s, lever="T/P/lever", to=to)


def test_a_throw_takes_its_time() -> None:
    plan = throw(fork(), 2.0).train(orders=RUN)
    plan.run = {"throw_s": 0.5}
    live = set_up(plan.case())
    told = [(c.time_s, c.state) for c in live.recorder.changes if c.what == "lever"]
    assert told == []
    live.agenda.run_until(3_000_000)
    told = [(c.time_s, c.state) for c in live.recorder.changes if c.what == "lever"]
    assert told == [(2.0, "moving"), (2.5, "diverging")]


@pytest.mark.parametrize(
    ("at_s", "leg"),
    [
        (1.0, "diverging"),
        (TIP_MET - 0.3 - 2e-6, "diverging"),  # comes to rest just before the first wheel
        (TIP_LEFT + 2e-6, "through"),  # begins just after the last wheel
    ],
)
def test_the_route_is_what_the_levers_give_when_the_first_wheel_is_there(
    at_s: float, leg: str
) -> None:
    record = throw(fork(), at_s).train(orders=RUN).record()
    assert record.derailments == ()
    (passing,) = record.passes
    assert passing.route == f"T/P/points-{leg}"
    # The pass began with the first wheel on the piece, before the points.
    assert passing.enter_s == pytest.approx(front_at_s(510.0), abs=2e-6)
    assert passing.leave_s == pytest.approx(front_at_s(750.0 + 90.0), abs=2e-6)


def test_points_still_moving_are_derailed_on() -> None:
    record = throw(fork(), TIP_MET - 0.2).train(orders=RUN).record()
    (derailed,) = record.derailments
    assert derailed.time_s == pytest.approx(TIP_MET, abs=2e-6)
    assert (derailed.lever, derailed.cause) == ("T/P/lever", "moving points")
    assert record.legs[0].outcome == "not finished"
    assert record.passes[0].leave_s is None


@pytest.mark.parametrize("at_s", [TIP_MET + 2e-6, (TIP_MET + TIP_LEFT) / 2, TIP_LEFT - 2e-6])
def test_a_lever_that_moves_under_a_train_derails_it(at_s: float) -> None:
    record = throw(fork(), at_s).train(orders=RUN).record()
    (derailed,) = record.derailments
    assert derailed.time_s == pytest.approx(at_s, abs=1e-6)
    assert derailed.cause == "moved under it"
    assert derailed.route == "T/P/points-through"


def test_levers_go_before_wheels_at_one_instant() -> None:
    """The wheel reaches the tip, and leaves the heel, at the very microsecond of the throw."""
    met = throw(fork(), round(TIP_MET, 6)).train(orders=RUN).record()
    # The lever has moved first: the wheel meets moving points, on the way now set.
    assert [(d.cause, d.route) for d in met.derailments] == [
        ("moving points", "T/P/points-diverging")
    ]
    left = throw(fork(), round(TIP_LEFT, 6)).train(orders=RUN).record()
    # The lever moves first here too: the last wheel was still on it.
    assert [d.cause for d in left.derailments] == ["moved under it"]


def trailing(run_through: str, live: bool = False, **contacts: float) -> Plan:
    """A train on ``c`` that comes from the leg that is not set, toward the points."""
    plan = fork(run_through, live, **contacts)
    return plan.train(at="c/P", place_mm=300.0, heading="west", orders=RUN)


#: The front starts 300 mm from the fork: heel 60 mm from the points, 190 from the leg.
def west_at_s(into_mm: float) -> float:
    return 1.0 + (300.0 + into_mm - 50.0) / 100.0


HEEL_MET, HEEL_LEFT = west_at_s(250.0 - HEEL + 10), west_at_s(250.0 - TIP + 90)


def lever_states(plan: Plan, seed: int = 1) -> list[tuple[float, str]]:
    record = plan.record(motions=True, seed=seed)
    return [(c.time_s, c.state) for c in record.changes if c.what == "lever"]


def test_run_through_and_forced_over() -> None:
    record = trailing("forced over").record(motions=True)
    (through,) = record.run_throughs
    assert through.time_s == pytest.approx(HEEL_MET, abs=2e-6)
    assert (through.route, through.then) == ("T/P/points-diverging", "forced over")
    assert [(c.time_s, c.state) for c in record.changes if c.what == "lever"] == [
        (pytest.approx(HEEL_MET, abs=2e-6), "diverging")
    ]
    assert record.derailments == ()


def test_run_through_and_springs_back_after_the_last_wheel() -> None:
    assert lever_states(trailing("springs back")) == [
        (pytest.approx(HEEL_MET, abs=2e-6), "diverging"),
        (pytest.approx(HEEL_LEFT, abs=2e-6), "through"),
    ]


def test_run_through_and_derails() -> None:
    record = trailing("derails").record(motions=True)
    assert [r.then for r in record.run_throughs] == ["derails"]
    assert [d.cause for d in record.derailments] == ["wrong leg"]
    assert not any(c.what == "lever" for c in record.changes)


def test_contacts_move_when_the_first_wheel_forces_the_points() -> None:
    """Until then the frog has the wrong pole: bridging into it is a short, after it none."""
    plan = fork("forced over", live=True)
    plan.parts[0] += "trip_s = 5\n"
    plan.train(at="c/P", place_mm=300.0, heading="west", orders=RUN, coasting_mm=200.0)
    record = plan.record(motions=True)
    forced = [c for c in record.changes if c.what == "contact" and c.time_s > 0]
    assert [(c.who, c.state) for c in forced] == [("T/P/to N", "closed"), ("T/P/to S", "open")]
    # The frog lies 100 to 150 mm in. The first pickup bridges into it and out of it again;
    # the second has just come onto it when the first wheel forces the points, 190 mm in.
    first, second = [d for d in record.dropouts if d.where == "pickups"]
    assert {first.kind, second.kind} == {"tripped"}
    assert first.time_s == pytest.approx(west_at_s(100.0 + 10.0), abs=2e-6)
    assert second.time_s + second.duration_s == pytest.approx(forced[0].time_s, abs=1e-9)
    assert forced[0].time_s == record.run_throughs[0].time_s
    assert record.trips == ()  # it lasted less than the trip time


def test_make_before_break_joins_the_stock_rails_for_an_instant() -> None:
    plan = throw(fork(live=True, makes_at=0.25, breaks_at=0.75), 2.0)
    plan.run = {"throw_s": 1.0}
    plan.parts[0] += "trip_s = 0.6\n"
    record = plan.train(orders=drive({"do": "wait", "for_s": 9})).record(motions=True)
    contacts = [
        (c.time_s, c.who, c.state)
        for c in record.changes
        if c.what == "contact" and c.time_s > 0
    ]
    assert contacts == [(2.25, "T/P/to N", "closed"), (2.75, "T/P/to S", "open")]
    assert record.trips == ()
    fast = throw(fork(live=True, makes_at=0.25, breaks_at=0.75), 2.0)
    fast.run = {"throw_s": 1.0}
    fast.parts[0] += "trip_s = 0.4\n"
    record = fast.train(orders=drive({"do": "wait", "for_s": 9})).record()
    assert [t.time_s for t in record.trips] == [2.65]
    assert cause_lines(record.trips[0].cause)[1] == "by the wiring itself, in this setting"


def test_break_before_make_leaves_the_frog_without_a_pole_meanwhile() -> None:
    plan = throw(fork(live=True), 2.0)
    plan.run = {"throw_s": 1.0}
    record = plan.train(orders=drive({"do": "wait", "for_s": 9})).record(motions=True)
    contacts = [
        (c.time_s, c.who, c.state)
        for c in record.changes
        if c.what == "contact" and c.time_s > 0
    ]
    assert contacts == [(2.0, "T/P/to S", "open"), (3.0, "T/P/to N", "closed")]


def test_a_throw_that_overtakes_another_starts_anew() -> None:
    plan = throw(throw(fork(), 2.0), 2.2, "through").train(orders=RUN, at="b/P")
    plan.run = {"throw_s": 0.5}
    assert lever_states(plan) == [(2.0, "moving"), (2.2, "moving"), (2.7, "through")]


def test_a_train_may_turn_off_while_its_front_is_over_the_blades() -> None:
    """Only the first wheel counts: this engine overhangs by 60 mm."""
    plan = throw(fork(), front_at_s(500 + TIP + 60) - 0.31)
    plan.train(orders=RUN, pickups_mm=(60.0, 90.0))
    record = plan.record()
    assert record.derailments == ()
    assert [p.route for p in record.passes] == ["T/P/points-diverging"]
