"""The page of a real chart: what a builder reads."""

from __future__ import annotations

import io

from sim.layout.assemble import assemble
from sim.pages.page import Page
from sim.pages.states import print_states
from sim.power.chart import chart
from sim.scenario.document import Scenario
from tests.checked import scenario_from_text
from tests.power.small import Small
from tests.power.test_power_parts import many
from tests.scenario.texts import HEAD, ONE


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
    assert " DEAD: m/p/one: floating from 10.0 to 20.0 mm, x\n" in text
    assert " DEAD: m/p/more\n   from mm   to mm   Left   Right   Why\n" in text


def test_numbers_past_counting_are_told_in_words() -> None:
    text = " ".join(page(many(60)).split())
    assert "More than a million settings in 1 group of levers; of 1 charted" in text
    assert "too many to chart" in text


def loose_turnouts(count: int) -> Scenario:
    """Turnouts one after the other, each with a hand of its own."""
    text = HEAD + '[[supply]]\nname = "cab"\n'
    for n in range(count):
        text += f'[[module]]\nname = "t{n}"\n[[module.piece]]\nname = "p"\nkind = "turnout"\n'
        text += 'family = "insulated frog, power routing"\n'
    for n in range(count - 1):
        text += f'[[join]]\na = "t{n}/p/through"\nb = "t{n + 1}/p/points"\n'
    return scenario_from_text(
        text
        + '[[feeder]]\nname = "drop"\nsupply = "cab"\nplus = "t0/p/SN"\nminus = "t0/p/SS"\n'
    )


def test_very_many_settings_are_folded_to_what_each_hand_changes() -> None:
    found = chart(assemble(loose_turnouts(8)))
    assert len(found.settings) == 256
    out = io.StringIO()
    print_states(Page(out, 80), found, "gapwright states x")
    text = out.getvalue()
    assert text.count("\n") < 500
    assert "Of these 256 settings the first is told" in text
    assert "1. The first setting" in text
    # each of the eight hands by itself, and nothing of two together
    told = text.split("As the first, but for")[1:]
    levers = [line.strip() for x in told for line in x.splitlines()[1:2]]
    assert sorted(levers) == [f"- t{n}/p: lever diverging" for n in range(8)]
    assert " 247 more settings: " in text.replace("\n", " ")


def test_few_settings_are_told_one_by_one() -> None:
    out = io.StringIO()
    print_states(Page(out, 80), chart(assemble(loose_turnouts(3))), "x")
    assert "As the first" not in out.getvalue()
    assert "8. Setting" in out.getvalue() or "alike" in out.getvalue()


def test_the_rail_that_floats_is_named_and_no_other() -> None:
    text = ONE.replace('minus = "one/P/south"\n', 'minus = "two/P/south"\n')
    text += '[[module]]\nname = "two"\n[[module.piece]]\nname = "P"\nkind = "straight"\n'
    text += "length_mm = 200\n"
    out = io.StringIO()
    print_states(Page(out, 80), chart(assemble(scenario_from_text(text))), "x")
    assert "DEAD: one/P/west-east: floating from 0.0 to 200.0 mm, south\n" in out.getvalue()
    assert "DEAD: two/P/west-east: floating from 0.0 to 200.0 mm, north\n" in out.getvalue()
