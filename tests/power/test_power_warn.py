"""Shorts that are there before anything moves are told by the check.

A short is what joins the two poles of a supply (IEC 60050-151-12-04, from memory).
"""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

from sim.layout.assemble import assemble
from sim.layout.traffic import Case
from sim.power.chart import shorts_at_rest
from tests.checked import check_scenario, read_scenario, scenario_from_text
from tests.scenario.texts import ONE, TRAIN

SAME_RAIL = ONE.replace('minus = "one/P/south"', 'minus = "one/P/north"')
BRIDGED = ONE + '[[jumper]]\nfrom = "one/P/north"\nto = "one/P/south"\n'


def said(text: str) -> list[str]:
    return [p.found for p in shorts_at_rest(assemble(scenario_from_text(text)))]


@pytest.mark.parametrize(
    ("text", "through"),
    [(SAME_RAIL, "'drop+', 'drop-'"), (BRIDGED, "'drop+', 'jumper 1', 'drop-'")],
)
def test_a_short_that_no_lever_undoes(text: str, through: str) -> None:
    assert said(text) == [f"a dead short of cab+ and cab- in every setting, through {through}"]


def test_no_short_no_word() -> None:
    assert said(ONE) == []


def test_the_check_tells_shorts_as_warnings(tmp_path: Path) -> None:
    path = tmp_path / "x.toml"
    path.write_text(SAME_RAIL)
    (problem,) = check_scenario(path, shorts_at_rest)
    assert problem.severity == "warning"
    assert problem.expected == "no short as built"


def test_a_fix_that_feeds_one_rail_twice_is_warned_of(tmp_path: Path) -> None:
    path = tmp_path / "x.toml"
    path.write_text(
        ONE + '[[fix]]\nname = "bad"\n[[fix.feeder]]\nname = "more"\nsupply = "cab"\n'
        'plus = "one/P/south"\nminus = "one/P/south"\n'
    )
    (problem,) = check_scenario(path)
    assert problem.where == "fix 'bad': fix[0].feeder[0]"
    assert problem.found == "both on 'one/P/south': a dead short in every setting"


def test_trains_without_any_supply_are_warned_of(tmp_path: Path) -> None:
    path = tmp_path / "x.toml"
    bare = ONE[: ONE.index("[[supply]]")] + ONE[ONE.index("[[module]]") :]
    path.write_text(bare + TRAIN)
    (problem,) = check_scenario(path)
    assert (problem.where, problem.severity) == ("supply", "warning")
    path.write_text(bare)
    assert check_scenario(path) == []


def demo(fix: str) -> Case:
    path = Path(__file__).parents[2] / "scenarios" / "branch-terminus.toml"
    return assemble(read_scenario(path), fix)


def test_of_a_short_that_stays_what_no_lever_parts_is_told() -> None:
    """Live frogs with both roads fed from beyond: joined by the frog's own metal."""
    (problem,) = shorts_at_rest(demo("feeders only"))
    assert "in every setting, through" in problem.found
    assert "'throat/points/through'" not in problem.found


def test_a_short_that_a_lever_makes_is_told_as_such() -> None:
    """With one road's feeder only, it hangs on the contact of the frog."""
    case = demo("feeders only")
    kept = tuple(e for e in case.layout.elements if not e.id.startswith("platform drop"))
    (problem,) = shorts_at_rest(replace(case, layout=replace(case.layout, elements=kept)))
    assert "with all levers at rest, through" in problem.found
    assert "'throat/points/through'" in problem.found
