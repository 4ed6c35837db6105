"""Which fix is called best where some let the trains stand about."""

from __future__ import annotations

from dataclasses import replace

import pytest

from sim.judge.compare import compare_cases
from tests import made
from viewer.report.content import best_fix


@pytest.mark.parametrize(("legs", "best"), [(80, 0), (72, 0), (56, 1), (48, 1), (0, 1)])
def test_a_fix_that_costs_a_third_of_the_traffic_is_not_best(legs: int, best: int) -> None:
    """As built 80 legs; one fix takes all stalls away and runs ``legs``, the other half."""
    cases = [made.case(), made.case("cure"), made.case("half")]
    found = compare_cases(cases, ["", "", ""], 8, 1, 1, None, made.luck, lambda _: made.BUILT)
    built, cure, half = found.cases
    assert (built.legs, cure.stalls, half.legs) == (80, 0, 80)
    assert half.stalls > 0
    assert best_fix(replace(found, cases=(built, replace(cure, legs=legs), half))) == best
