"""Replications per second on one and on two cores, and exact odds of yard ladders."""

from __future__ import annotations

import os
import time
from concurrent.futures import ProcessPoolExecutor
from itertools import product
from pathlib import Path

import pytest

from sim.analyses.odds.basic_events import Doubts
from sim.analyses.odds.decision_diagrams import Diagrams
from sim.analyses.odds.odds import exact_odds
from sim.judge.campaign_plan import plan_campaign
from sim.judge.campaign_run import Driver, Extent
from sim.judge.store import open_store
from sim.judge.workers import crew_of_processes
from sim.layout.project import Project
from sim.power.trace import why_not_live
from sim.scenario.bands import lasting
from tests.campaign.small import LOOPS
from tests.checked import read_scenario
from tests.odds.ladders import ladder

pytestmark = pytest.mark.bench

#: Two cores must do at least so many times as much as one.
FLOOR = 1.7
#: ... where bare loops gain at least this much, so that both cores are free.
BARE = 1.85
RUNS = 40


def _seconds(path: Path, workers: int) -> float:
    scenario = lasting(read_scenario(LOOPS), 1800)
    plan = plan_campaign(Project(scenario), 1, False)
    with open_store(path, plan.digest, {}, resume=False) as store:
        driver = Driver(plan, store, Extent(RUNS), crew_of_processes(workers))
        begun = time.perf_counter()
        driver.run()
        return time.perf_counter() - begun


def _spin(count: int) -> int:
    total = 0
    for n in range(count):
        total += n * n % 7
    return total


def _spinning(workers: int) -> float:
    """Seconds that bare loops take, as many as there are runs, on so many processes."""
    with ProcessPoolExecutor(workers) as pool:
        list(pool.map(_spin, [1] * workers))
        begun = time.perf_counter()
        list(pool.map(_spin, [1_000_000] * RUNS))
        return time.perf_counter() - begun


@pytest.mark.skipif(len(os.sched_getaffinity(0)) < 2, reason="one core only")
def test_replications_on_one_and_two_cores(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    # Taken in turn, and the best of each: other work on the machine comes and goes.
    one, two, bare = [], [], []
    for n in range(3):
        one.append(_seconds(tmp_path / f"1-{n}", 1))
        two.append(_seconds(tmp_path / f"2-{n}", 2))
        bare.append(_spinning(1) / _spinning(2))
    ratio = min(one) / min(two)
    with capsys.disabled():
        print(
            f"\nreplications per second: {RUNS / min(one):.2f} on one core, "
            f"{RUNS / min(two):.2f} on two, {ratio:.2f} times as many "
            f"(bare loops: {max(bare):.2f})"
        )
    if max(bare) < BARE:
        pytest.skip(f"other work: two cores do only {max(bare):.2f} times as much as one here")
    assert ratio >= FLOOR


def _brute_force(turnouts: int) -> tuple[float, float]:
    """Odds and seconds by asking about every state, in plain numbers."""
    case = ladder(turnouts)
    doubts = Doubts(case.layout)
    diagrams = Diagrams(len(doubts.all))
    asked = tuple(x.rest for x in case.layout.levers)
    traced = doubts.traced(diagrams, asked)
    route = next(r for r in case.layout.routes if r.id == f"yard/T{turnouts}/points-through")
    bad = traced.no_bits
    for why in why_not_live(traced, route):
        for when in why.values():
            bad = bad | when
    begun = time.perf_counter()
    total = 0.0
    for failed in product((False, True), repeat=len(doubts.all)):
        if diagrams.holds(bad.node, failed):
            share = 1.0
            for q, is_bad in zip(doubts.chances, failed, strict=True):
                share *= q if is_bad else 1 - q
            total += share
    return total, time.perf_counter() - begun


def test_exact_odds_of_yard_ladders(capsys: pytest.CaptureFixture[str]) -> None:
    """Ladders of live-frog turnouts, three uncertain elements each: 2 contacts, 1 lever."""
    seconds = {}
    for turnouts in (10, 20, 40):
        case = ladder(turnouts)
        assert len(Doubts(case.layout).all) == 3 * turnouts
        found = []
        for _ in range(3):
            begun = time.perf_counter()
            odds = exact_odds(case)
            found.append(time.perf_counter() - begun)
        assert odds.settings
        assert odds.odds > 0
        seconds[turnouts] = min(found)
    brute = {n: _brute_force(n) for n in (2, 4, 6)}
    with capsys.disabled():
        print("\nexact odds of yard ladders:", end="")
        print(*(f" {n} turnouts {s * 1e3:.0f} ms" for n, s in seconds.items()), sep=",")
        print("every state of one route by itself:", end="")
        print(*(f" {n} turnouts {s:.2f} s" for n, (_, s) in brute.items()), sep=",", end="")
        print("; eight times as long with each turnout more")
    assert seconds[20] / seconds[10] <= 2**3
    assert seconds[40] / seconds[20] <= 2**3
