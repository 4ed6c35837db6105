"""The page of a real chart: what a builder reads."""

from __future__ import annotations

import io

from sim.pages.page import Page
from sim.pages.text_states import print_states
from sim.power.chart import chart
from tests.power.small import Small
from tests.power.test_power_parts import many


def page(made: Small, width: int = 80) -> str:
    out = io.StringIO()
    print_states(Page(out, width), chart(made.case()), "gapwright states x")
    return out.getvalue()


def test_a_single_dead_stretch_is_one_line_and_more_are_a_table() -> None:
    made = Small("N S x y")
    made.supply("A")
    made.join("A+", "N", "feeder")
    made.join("A-", "S", "feeder")
    made.route("one", ("N", "S"), ("N", "x"))
    made.route("more", ("N", "x"), ("N", "y"))
    text = page(made)
    assert " DEAD: m/p/one: floating from 10.0 to 20.0 mm, N and x\n" in text
    assert " DEAD: m/p/more\n   from mm   to mm   Left   Right   Why\n" in text


def test_numbers_past_counting_are_told_in_words() -> None:
    text = " ".join(page(many(60)).split())
    assert "More than a million settings in 1 group of levers; of 1 charted" in text
    assert "too many to chart" in text
