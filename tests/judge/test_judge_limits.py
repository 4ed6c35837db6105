"""How sure a rate can be, and when numbers of stalls are no longer alike."""

from __future__ import annotations

from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import stats as reference

from sim.judge import stats
from sim.judge.compare import compare_cases
from sim.judge.verdict import verdict
from sim.layout.traffic import Case
from sim.pages.phrases import finding_line
from sim.records.model import Record
from tests import made


def reference_rate(hits: list[int], legs: int) -> tuple[float, float]:
    """Korn and Graubard 1998 for replications of ``legs`` each, by scipy's own functions.

    With equal numbers of legs the ratio is the mean of the shares, and its standard
    error is the textbook's s / √K, s² being the sum of squares over K - 1.
    """
    shares = [h / legs for h in hits]
    mean, error = sum(shares) / len(shares), float(reference.sem(shares, ddof=1))
    count = legs * len(hits)
    few, many = (float(reference.t.ppf(0.975, df)) for df in (len(hits) - 1, count - 1))
    size = mean * (1 - mean) / error**2 * (many / few) ** 2
    assert size < count  # else the cap decides, which is tested below
    low, high = (
        float(reference.beta.ppf(q, mean * size + a, (1 - mean) * size + 1 - a))
        for q, a in ((0.025, 0), (0.975, 1))
    )
    return low, high


@pytest.mark.parametrize(
    ("hits", "legs"),
    [([1, 5, 9], 10), ([0, 10], 10), ([0, 2, 7, 1, 4], 12), ([0, 0, 0, 20, 3, 0], 40)],
)
def test_rate_is_that_of_the_standard_error_of_few_replications(
    hits: list[int], legs: int
) -> None:
    """With few replications the divisor K - 1, and not K, makes the interval visibly wider."""
    found = stats.rate(hits, [legs] * len(hits))
    assert found is not None
    assert (found.low, found.high) == pytest.approx(reference_rate(hits, legs), abs=1e-8)


@pytest.mark.parametrize(
    ("hits", "legs"), [([4, 5, 4, 5, 5, 4], 10), ([20, 21, 20], 60), ([50, 51, 49, 50], 100)]
)
def test_replications_that_are_more_alike_than_chance_are_no_surer_than_single_legs(
    hits: list[int], legs: int
) -> None:
    """Shares that happen to agree do not make more legs of those that were run."""
    found = stats.rate(hits, [legs] * len(hits))
    assert found == stats.clopper_pearson(sum(hits), legs * len(hits))


@settings(deadline=None)
@given(st.lists(st.integers(0, 12), min_size=2, max_size=12))
def test_no_rate_is_surer_than_as_many_independent_legs(hits: list[int]) -> None:
    """Whatever the replications say, exact limits of all legs (by scipy) lie within."""
    found = stats.rate(hits, [12] * len(hits))
    assert found is not None
    exact = reference.binomtest(sum(hits), 12 * len(hits)).proportion_ci(0.95, "exact")
    assert found.low <= exact.low + 1e-9
    assert found.high >= exact.high - 1e-9


def said_of_a_fix_with(legs: int) -> str:
    """The verdict on a fix that takes all stalls away, with so many legs a run of ten."""

    def run(of: Case, seed: int) -> Record:
        found = made.luck(of, seed)
        return found if of.fix is None else replace(found, legs=found.legs[:legs])

    cases = [made.case(), made.case("cure")]
    found = compare_cases(cases, ["", ""], 8, 1, 1, None, run, made.survey)
    return " ".join(map(finding_line, verdict(found, 0)))


@pytest.mark.parametrize("legs", [0, 3, 6, 7])
def test_where_a_third_of_the_traffic_is_gone_the_verdict_gives_both_numbers_of_legs(
    legs: int,
) -> None:
    """Trains that stand about do not stall: 8 runs of 10 legs each as built."""
    said = said_of_a_fix_with(legs)
    assert f"{8 * legs} and 80 as built" in said


@pytest.mark.parametrize("legs", [9, 10])
def test_a_tenth_fewer_legs_is_not_worth_a_word(legs: int) -> None:
    assert "legs" not in said_of_a_fix_with(legs)
