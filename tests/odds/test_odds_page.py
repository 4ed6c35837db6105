"""The page of odds says what each of its columns leaves out. Rules of this project."""

from __future__ import annotations

import io
from dataclasses import replace
from pathlib import Path

from sim.layout.assemble import assemble
from sim.odds.exact import exact_odds
from sim.pages.page import Page
from sim.pages.text_odds import print_odds
from sim.scenario.read import read_scenario

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
