"""What every record must satisfy by itself, and what must not change it."""

from __future__ import annotations

import os
import random
import subprocess
import sys
from collections import defaultdict
from dataclasses import replace
from itertools import pairwise
from pathlib import Path

from hypothesis import given, settings
from hypothesis import strategies as st

from sim.layout.assemble import assemble
from sim.layout.traffic import Case
from sim.records.model import Motion, Record
from sim.run.run import run
from tests.checked import scenario_from_text
from tests.run.lots import plans
from tests.run.plans import Plan
from tests.run.test_motion_lots import FEW

#: Times are whole microseconds; at 200 mm/s one of them is 0.0002 mm.
PLACE_MM = 0.01
US = 2e-6


@FEW
@given(plans(), st.booleans(), st.integers(0, 3))
def test_every_record(plan: Plan, circuit: bool, seed: int) -> None:
    case = plan.case(ring=True)
    record = run(case, seed, True, circuit)
    in_order_and_within(record)
    legs_follow_each_other(record)
    passes_are_intervals(record)
    dropouts_part_the_time_of_the_run(record)
    stalls_lie_in_dropouts(record)
    motions_go_where_they_say(case, record)
    assert record == run(case, seed, True, circuit)


def in_order_and_within(record: Record) -> None:
    for rows in (
        record.stalls,
        record.trips,
        record.derailments,
        record.run_throughs,
        record.reversals,
        record.events,
        record.motions,
        record.changes,
    ):
        times = [row.time_s for row in rows]
        assert times == sorted(times)
        assert all(0.0 <= t <= record.duration_s for t in times)


def legs_follow_each_other(record: Record) -> None:
    by_train = defaultdict(list)
    for leg in record.legs:
        by_train[leg.train].append(leg)
    for legs in by_train.values():
        legs.sort(key=lambda leg: int(leg.leg.split(":")[0]))
        assert [int(leg.leg.split(":")[0]) for leg in legs] == list(range(1, len(legs) + 1))
        assert all(0.0 <= leg.start_s <= leg.end_s <= record.duration_s for leg in legs)
        assert all(a.end_s <= b.start_s for a, b in pairwise(legs))


def passes_are_intervals(record: Record) -> None:
    gone = {d.train: d.time_s for d in record.derailments}
    for p in record.passes:
        assert p.enter_s <= (record.duration_s if p.leave_s is None else p.leave_s)
        if p.leave_s is None:
            assert p.outcome not in ("clean", "hesitated", "held")
        assert p.enter_s <= gone.get(p.train, record.duration_s)


def dropouts_part_the_time_of_the_run(record: Record) -> None:
    """Of one kind and train they lie in the run, apart; the motor's are within the pickups'."""
    for train in {d.train for d in record.dropouts}:
        spans = {
            where: sorted(
                (d.time_s, d.time_s + d.duration_s)
                for d in record.dropouts
                if d.train == train and d.where == where
            )
            for where in ("pickups", "motor")
        }
        for found in spans.values():
            assert all(a < b for a, b in found)
            assert all(a[1] <= b[0] + US for a, b in pairwise(found))
            assert all(a >= 0.0 and b <= record.duration_s + US for a, b in found)
        for a, b in spans["motor"]:
            assert any(c <= a + US and b <= d + US for c, d in spans["pickups"])
    motor = {(d.train, d.time_s, d.duration_s) for d in record.dropouts if d.where == "motor"}
    assert {(h.train, h.time_s, h.duration_s) for h in record.hesitations} <= motor


def stalls_lie_in_dropouts(record: Record) -> None:
    for stall in record.stalls:
        assert any(
            d.where == "motor"
            and d.train == stall.train
            and d.time_s <= stall.time_s <= d.time_s + d.duration_s
            for d in record.dropouts
        )
        # The nudges of a stall come after it, one event each.
        later = [
            e
            for e in record.events
            if e.what == "nudge" and e.who == stall.train and e.time_s >= stall.time_s
        ]
        assert len(later) >= stall.nudges


def motions_go_where_they_say(case: Case, record: Record) -> None:
    """From one entry to the next the train has gone where place, speed and rate put it."""
    length = {r.id: r.length_um / 1000 for r in case.layout.routes}
    for train in case.trains:
        rows = [m for m in record.motions if m.train == train.name]
        for one, two in pairwise(rows):
            if one.rear_leads == two.rear_leads:
                assert abs(_gone(one, two) - _between(length, one, two)) < PLACE_MM, (one, two)


def _gone(one: Motion, two: Motion) -> float:
    dt = two.time_s - one.time_s
    return abs(one.speed_mm_s * dt + one.acceleration_mm_s2 * dt * dt / 2)


def _between(length: dict[str, float], one: Motion, two: Motion) -> float:
    """Way from one front to the other, over the routes that the later one stands on.

    Levers may have moved since: up to the blades all routes of a piece are one track.
    """
    route, forward = one.under[0]
    start = one.place_mm if forward else length[route] - one.place_mm
    route, forward = two.under[0]
    way = two.place_mm if forward else length[route] - two.place_mm
    for route, _ in two.under[1:]:
        if _piece(two.under[0][0]) == _piece(one.route):
            break
        way += length[route]
        if _piece(route) == _piece(one.route):
            break
    return way - start


def _piece(route: str) -> str:
    return route.rsplit("/", 1)[0]


@settings(FEW, max_examples=10)
@given(plans(), st.randoms(use_true_random=False))
def test_the_order_in_which_modules_are_written_changes_nothing(
    plan: Plan, rng: random.Random
) -> None:
    case, mixed = plan.case(ring=True), _mixed(plan, rng)
    one, two = run(case, 5, circuit=False), run(mixed, 5, circuit=False)
    for name in ("legs", "passes", "hesitations", "dropouts", "reversals", "run_throughs"):
        assert getattr(one, name) == getattr(two, name), name
    plain = [replace(s, cause=(), would_restore=(), charged_to=None) for s in one.stalls]
    assert plain == [
        replace(s, cause=(), would_restore=(), charged_to=None) for s in two.stalls
    ]
    for a, b in zip(one.stalls, two.stalls, strict=True):
        assert set(map(frozenset, a.would_restore)) == set(map(frozenset, b.would_restore))


def _mixed(plan: Plan, rng: random.Random) -> Case:
    """The same layout with its modules in another order in the file."""
    groups: list[list[str]] = []
    rest: list[str] = []
    for part in plan.parts:
        if part.startswith("[[module]]"):
            groups.append([part])
        elif part.startswith("[[module.piece]]"):
            groups[-1].append(part)
        else:
            rest.append(part)
    rng.shuffle(groups)
    parts = [part for group in groups for part in group] + rest
    return assemble(scenario_from_text(replace(plan, parts=parts).text(ring=True)))


PROGRAM = """
from tests.run.test_motion_invariants import busy
print(busy().record(ring=True, seed=4, circuit=True))
"""


def busy() -> Plan:
    """Something of everything: failing levers and contacts, two trains, throws."""
    plan = Plan(40.0).supply("A").supply("B")
    plan.assumptions = {"contact_opens": 0.3, "lever_fails": 0.2}
    for name in ("m", "n"):
        plan.line.append(name)
        plan.add("[[module]]", name=name)
        for track in "AB":
            plan.add("[[module.piece]]", name=track, kind="straight", length_mm=400.0)
            plan.feed(f"{name}/{track}/north", f"{name}/{track}/south", track)
    plan.line.append("k")
    plan.add("[[module]]", name="k")
    plan.add("[[module.piece]]", name="X", kind="scissors crossover", track_centres_mm=33.0)
    orders = [{"do": "cross", "at": "k/X"}, {"do": "circulate", "laps": 1}]
    plan.train("t0", at="m/A", orders=orders, repeat=True)
    return plan.train("t1", at="m/B", orders=orders[1:], repeat=True)


def test_the_record_does_not_depend_on_the_hash_seed() -> None:
    told = {
        subprocess.run(
            [sys.executable, "-c", PROGRAM],
            capture_output=True,
            text=True,
            check=True,
            timeout=120,
            env={**os.environ, "PYTHONHASHSEED": seed, "PYTHONPATH": str(Path.cwd())},
        ).stdout
        for seed in ("0", "1", "4242")
    }
    assert len(told) == 1
    assert "Stall" in told.pop()
