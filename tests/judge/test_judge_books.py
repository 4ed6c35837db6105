"""Intervals and tests against data that others have published and worked out."""

from __future__ import annotations

import pytest
from scipy import stats as reference

from sim.judge import stats

#: Heights of fifteen pairs of maize plants, crossed less self-fertilized, in eighths of
#: an inch: C. Darwin 1876, as used by R. A. Fisher 1935 (from memory).
MAIZE = [49, -67, 8, 16, 6, 23, 28, 41, 14, 29, 56, 24, 75, 60, -48]
#: Hours of sleep that one drug gave more than another, in tenths: Student 1908, from
#: A. R. Cushny and A. R. Peebles 1905 (from memory).
SLEEP = [12, 24, 13, 13, 0, 10, 18, 8, 46, 14]


def test_all_signs_of_darwins_maize() -> None:
    """R. A. Fisher, The Design of Experiments (1935), § 21 (from memory).

    Of the 32,768 ways to turn signs 863 have a sum as great as 314, so 1,726 either way:
    5.267 %; by Student's t, 2.148 with 14 degrees of freedom, it is 4.97 %.
    """
    assert sum(MAIZE) == 314
    found = stats.paired_mean(MAIZE)
    assert found is not None
    assert found.exact
    assert found.p_value == pytest.approx(1726 / 32768, abs=1e-9)
    assert found.mean == pytest.approx(314 / 15)
    # The interval says the same: zero is among the means that are not rejected, just.
    assert found.interval is not None
    assert found.interval.low < 0.0 < 1.0 < found.interval.high


@pytest.mark.parametrize(
    ("data", "t", "p", "low", "high"),
    [(MAIZE, 2.148, 0.0497, 0.03, 41.84), (SLEEP, 4.0621, 0.002833, 7.001, 24.599)],
)
def test_students_own_test(
    data: list[int], t: float, p: float, low: float, high: float,
    monkeypatch: pytest.MonkeyPatch,
) -> None:  # fmt: skip
    """Maize: Fisher as above.  Sleep: Student 1908, worked out in many textbooks (from memory).

    Both once more by scipy.
    """
    other = reference.ttest_1samp(data, 0.0)
    assert (other.statistic, other.pvalue) == pytest.approx((t, p), rel=1e-3)
    monkeypatch.setattr(stats, "TABLE_AT_MOST", 0)
    found = stats.paired_mean(data)
    assert found is not None
    assert found.interval is not None
    assert found.p_value == pytest.approx(p, rel=2e-3)
    assert (found.interval.low, found.interval.high) == pytest.approx((low, high), abs=6e-3)


def test_signs_of_students_sleep() -> None:
    """Nine of ten slept longer and one as long: 2 / 2^9 (binomial; data as above)."""
    assert stats.sign_test(SLEEP) == pytest.approx(2 / 2**9)
    found = stats.paired_mean(SLEEP)
    assert found is not None
    assert found.p_value == pytest.approx(2 / 2**9)


def test_approval_twice_asked() -> None:
    """A. Agresti, Categorical Data Analysis, table 10.1 (from memory): z = 4.17.

    Of 1,600 voters 150 went from yes to no and 86 from no to yes; two-sided exact p
    below 0.0001, here by scipy's binomial test.
    """
    assert pytest.approx(4.17, abs=0.005) == (150 - 86) / (150 + 86) ** 0.5
    found = stats.mcnemar(150, 86)
    assert found < 0.0001
    assert found == pytest.approx(reference.binomtest(86, 236).pvalue, abs=1e-9)


@pytest.mark.parametrize(
    ("hits", "trials", "low", "high"),
    [(0, 10, 0.0, 30.85), (1, 10, 0.25, 44.50), (5, 10, 18.71, 81.29), (10, 10, 69.15, 100.0),
     (1, 20, 0.13, 24.87), (10, 100, 4.90, 17.62)],
)  # fmt: skip
def test_exact_limits_of_the_tables(hits: int, trials: int, low: float, high: float) -> None:
    """Tables of exact binomial limits, 95 %, in per cent (Documenta Geigy; from memory)."""
    found = stats.clopper_pearson(hits, trials)
    assert (100 * found.low, 100 * found.high) == pytest.approx((low, high), abs=6e-3)


@pytest.mark.parametrize("level", [0.8, 0.95, 0.99])
def test_limits_of_one_share_against_scipy(level: float) -> None:
    """scipy.stats.binomtest, methods exact and wilson, for every count up to 30."""
    for trials in (1, 2, 7, 30):
        for hits in range(trials + 1):
            test = reference.binomtest(hits, trials)
            exact, wilson = test.proportion_ci(level), test.proportion_ci(level, "wilson")
            for found, other in (
                (stats.clopper_pearson(hits, trials, level), exact),
                (stats.wilson(hits, trials, level), wilson),
            ):
                assert (found.low, found.high) == pytest.approx(tuple(other), abs=2e-9)


def test_the_fewest_pairs_that_can_tell_anything() -> None:
    """Six differences of one sign are the fewest that can be significant: 2 / 2^6 = 1/32.

    F. Wilcoxon 1945 and every table since (from memory): none exists for five pairs at
    5 %, two-sided.  scipy's exact Wilcoxon test agrees, the ranks being of no use then.
    """
    for count, p in ((5, 1 / 16), (6, 1 / 32), (7, 1 / 64)):
        data = list(range(1, count + 1))
        found = stats.paired_mean(data)
        assert found is not None
        assert found.p_value == pytest.approx(p)
        assert reference.wilcoxon(data, method="exact").pvalue == pytest.approx(p)
        assert (found.interval is None) == (p > 0.05)
