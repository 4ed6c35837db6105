"""The page of odds says what each of its columns leaves out. Rules of this project."""

from __future__ import annotations

import io
from dataclasses import replace
from pathlib import Path

import pytest

from sim.analyses.odds.odds import Odds, exact_odds
from sim.layout.assemble import assemble
from sim.pages.odds import print_odds
from sim.pages.page import Page
from tests.checked import read_scenario

LOOPS = Path(__file__).parents[1] / "command" / "loops.toml"


def test_a_short_that_needs_no_failure_is_told_apart() -> None:
    """Shorted as built: no failure makes it worse, and still the odds of a short are 1."""
    case = assemble(read_scenario(LOOPS))
    layout = case.layout
    feeder = next(e for e in layout.elements if e.kind == "feeder")
    plus, minus = layout.supplies[0].plus, layout.supplies[0].minus
    shorted = replace(feeder, id="wire", kind="jumper", a=plus, b=minus, opens=0.0)
    odds = exact_odds(
        replace(case, layout=replace(layout, elements=(*layout.elements, shorted)))
    )
    assert odds.short == 1.0
    out = io.StringIO()
    print_odds(Page(out, 100), odds, (), "again")
    page = " ".join(out.getvalue().split())
    assert "Any short" in page
    assert "What is dead or shorted with everything good is left out." in page
    assert "those that need no failure counted; so it can be the greater" in page


TWO_SUPPLIES = """
format = 1
title = "two in parallel"
scale_ratio = 160
gauge_mm = 9
supply = [{ name = "P" }, { name = "Q" }]
feeder = [
    { name = "p", supply = "P", plus = "b/t/north", minus = "b/t/south" },
    { name = "q", supply = "Q", plus = "b/t/north", minus = "b/t/south" },
]
module = [{ name = "b", piece = [{ name = "t", kind = "straight", length_mm = 500 }] }]
line = [{ modules = ["b"] }]
"""


def odds_of(tmp_path: Path, faults: str) -> Odds:
    path = tmp_path / "two.toml"
    path.write_text(TWO_SUPPLIES + faults, encoding="utf-8")
    return exact_odds(assemble(read_scenario(path)))


def test_a_supply_that_may_be_off_counts(tmp_path: Path) -> None:
    """Worked out by hand: P is off, or its wire; and Q is off, each by itself."""
    odds = odds_of(
        tmp_path,
        """
        [[fault]]
        on = "P"
        what = "off"
        chance = 0.3
        per = "run"
        [[fault]]
        on = "Q"
        what = "off"
        chance = 0.2
        per = "run"
        [[fault]]
        on = "p+"
        what = "open"
        chance = 0.5
        per = "run"
        """,
    )
    assert odds.odds == pytest.approx((1 - 0.7 * 0.5) * 0.2, abs=1e-12)
    assert odds.left_out == ()
    assert {w.part for w in odds.weights} == {"P", "Q", "p+"}
    (route,) = odds.settings[0].routes
    assert sorted(sorted(cut) for cut in route.cuts) == [["P", "Q"], ["Q", "p+"]]


def test_what_only_runs_can_tell_is_said_to_be_left_out(tmp_path: Path) -> None:
    odds = odds_of(
        tmp_path,
        """
        [[fault]]
        on = "P"
        what = "off"
        chance = 0.3
        per = "hour"
        [[fault]]
        on = "?+"
        what = "tired"
        at_s = 5
        """,
    )
    assert odds.odds == 0.0
    assert odds.left_out == ("P: off, 0.3 per hour", "p+, q+: tired, at 5 s")
    out = io.StringIO()
    print_odds(Page(out, 100), odds, (), "again")
    page = " ".join(out.getvalue().split())
    assert "only runs can tell what they do" in page and "P: off, 0.3 per hour" in page
    assert "1 route hangs on nothing that may fail." in page
