"""Intervals and exact tests: pure functions of counts.

Rates are shares between 0 and 1, levels are confidence levels (0.95 unless told
otherwise), p-values are two-sided.  Results are rounded to 1e-9 so that two
machines print the same digits.  Libraries are imported where they are used:
most commands never need them.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import cast

DIGITS = 9


def load() -> None:
    """Load now what the first interval would otherwise wait for."""
    import scipy.special  # noqa: F401


@dataclass(frozen=True, slots=True)
class Interval:
    """A confidence interval, ends included. Unit: that of what it is about."""

    low: float
    high: float


def wilson(hits: float, trials: float, level: float = 0.95) -> Interval:
    """Score interval for one share, ``hits`` of ``trials`` independent trials.

    Unit: share, never outside [0, 1].  Raises ``ValueError`` unless
    0 <= hits <= trials and trials > 0.  Source: E. B. Wilson 1927; method 3 of
    R. G. Newcombe, Statistics in Medicine 17 (1998).
    """
    _check_share(hits, trials)
    from scipy.special import ndtri

    z = float(ndtri(0.5 + level / 2))
    middle = hits + z * z / 2
    half = z * math.sqrt(hits * (trials - hits) / trials + z * z / 4)
    low = 0.0 if hits == 0 else (middle - half) / (trials + z * z)
    high = 1.0 if hits == trials else (middle + half) / (trials + z * z)
    return _shares(low, high)


def clopper_pearson(hits: float, trials: float, level: float = 0.95) -> Interval:
    """Exact interval for one share, ``hits`` of ``trials`` independent trials.

    ``trials`` need not be whole: the beta form is also used with an effective
    number of trials (:func:`rate`).  Unit: share, never outside [0, 1].
    Raises ``ValueError`` as :func:`wilson`.  Source: C. J. Clopper and E. S.
    Pearson 1934; method 5 of Newcombe 1998.
    """
    _check_share(hits, trials)
    from scipy.special import betaincinv

    tail = (1 - level) / 2
    misses = trials - hits
    low = 0.0 if hits == 0 else float(betaincinv(hits, misses + 1, tail))
    high = 1.0 if misses == 0 else float(betaincinv(hits + 1, misses, 1 - tail))
    return _shares(low, high)


def rate(hits: Sequence[int], trials: Sequence[int], level: float = 0.95) -> Interval | None:
    """Interval for sum(hits) / sum(trials) where each replication is one unit.

    ``hits[k]`` of ``trials[k]`` legs stalled in replication ``k``.  Legs of one
    replication share their contacts, so they are no independent trials: the
    variance of the ratio comes from the replications (linearised, K - 1
    degrees of freedom), is turned into the number of independent legs that
    would have the same variance, and that number goes into the exact interval
    of :func:`clopper_pearson`.  So the ends never leave [0, 1].

    Where every leg or no leg stalled, nothing shows how much legs hang
    together; then only whole replications are counted.  The effective number
    is never taken to be more than the legs that were run.

    None with fewer than two replications or no legs.  Raises ``ValueError``
    where lengths differ or a count is impossible.  Source: E. L. Korn and B. I.
    Graubard, Survey Methodology 24 (1998) (from memory); the ratio's variance is
    in any text on sampling.
    """
    if len(hits) != len(trials) or any(
        not 0 <= h <= n for h, n in zip(hits, trials, strict=True)
    ):
        raise ValueError("each replication needs 0 <= hits <= trials")
    runs, legs, stalled = len(hits), sum(trials), sum(hits)
    if runs < 2 or legs == 0:
        return None
    share = stalled / legs
    if stalled in (0, legs):
        return clopper_pearson(share * runs, runs, level)
    squares = math.fsum((h - share * n) ** 2 for h, n in zip(hits, trials, strict=True))
    variance = squares * runs / (runs - 1) / legs**2
    effective = _effective_trials(share, variance, runs, legs, level)
    return clopper_pearson(share * effective, effective, level)


def _effective_trials(
    share: float, variance: float, runs: int, legs: int, level: float
) -> float:
    """Independent trials as telling as these legs; never more than ``legs``."""
    from scipy.special import stdtrit

    if variance <= 0:
        return float(legs)
    # A variance estimated from few replications is itself uncertain: the ratio
    # of the t quantiles takes that off.
    quantile = 0.5 + level / 2
    few = float(stdtrit(runs - 1, quantile))
    many = float(stdtrit(max(legs - 1, runs - 1), quantile))
    effective: float = share * (1 - share) / variance * (many / few) * (many / few)
    return min(float(legs), effective)


def mean_share(hits: Sequence[int], of: int, level: float = 0.95) -> Interval | None:
    """Confidence interval of the mean of ``hits / of``, one number for each run.

    Student's t over the runs, which are the units: what happens within one run hangs
    together.  None with fewer than two runs, and where all agree: then the runs say
    nothing of how far they may differ, and :func:`differ_at_most` does.
    """
    from scipy.special import stdtrit

    count = len(hits)
    if count < 2 or of <= 0 or min(hits) == max(hits):
        return None
    mean = sum(hits) / count
    squares = math.fsum((h - mean) ** 2 for h in hits)
    half = math.sqrt(squares / (count - 1) / count)
    half *= float(stdtrit(count - 1, 0.5 + level / 2))
    return _shares((mean - half) / of, (mean + half) / of)


def differ_at_most(runs: int, level: float = 0.95) -> float:
    """The share of runs that may differ where ``runs`` of them were all the same.

    ``1 - (1 - level) ** (1 / runs)``: with a greater share, that many runs alike would
    be seen in fewer than ``1 - level`` of all cases.  0.31 for eight runs; near
    ``3 / runs`` for many (the rule of three, Hanley and Lippman-Hand 1983).
    """
    return 1.0 - float((1.0 - level) ** (1.0 / runs))


def mcnemar(only_first: int, only_second: int) -> float:
    """Exact two-sided p-value that two paired shares are equal.

    ``only_first`` pairs stalled only as built, ``only_second`` only with the
    fix; pairs that agree say nothing.  Only right where pairs are independent,
    as replications are and the legs of one replication are not.  Raises
    ``ValueError`` on a negative count.  Source: Q. McNemar 1947, with the
    binomial in place of the approximation.
    """
    if only_first < 0 or only_second < 0:
        raise ValueError("counts cannot be negative")
    pairs = only_first + only_second
    few = min(only_first, only_second)
    tail = sum(math.comb(pairs, i) for i in range(few + 1))
    return round(min(1.0, 2 * tail / (1 << pairs)), DIGITS)


def sign_test(differences: Sequence[float]) -> float:
    """Exact two-sided p-value that a difference is as often above 0 as below.

    Differences of 0 are left out.  Source: binomial with one half.
    """
    above = sum(d > 0 for d in differences)
    below = sum(d < 0 for d in differences)
    return mcnemar(above, below)


@dataclass(frozen=True, slots=True)
class PairedMean:
    """Mean of paired differences, unit of the differences.

    ``interval`` is None where so few pairs cannot give one at this level;
    ``exact`` tells whether it comes from the permutations or is approximate.
    """

    mean: float
    interval: Interval | None
    p_value: float
    exact: bool


#: Cells of the table of (size, sum), times rounds over it, that
#: :func:`paired_mean` is willing to fill: about two seconds.
TABLE_AT_MOST = 500_000_000


def paired_mean(differences: Sequence[int], level: float = 0.95) -> PairedMean | None:
    """Mean of whole-number paired differences, one per replication.

    Tested by turning the signs of the differences in all 2^K ways, which are
    equally likely where the fix does nothing; the interval holds every mean
    that this test does not reject.  Both are exact for any number of
    replications, because the sums of whole numbers are counted, not listed.
    Where that table would get too large (some hundred replications with
    hundreds of stalls each) Student's t is used and ``exact`` is False.

    The interval of the permutation test ends at means of subsets of the
    differences.  Fewer than six replications cannot exclude anything at 95 %:
    no interval then.  None with fewer than two replications.  Source: R. A.
    Fisher 1935 for the test; J. A. Hartigan, JASA 64 (1969), typical values, for
    the interval (from memory).
    """
    count = len(differences)
    if count < 2:
        return None
    mean = sum(differences) / count
    reach = sum(abs(d) for d in differences)
    if count * (count + 1) * (reach + 1) > TABLE_AT_MOST:
        return _student(differences, level)
    means, shares = _subset_means(differences)
    p_value = _sign_flip_p(means, shares, count)
    return PairedMean(
        round(mean, DIGITS), _inverted(means, shares, count, level), p_value, True
    )


def _subset_means(differences: Sequence[int]) -> tuple[list[float], list[float]]:
    """Means of all non-empty subsets, rising, with the share of the subsets that have each.

    Counted in a table of (size, sum): one more difference moves the table one
    row on and its own value along.
    """
    import numpy as np

    down = -sum(d for d in differences if d < 0)
    up = sum(d for d in differences if d > 0)
    table = np.zeros((len(differences) + 1, down + up + 1))
    table[0, down] = 1.0
    for d in differences:
        with_it = np.zeros_like(table)
        if d >= 0:
            with_it[1:, d:] = table[:-1, : table.shape[1] - d]
        else:
            with_it[1:, :d] = table[:-1, -d:]
        table = (table + with_it) / 2
    table[0, down] -= 0.5 ** len(differences)  # the empty subset has no mean
    sizes, sums = np.nonzero(table)
    keep = sizes > 0
    sizes, sums = sizes[keep], sums[keep]
    means = np.round((sums - down) / sizes, 12)
    values, place = np.unique(means, return_inverse=True)
    shares = np.bincount(place.ravel(), weights=table[sizes, sums], minlength=len(values))
    return cast(list[float], values.tolist()), cast(list[float], shares.tolist())


def _sign_flip_p(means: list[float], shares: list[float], count: int) -> float:
    """Two-sided p-value of a mean of 0, from the share of subset means beyond it.

    Turning the signs of a subset raises the sum by nothing exactly where the
    subset's mean is 0 or below; the empty subset is the data as they are.
    """
    empty = 0.5**count
    above = empty + math.fsum(s for m, s in zip(means, shares, strict=True) if m <= 0)
    below = empty + math.fsum(s for m, s in zip(means, shares, strict=True) if m >= 0)
    return round(min(1.0, 2 * above, 2 * below), DIGITS)


def _inverted(
    means: list[float], shares: list[float], count: int, level: float
) -> Interval | None:
    """Every mean that the sign-flip test does not reject at ``level``."""
    tail = (1 - level) / 2
    if 0.5**count > tail:
        return None
    low = _first_beyond(means, shares, 0.5**count, tail)
    high = _first_beyond(means[::-1], shares[::-1], 0.5**count, tail)
    return Interval(round(low, DIGITS), round(high, DIGITS))


def _first_beyond(means: list[float], shares: list[float], empty: float, tail: float) -> float:
    """The first mean, in the order given, at which the one-sided share exceeds ``tail``."""
    share = empty
    for mean, more in zip(means, shares, strict=True):
        share += more
        if share > tail:
            return mean
    return means[-1]


def _student(differences: Sequence[int], level: float) -> PairedMean:
    """Student's t for paired differences: the stand-in for very large tables."""
    from scipy.special import stdtr, stdtrit

    count = len(differences)
    mean = sum(differences) / count
    squares = math.fsum((d - mean) ** 2 for d in differences)
    error = math.sqrt(squares / (count - 1) / count)
    half = error * float(stdtrit(count - 1, 0.5 + level / 2))
    beyond = 2 * float(stdtr(count - 1, -abs(mean) / error)) if error else float(mean == 0)
    interval = Interval(round(mean - half, DIGITS), round(mean + half, DIGITS))
    return PairedMean(round(mean, DIGITS), interval, round(beyond, DIGITS), False)


def _check_share(hits: float, trials: float) -> None:
    if not (trials > 0 and 0 <= hits <= trials):
        raise ValueError(f"expected 0 <= hits <= trials, got {hits} of {trials}")


def _shares(low: float, high: float) -> Interval:
    return Interval(round(max(0.0, low), DIGITS), round(min(1.0, high), DIGITS))
