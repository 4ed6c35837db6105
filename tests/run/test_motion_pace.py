"""A train that follows another must not be steered anew at every microsecond."""

from __future__ import annotations

from sim.run.run import run
from tests.scenarios.demos import case

#: A run in which one train gathers speed right behind another (pinned: it once took
#: some 70,000 changes of motion).
SEED = 1578636434


def test_gathering_speed_behind_another_takes_few_changes_of_motion() -> None:
    done = run(case("club-loops", "two jumpers"), SEED, motions=True)
    moves = [m.time_s for m in done.motions if m.train == "express"]
    assert 100 < len(moves) < 5_000
