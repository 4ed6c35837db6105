"""Intervals and tests against published tables and independent computations."""

from __future__ import annotations

import itertools
import math
import random

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import stats as reference

from sim.judge import stats

# Newcombe, Statistics in Medicine 17 (1998), table I: 95 %, printed to four digits.
NEWCOMBE = [
    (81, 263, (0.2553, 0.3662), (0.2527, 0.3676)),
    (15, 148, (0.0624, 0.1605), (0.0578, 0.1617)),
    (0, 20, (0.0, 0.1611), (0.0, 0.1684)),
    (1, 29, (0.0061, 0.1718), (0.0009, 0.1776)),
]


@pytest.mark.parametrize(("hits", "trials", "score", "exact"), NEWCOMBE)
def test_single_share_intervals_match_newcombe(
    hits: int, trials: int, score: tuple[float, float], exact: tuple[float, float]
) -> None:
    wilson = stats.wilson(hits, trials)
    beta = stats.clopper_pearson(hits, trials)
    assert (round(wilson.low, 4), round(wilson.high, 4)) == score
    assert (round(beta.low, 4), round(beta.high, 4)) == exact


# Exact binomial (references: recomputed): 6 against 16, 0 against 5, 0 against 6.
@pytest.mark.parametrize(
    ("first", "second", "p"), [(6, 16, 0.0525), (0, 5, 0.0625), (0, 6, 0.03125)]
)
def test_mcnemar_exact(first: int, second: int, p: float) -> None:
    assert stats.mcnemar(first, second) == pytest.approx(p, abs=5e-5)
    assert stats.mcnemar(second, first) == stats.mcnemar(first, second)


def test_mcnemar_against_scipy_binomial_test() -> None:
    for few, many in itertools.product(range(7), range(12)):
        if few + many:
            other = reference.binomtest(few, few + many, 0.5).pvalue
            assert stats.mcnemar(few, many) == pytest.approx(other, abs=1e-9)


def test_rule_of_three() -> None:
    """Hanley and Lippman-Hand 1983: 0 of 299 means below 1 % with 95 % confidence."""
    # One-sided 95 % is the upper end of the two-sided 90 % interval.
    assert stats.clopper_pearson(0, 299, 0.90).high < 0.01
    assert stats.clopper_pearson(0, 298, 0.90).high > 0.01


@pytest.mark.parametrize("bad", [(-1, 5), (6, 5), (0, 0)])
def test_impossible_counts_are_refused(bad: tuple[int, int]) -> None:
    with pytest.raises(ValueError, match="expected"):
        stats.wilson(*bad)
    with pytest.raises(ValueError, match="expected"):
        stats.clopper_pearson(*bad)


def test_sign_test_leaves_ties_out() -> None:
    assert stats.sign_test([1, 2, 0, 3, 0, 1, 5, 2]) == 0.03125  # 0 of 6


# --- the replication as the unit ------------------------------------------------


def test_rate_needs_two_replications() -> None:
    assert stats.rate([3], [10]) is None
    assert stats.rate([], []) is None
    assert stats.rate([0, 0], [0, 0]) is None


def test_rate_of_independent_single_legs_is_about_clopper_pearson() -> None:
    """One leg a replication is plain binomial, but for the K/(K-1) of the variance."""
    hits = [1] * 15 + [0] * 133
    found = stats.rate(hits, [1] * 148)
    exact = stats.clopper_pearson(15, 148)
    assert found is not None
    assert found.low == pytest.approx(exact.low, abs=1e-3)
    assert found.high == pytest.approx(exact.high, abs=1e-3)


def test_rate_counts_replications_when_legs_hang_together() -> None:
    """All or none of 40 legs stall: that is 12 observations and not 480."""
    found = stats.rate([40] * 3 + [0] * 9, [40] * 12)
    exact = stats.clopper_pearson(3, 12)
    naive = stats.clopper_pearson(120, 480)
    assert found is not None
    assert found.high - found.low > 0.8 * (exact.high - exact.low)
    assert found.high - found.low > 4 * (naive.high - naive.low)


def test_rate_without_a_stall_counts_replications() -> None:
    assert stats.rate([0] * 12, [40] * 12) == stats.clopper_pearson(0, 12)
    assert stats.rate([40] * 12, [40] * 12) == stats.clopper_pearson(12, 12)


def test_rate_that_never_varies_still_has_a_width() -> None:
    assert stats.rate([4] * 12, [10] * 12) == stats.clopper_pearson(48, 120)


@given(
    st.lists(
        st.integers(0, 30).flatmap(lambda n: st.tuples(st.integers(0, n), st.just(n))),
        min_size=2,
        max_size=20,
    )
)
def test_rate_never_leaves_0_and_1_and_holds_the_share(pairs: list[tuple[int, int]]) -> None:
    hits, trials = [h for h, _ in pairs], [n for _, n in pairs]
    found = stats.rate(hits, trials)
    if sum(trials) == 0:
        assert found is None
        return
    assert found is not None
    assert 0 <= found.low <= sum(hits) / sum(trials) + 1e-9
    assert sum(hits) / sum(trials) - 1e-9 <= found.high <= 1


@pytest.mark.parametrize("together", [False, True])
def test_rate_covers_what_it_says(together: bool) -> None:
    """Coverage over 600 made-up experiments, seed 7: at least 92 % for a 95 % interval.

    With ``together`` half of the replications have a bad contact.
    """
    draw = random.Random(7)
    covered = 0
    for _ in range(600):
        hits, legs = [], []
        for _ in range(20):
            p = (0.35 if draw.random() < 0.5 else 0.05) if together else 0.2
            hits.append(sum(draw.random() < p for _ in range(20)))
            legs.append(20)
        found = stats.rate(hits, legs)
        assert found is not None
        covered += found.low <= 0.2 <= found.high
    assert covered / 600 > 0.92


# --- paired differences ---------------------------------------------------------


def listed_p(differences: list[int]) -> float:
    """The brute-force twin: list every pattern of signs."""
    observed = abs(sum(differences))
    patterns = list(itertools.product((1, -1), repeat=len(differences)))
    extreme = sum(
        abs(sum(s * d for s, d in zip(signs, differences, strict=True))) >= observed
        for signs in patterns
    )
    return extreme / len(patterns)


@given(st.lists(st.integers(-6, 9), min_size=2, max_size=10))
@settings(deadline=None)
def test_p_value_equals_listing_every_sign_pattern(differences: list[int]) -> None:
    found = stats.paired_mean(differences)
    assert found is not None
    assert found.exact
    assert found.p_value == pytest.approx(listed_p(differences), abs=1e-9)
    assert found.mean == pytest.approx(sum(differences) / len(differences))


def test_p_value_against_scipy_permutation_test() -> None:
    differences = [3, 4, 2, 5, 0, -1, 2, 6]
    other = reference.permutation_test(
        (differences,),
        lambda x, axis: x.mean(axis=axis),
        permutation_type="samples",
        vectorized=True,
        n_resamples=10_000,
    )
    found = stats.paired_mean(differences)
    assert found is not None
    assert found.p_value == pytest.approx(float(other.pvalue), abs=1e-9)


@given(st.lists(st.integers(-5, 8), min_size=6, max_size=9))
@settings(deadline=None)
def test_interval_is_what_the_test_does_not_reject(differences: list[int]) -> None:
    found = stats.paired_mean(differences)
    assert found is not None
    assert found.interval is not None
    size = len(differences)

    def shares(centre: float) -> tuple[float, float]:
        sums = [
            math.fsum(s * (d - centre) for s, d in zip(signs, differences, strict=True))
            for signs in itertools.product((1, -1), repeat=size)
        ]
        observed = math.fsum(d - centre for d in differences)
        above = sum(x >= observed - 1e-6 for x in sums) / len(sums)
        below = sum(x <= observed + 1e-6 for x in sums) / len(sums)
        return above, below

    low, high = found.interval.low, found.interval.high
    assert low - 1e-9 <= found.mean <= high + 1e-9
    assert min(shares(low)) > 0.025
    assert min(shares(high)) > 0.025
    assert shares(low - 1e-4)[0] <= 0.025
    assert shares(high + 1e-4)[1] <= 0.025


def test_few_replications_give_a_p_value_and_no_interval() -> None:
    five = stats.paired_mean([3, 3, 4, 5, 2])
    assert five is not None
    assert five.p_value == 0.0625  # 2 / 2^5
    assert five.interval is None
    six = stats.paired_mean([3, 3, 4, 5, 2, 3])
    assert six is not None
    assert six.p_value == 0.03125
    assert six.interval is not None
    assert stats.paired_mean([4]) is None


def test_no_difference_at_all() -> None:
    found = stats.paired_mean([0] * 8)
    assert found is not None
    assert (found.mean, found.p_value) == (0, 1)
    assert found.interval == stats.Interval(0, 0)


def test_many_replications_stay_exact_and_come_near_student() -> None:
    draw = random.Random(3)
    differences = [draw.randrange(0, 9) - 2 for _ in range(80)]
    exact = stats.paired_mean(differences)
    assert exact is not None
    assert exact.exact
    t = reference.ttest_1samp(differences, 0).confidence_interval(0.95)
    assert exact.interval is not None
    assert exact.interval.low == pytest.approx(t.low, abs=0.06)
    assert exact.interval.high == pytest.approx(t.high, abs=0.06)


def test_too_large_a_table_falls_back_to_student(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(stats, "TABLE_AT_MOST", 0)
    differences = [3, 4, 2, 5, 0, -1, 2, 6]
    found = stats.paired_mean(differences)
    other = reference.ttest_1samp(differences, 0)
    assert found is not None
    assert not found.exact
    assert found.p_value == pytest.approx(other.pvalue)
    assert found.interval is not None
    assert found.interval.low == pytest.approx(other.confidence_interval(0.95).low)
