"""What a pickup crossing costs, in bare SimPy timeouts measured in the same process."""

from __future__ import annotations

import gc
import time
from collections.abc import Callable, Generator
from itertools import pairwise
from math import inf

import pytest
import simpy
from pytest_benchmark.fixture import BenchmarkFixture

from sim.run.run import LiveRun
from tests.run.plans import Plan, drive, set_up

pytestmark = pytest.mark.bench

#: Bounds: timeouts and events for each crossing, cost from 10 to 1,000 modules.
#: They leave room for machines: 3.2 to 3.7 timeouts were seen, and growth of 1.03 to 1.09.
TIMEOUTS, EVENTS, GROWTH = 5.0, 1.2, 1.2
#: With levers thrown beside the ring; 4.4 to 4.9 were seen.
THROWN_TIMEOUTS = 6.5
#: Where every boundary is a gap between nets, every pickup joins supplies as it passes;
#: 9.3 to 11.4 were seen.
WORST_TIMEOUTS = 16.0
BARE = 20_000
SLICES = 12
RUN = drive({"do": "circulate", "laps": 1_000_000})
PICKUPS = (10.0, 30.0, 70.0, 90.0)


def bare_s() -> float:
    """Seconds that one timeout of a process in SimPy takes."""
    env = simpy.Environment()

    def process() -> Generator[simpy.Event, None, None]:
        for _ in range(BARE):
            yield env.timeout(1)

    env.process(process())
    begun = time.process_time()
    env.run()
    return (time.process_time() - begun) / BARE


def ring(modules: int, thrown: bool = False) -> Plan:
    """A ring of 300 mm straights on one feeder, every fifth board a power-routing turnout."""
    plan = Plan(1e6).supply()
    for i in range(modules):
        if i % 5 == 4:
            plan.turnout(f"m{i}", family="insulated frog, power routing")
        else:
            plan.straight(f"m{i}", 300.0, "cab" if i % 20 == 0 else None)
    if thrown:
        # A turnout beside the ring moves for ever; what that costs is counted in too.
        plan.piece("side", "turnout", on_line=False, family="live frog")
        to = ["diverging", "through"]
        plan.add("[[throw]]", at_s=0.5, every_s=15.0, lever="side/P/lever", to=to)
    return trains(plan)


def worst(modules: int) -> Plan:
    """Straights that alternate between two supplies in phase: no crossing is silent."""
    plan = Plan(1e6).supply("A").supply("B")
    for i in range(modules):
        plan.straight(f"m{i}", 300.0, "AB"[i % 2])
    plan.add("[[gap]]", at="m*/P/east")
    return trains(plan)


def trains(plan: Plan) -> Plan:
    for k in (0, 5):
        plan.train(
            f"t{k}",
            at=f"m{k}/P",
            place_mm=200.0,
            speed_mm_s=100.0,
            pickups_mm=PICKUPS,
            orders=RUN,
        )
    return plan


def crossings(live: LiveRun) -> int:
    """How often a pickup has passed from one section to another, counted from the layout."""
    routes = {r.id: r for r in live.layout.routes}
    line = [
        routes.get(f"m{i}/P/west-east") or routes[f"m{i}/P/points-through"]
        for i in range(sum(m.name.startswith("m") for m in live.layout.modules))
    ]
    bounds: list[int] = []
    at = 0
    last = line[-1].spans[-1]
    for route in line:
        for before, after in pairwise([last, *route.spans]):
            here = at + after.from_um
            bounds += [here] * ((before.left != after.left) + (before.right != after.right))
        last = route.spans[-1]
        at += route.length_um
    found = 0
    for train in live.trains:
        piece = train.description.route
        begun = sum(r.length_um for r in line[: line.index(live.layout.routes[piece])])
        front = begun + round(train.description.place_mm * 1000)
        way = train.s - round(train.description.place_mm * 1000)
        for offset in PICKUPS:
            start = front - offset * 1000
            for b in bounds:
                found += int((start + way - b) // at - (start - b) // at)
    return found


def measured(plan: Plan, duration_s: float) -> tuple[float, float, int]:
    """(bare timeouts a crossing, events a crossing, crossings): the best of some slices.

    Other work on the machine can only make a slice slower, never faster.
    """
    live = set_up(plan.case(ring=True))
    live.recorder.watch = False
    live.agenda.run_until(20_000_000)  # under way, and everything looked up once
    bare, cost, events, count = inf, inf, live.agenda.asked, 0
    before = crossings(live)
    for n in range(1, SLICES + 1):
        gc.collect()
        gc.disable()
        bare = min(bare, bare_s())
        begun = time.process_time()
        live.agenda.run_until(20_000_000 + round(n * duration_s * 1e6))
        took = time.process_time() - begun
        gc.enable()
        now = crossings(live)
        cost, count, before = min(cost, took / (now - before)), count + now - before, now
    assert live.recorder.stalls == []
    return cost / bare, (live.agenda.asked - events) / count, count


def tell(what: str, cost: float, events: float, count: int) -> None:
    print(f"\n{what}: {cost:.2f} bare timeouts and {events:.3f} events a crossing ({count})")


def test_a_crossing_costs_no_more_than_five_bare_timeouts() -> None:
    """Passes, extending the path and looking out for others included."""
    cost, events, count = measured(ring(100), 300.0)
    tell("ring of 100", cost, events, count)
    assert cost <= TIMEOUTS
    assert events <= EVENTS


@pytest.mark.parametrize("thrown", [False, True])
def test_the_cost_of_a_crossing_does_not_grow_with_the_layout(thrown: bool) -> None:
    small, *_ = measured(ring(10, thrown), 300.0)
    large, events, count = measured(ring(1000, thrown), 300.0)
    tell(f"ring of 1000, levers thrown: {thrown}", large, events, count)
    print(f"1,000 modules against 10: {large / small:.2f}")
    assert large <= GROWTH * small
    assert large <= (THROWN_TIMEOUTS if thrown else TIMEOUTS)


def test_the_worst_layout_has_its_bound_too() -> None:
    small, *_ = measured(worst(10), 60.0)
    large, events, count = measured(worst(1000), 60.0)
    tell("every boundary between two supplies", large, events, count)
    print(f"1,000 modules against 10: {large / small:.2f}")
    assert large <= WORST_TIMEOUTS
    assert large <= GROWTH * small


def test_whole_run(benchmark: BenchmarkFixture) -> None:
    """Ten minutes of two trains in a ring of a hundred boards, for the record."""
    case = ring(100).case(ring=True)

    def whole() -> int:
        live = set_up(case)
        live.agenda.run_until(600_000_000)
        return live.agenda.asked

    call: Callable[[], int] = whole
    assert benchmark(call) > 0
