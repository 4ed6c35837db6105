"""Clean legs of the ideal run, and what is said where all runs agree."""

from __future__ import annotations

from dataclasses import replace

import pytest

from sim.judge.legs import clean_legs, ideal_legs, spoiled
from sim.judge.stats import differ_at_most, mean_share
from sim.records.model import Leg
from sim.run.run import run
from tests.run.plans import dead_ring, drive
from tests.scenarios.demos import case

BEHIND = "waiting behind a stopped train"
CLEAN = Leg("local", "1: circulate", "clean", 0.0, 10.0)


@pytest.mark.parametrize(
    ("leg", "why"),
    [
        (CLEAN, None),
        (replace(CLEAN, outcome="hesitated"), None),
        (replace(CLEAN, outcome="held", waited_for="traffic"), None),
        (replace(CLEAN, outcome="held", waited_for="stopped train"), BEHIND),
        (replace(CLEAN, outcome="stalled"), "dead rails"),
        (replace(CLEAN, outcome="tripped"), "shorts and trips"),
    ],
)
def test_what_keeps_a_leg_clean(leg: Leg, why: str | None) -> None:
    assert spoiled(leg) == why


def test_a_leg_that_is_not_finished_is_not_clean() -> None:
    record = run(case("well-fed"), 1)
    ended = {(leg.train, leg.leg) for leg in record.legs if leg.finished}
    assert set(clean_legs(record)) == ended
    assert len(ended) < len(record.legs)  # one is cut short by the end of the run


@pytest.mark.parametrize("kind", ["digital", "dc"])
def test_the_ideal_run_of_a_ring_with_a_dead_stretch_finishes_its_legs(kind: str) -> None:
    """Four laps of 2.2 m at 100 mm/s in 100 s, though no train gets over 450 mm dead."""
    orders = drive({"do": "circulate", "laps": 4})
    plan = dead_ring(450.0, kind, duration_s=100.0).train(orders=orders, speed_mm_s=100.0)
    made = plan.case(ring=True)
    assert run(made, 1).stalls
    assert len(ideal_legs(made)) == 4


@pytest.mark.parametrize("name", ["club-loops", "branch-terminus", "loose-gang", "well-fed"])
def test_nothing_is_wrong_in_an_ideal_run(name: str) -> None:
    record = run(case(name), 1, ideal=True)
    assert not (record.stalls or record.trips or record.reversals or record.hesitations)
    assert {leg.waited_for for leg in record.legs} <= {None, "traffic"}


def test_a_train_that_stands_behind_a_stalled_one_says_so() -> None:
    record = run(case("club-loops"), 1)
    assert any(leg.waited_for == "stopped train" for leg in record.legs)


def test_runs_that_agree_say_how_many_may_differ() -> None:
    """0.31 of the runs for eight alike; 3 / n for many: Hanley and Lippman-Hand 1983."""
    assert differ_at_most(8) == pytest.approx(0.3123, abs=1e-4)
    assert differ_at_most(299) == pytest.approx(0.01, abs=1e-4)
    assert mean_share([50] * 8, 53) is None


def test_the_interval_of_a_share_is_students_over_runs() -> None:
    from scipy import stats

    hits = [50, 52, 49, 53, 51, 50]
    low, high = stats.t.interval(0.95, 5, sum(hits) / 6, stats.sem(hits))
    found = mean_share(hits, 53)
    assert found is not None
    assert (found.low, found.high) == pytest.approx((low / 53, high / 53), abs=1e-8)
