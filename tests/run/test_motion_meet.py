"""Trains that come up to each other: held, never overlapping, never stalled by it."""

from __future__ import annotations

from itertools import pairwise

import pytest

from sim.records.model import Record
from tests.run.plans import Plan, drive, set_up

RUN = drive({"do": "circulate", "laps": 99})


def ring(count: int = 4, fed: bool = True) -> Plan:
    plan = Plan(60.0).supply()
    for name in "abcdefgh"[:count]:
        plan.straight(name, 500.0, "cab" if fed and name == "a" else None)
    return plan


def places(record: Record, train: str, at_s: float) -> float:
    """The front's place on its route at ``at_s``, from the watched motion: exact parabolas."""
    last = [m for m in record.motions if m.train == train and m.time_s <= at_s][-1]
    dt = at_s - last.time_s
    return last.place_mm + last.speed_mm_s * dt + last.acceleration_mm_s2 * dt * dt / 2


def test_stops_with_the_clear_length_behind_one_that_stands() -> None:
    plan = ring()
    plan.train("first", at="c/P", place_mm=300.0, orders=drive({"do": "wait", "for_s": 99}))
    record = plan.train("second", orders=RUN).record(ring=True, motions=True)
    end = [m for m in record.motions if m.train == "second"][-1]
    # Rear of the first: 200 mm into c; headway 50 mm by default.
    assert (end.route, end.place_mm, end.speed_mm_s) == ("c/P/west-east", 150.0, 0.0)
    # Brakes at 100 mm/s²: from 100 mm/s over 50 mm, for 1 s; so it began 50 mm before.
    began = next(m for m in record.motions if m.train == "second" and m.acceleration_mm_s2 < 0)
    assert (began.route, began.place_mm) == ("c/P/west-east", 100.0)
    assert end.time_s == pytest.approx(began.time_s + 1.0, abs=2e-6)
    assert [leg.outcome for leg in record.legs if leg.train == "second"] == ["not finished"]
    assert [e.detail for e in record.events if e.what == "held"] == ["by first"]
    assert record.stalls == ()


def test_held_is_the_outcome_when_the_leg_ends_after_all() -> None:
    plan = ring()
    orders = drive({"do": "wait", "for_s": 15}, *RUN)
    plan.train("first", at="c/P", place_mm=300.0, orders=orders)
    record = plan.train("second", orders=drive({"do": "circulate"})).record(ring=True)
    assert {x.outcome for x in record.legs if x.train == "second"} == {"held"}
    whats = [e.what for e in record.events if e.who == "second"]
    assert whats == ["held", "go on"]


def test_a_faster_train_follows_a_slower_one_at_its_speed() -> None:
    plan = ring()
    plan.train("slow", at="b/P", place_mm=300.0, speed_mm_s=40.0, orders=RUN)
    plan.train("fast", speed_mm_s=100.0, orders=RUN)
    record = plan.record(ring=True, motions=True)
    fast = [m for m in record.motions if m.train == "fast"]
    assert fast[-1].speed_mm_s == 40.0
    assert not any(e.what == "held" for e in record.events)
    assert all(leg.outcome in ("clean", "not finished") for leg in record.legs)


@pytest.mark.parametrize("count", [2, 3, 4])
def test_trains_in_a_ring_never_overlap_and_all_go_round(count: int) -> None:
    plan = ring()
    for i, name in enumerate("abcd"[:count]):
        plan.train(
            f"t{i}", at=f"{name}/P", place_mm=300.0, speed_mm_s=40.0 + 25 * i, orders=RUN
        )
    record = plan.record(ring=True, motions=True)
    gaps = []
    for tenth in range(0, 600):
        at = sorted(
            (("abcd".index(m.route[0]) * 500 + places(record, f"t{i}", tenth / 10)) % 2000)
            for i in range(count)
            for m in [
                [m for m in record.motions if m.train == f"t{i}" and m.time_s <= tenth / 10][-1]
            ]
        )
        gaps += [(b - a) % 2000 for a, b in pairwise([*at, at[0] + 2000])]
    # 100 mm of train and 50 mm clear behind it, to within a rounding of places
    assert min(gaps) >= 150.0 - 0.01
    assert all(leg.outcome in ("clean", "not finished") for leg in record.legs)
    assert len(record.legs) > count


def dense(count: int) -> Plan:
    """``count`` trains of 100 mm, evenly spread over a ring of 2 m."""
    plan = ring()
    for i in range(count):
        at = round(i * 2000.0 / count + 5.0, 3)
        plan.train(f"t{i}", at=f"{'abcd'[int(at // 500)]}/P", place_mm=at % 500, orders=RUN)
    return plan


def test_in_a_full_ring_all_are_held() -> None:
    """Fourteen trains have 42.9 mm between them, less than the clear length of 50."""
    record = dense(14).record(ring=True)
    assert {e.who for e in record.events if e.what == "held"} == {f"t{i}" for i in range(14)}
    assert record.stalls == ()
    assert {leg.outcome for leg in record.legs} == {"not finished"}


def test_in_a_dense_ring_all_go_on_and_do_not_chase_each_other_for_ever() -> None:
    """Twelve trains, 17 mm to spare for each: every one looks at the next, round and round."""
    live = set_up(dense(12).case(ring=True))
    live.agenda.run_until(60_000_000)
    assert live.agenda.asked < 60 * 12 * 100  # alarms for each second and train
    assert (
        min(len([x for x in live.recorder.legs if x.train == m.name]) for m in live.trains) >= 1
    )


def junction() -> Plan:
    """Two straights ``w`` and ``v`` that meet at a trailing turnout before ``x``."""
    plan = Plan(40.0).supply()
    plan.straight("x", 900.0, "cab").straight("w", 900.0).straight("v", 900.0)
    plan.line.clear()
    plan.piece("T", "turnout", on_line=False, family="insulated frog, all live")
    plan.add("[[join]]", a="x/P/east", b="T/P/points")
    plan.add("[[join]]", a="T/P/through", b="w/P/west")
    plan.add("[[join]]", a="T/P/diverging", b="v/P/west")
    return plan


def test_at_a_junction_the_second_waits_at_the_entry_until_the_first_is_clear() -> None:
    plan = junction()
    plan.train("first", at="w/P", place_mm=300.0, heading="west", orders=RUN)
    plan.train("second", at="v/P", place_mm=420.0, heading="west", orders=RUN)
    record = plan.record(motions=True)
    one, two = sorted(record.passes, key=lambda p: p.enter_s)
    assert (one.train, two.train) == ("first", "second")
    assert one.leave_s is not None
    assert one.leave_s < two.enter_s
    waits = [m for m in record.motions if m.train == "second" and m.speed_mm_s == 0.0]
    assert waits[-1].place_mm >= 10.0  # stands 10 mm before the turnout
    assert [r.then for r in record.run_throughs] == ["forced over"]


def test_head_on_neither_passes_into_the_other() -> None:
    plan = Plan(30.0).supply()
    for name in "abc":
        plan.straight(name, 500.0, "cab" if name == "a" else None)
    plan.train("east", at="a/P", place_mm=200.0, orders=RUN)
    plan.train("west", at="c/P", place_mm=300.0, heading="west", orders=RUN)
    record = plan.record(motions=True)
    assert {e.who for e in record.events if e.what == "held"} == {"east", "west"}
    last = {m.train: m for m in record.motions}
    assert all(m.speed_mm_s == 0.0 for m in last.values())
    line = {t: "abc".index(m.route[0]) * 500 + m.place_mm for t, m in last.items()}
    assert line["west"] - line["east"] >= 0.0


def crossing(**run: object) -> Plan:
    """Twin ring: ``m`` straights and a single crossover ``k`` from A (north) to B."""
    plan = Plan(60.0).supply("A").supply("B")
    plan.run = dict(run)
    for name in ("m", "n"):
        plan.line.append(name)
        plan.add("[[module]]", name=name)
        for track in "AB":
            plan.add("[[module.piece]]", name=track, kind="straight", length_mm=600.0)
            plan.feed(f"{name}/{track}/north", f"{name}/{track}/south", track)
        if name == "m":
            plan.line.append("k")
            plan.add("[[module]]", name="k")
            plan.add(
                "[[module.piece]]",
                name="X",
                kind="single crossover",
                family="insulated frog, all live",
                track_centres_mm=30.0,
            )
    return plan


CROSS = drive({"do": "cross", "at": "k/X"}, {"do": "circulate", "laps": 9})


@pytest.mark.parametrize("throw_s", [0.0, 0.3, 4.0])
def test_a_train_that_crosses_waits_until_its_levers_have_come_to_rest(throw_s: float) -> None:
    plan = crossing(throw_s=throw_s)
    plan.train("local", at="m/A", place_mm=400.0, orders=CROSS, pickups_mm=(10.0, 50.0, 90.0))
    record = plan.record(ring=True)
    assert record.derailments == ()
    cross, *_ = record.legs
    assert (cross.leg, cross.outcome) == ("1: cross k/X", "clean")
    first = record.passes[0]
    assert first.route == "k/X/A-west-B-east"
    # The leg ends, and the levers go back, when the last wheel is off the piece.
    assert cross.end_s == first.leave_s
    back = [e for e in record.events if e.what == "throw" and e.detail == "to through"]
    assert {e.time_s for e in back} == {first.leave_s}


def test_the_second_waits_before_a_crossing_that_is_kept_for_another() -> None:
    plan = crossing()
    plan.train("local", at="m/A", place_mm=400.0, orders=CROSS)
    plan.train("goods", at="m/B", place_mm=350.0, orders=RUN)
    record = plan.record(ring=True)
    first, second = record.passes[:2]
    assert (first.train, second.train) == ("local", "goods")
    assert second.enter_s > (first.leave_s or 0.0)
    assert [(e.what, e.who) for e in record.events if e.what in ("held", "go on")][:2] == [
        ("held", "goods"),
        ("go on", "goods"),
    ]


def test_no_crossing_is_thrown_under_a_train() -> None:
    """One is on the piece already: the other's levers wait for it."""
    plan = crossing()
    plan.train("goods", at="m/B", place_mm=590.0, orders=RUN, speed_mm_s=30.0)
    plan.train("local", at="m/A", place_mm=300.0, orders=CROSS)
    record = plan.record(ring=True)
    assert record.derailments == ()
    goods = next(p for p in record.passes if p.train == "goods")
    thrown = next(e.time_s for e in record.events if e.what == "throw")
    assert thrown >= (goods.leave_s or 0.0)


def test_a_crossing_whose_lever_did_not_follow_is_tried_again() -> None:
    plan = crossing()
    plan.duration_s = 120.0
    plan.assumptions["lever_fails"] = 0.6
    plan.train("local", at="m/A", place_mm=400.0, orders=CROSS)
    for seed in range(12):
        record = plan.record(ring=True, seed=seed)
        (cross,) = [x for x in record.legs if x.leg.startswith("1:")]
        routes = [p.route for p in record.passes if p.enter_s < cross.end_s]
        if cross.outcome != "not finished":
            assert routes[-1] == "k/X/A-west-B-east"
            assert set(routes[:-1]) <= {"k/X/A-west-A-east"}
        assert record.derailments == ()


def test_the_ring_of_claims_is_given_back() -> None:
    """After an hour of laps nobody claims what it does not stand on or look at."""
    plan = ring()
    plan.duration_s = 600.0
    live = set_up(plan.train(orders=RUN).case(ring=True))
    live.agenda.run_until(600_000_000)
    claims = sum(len(live.reservations.claimers(p)) for p in range(4))
    assert claims == len({s.route for s in live.trains[0].path.segments})
    assert all(
        live.reservations._on[p].count(live.trains[0])
        == sum(live.tracks.piece(s) == p for s in live.trains[0].path.segments)
        for p in range(4)
    )
