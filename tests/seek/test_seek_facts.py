"""What practitioners know of a scissors crossover falls out of the search.

Common practice, no source: the fixes and their consequences.  310 mm boards,
33 mm track centres and 62 mm feeder lengths are common practice too.
"""

from __future__ import annotations

from dataclasses import replace

import pytest

from sim.analyses.handwork.measures import handwork
from sim.analyses.search.model import ALWAYS, Asked, Found
from sim.analyses.search.options import fix_from, toml_of
from sim.analyses.search.seek import seek
from sim.analyses.search.verify import violated
from sim.layout.assemble import assemble
from sim.layout.project import Project
from sim.scenario.document import Scenario
from sim.scenario.fixes import FixTable
from tests.checked import scenario_from_text
from tests.seek.boards import HEAD, between

GANGS = Asked(gangs=True)
TWO = [("A-inner-west", "A-inner-east"), ("B-inner-west", "B-inner-east")]
FROGS = [("A-mid-west", "A-mid-east"), ("B-mid-west", "B-mid-east")]


def sections(found: Found) -> list[set[frozenset[str]]]:
    """Each set as the pairs of the piece's sections that it joins."""
    return [
        {
            frozenset(name.removeprefix("board/scissors/") for name in c.words.split(" to "))
            for c in one.changes
        }
        for one in found.sets
    ]


def jumpers(pairs: list[tuple[str, str]]) -> FixTable:
    parts = tuple(
        ("jumper", {"from": f"board/scissors/{a}", "to": f"board/scissors/{b}"})
        for a, b in pairs
    )
    return fix_from("by hand", "", parts)


def failed(scenario: Scenario, pairs: list[tuple[str, str]], asked: Asked) -> list[str]:
    fixed = Project(scenario).with_fixes([jumpers(pairs)])
    return list(violated(fixed.case("by hand"), asked))


def test_two_inside_jumpers_suffice_and_are_the_only_smallest_set() -> None:
    found = seek(Project(between()), GANGS)
    assert (found.size, found.complete) == (2, True)
    assert sections(found) == [{frozenset(pair) for pair in TWO}]
    ways = [fix.name.removeprefix("found 1 ") for fix in found.sets[0].fixes]
    assert ways == ["inside", "under the board", "added lengths", "feeder"]


def test_frog_to_frog_jumpers_alone_do_not() -> None:
    assert failed(between(gangs="all"), FROGS, GANGS) == ["live"]
    assert failed(between(gangs="per diagonal"), FROGS, GANGS) == ["live", "no short"]
    assert failed(between(), TWO, GANGS) == []


def test_the_two_loops_stay_independent() -> None:
    assert "apart" not in failed(between(), TWO + FROGS, GANGS)
    assert "apart" in failed(between(), [("A-inner-east", "B-inner-east")], GANGS)


def test_four_survive_any_one_open_contact_and_are_what_is_found() -> None:
    scenario = between(gangs="all")
    asked = replace(GANGS, demands=(*ALWAYS, "contact"))
    assert failed(scenario, TWO, asked) == ["contact"]
    assert failed(scenario, TWO + FROGS, asked) == []
    found = seek(Project(scenario), asked)
    assert found.size == 4
    assert {frozenset(pair) for pair in TWO + FROGS} in sections(found)


def test_four_short_when_a_lever_does_not_follow_so_the_demands_conflict() -> None:
    scenario = between(gangs="all")
    lever = replace(GANGS, demands=(*ALWAYS, "lever"))
    assert failed(scenario, TWO + FROGS, lever) == ["lever"]
    assert failed(scenario, TWO, lever) == []
    both = replace(GANGS, demands=(*ALWAYS, "contact", "lever"), use=("jumper", "feeder"))
    found = seek(Project(scenario), both)
    assert found.size is None
    assert [c.demands for c in found.conflicts] == [("contact", "lever")]
    assert dict(found.conflicts[0].without) == {"contact": 2, "lever": 4}
    assert any("shorted" in why for why in found.conflicts[0].why)


def test_changeovers_on_the_levers_survive_both() -> None:
    both = replace(GANGS, demands=(*ALWAYS, "contact", "lever"), most=3)
    found = seek(Project(between(gangs="all")), both)
    assert found.size == 6  # a wire and two changeovers on each track
    assert found.sets[0].fixes


@pytest.mark.parametrize(("board_mm", "spare_mm"), [(310.0, -124.0), (620.0, 186.0)])
def test_added_feeder_lengths_fit_the_double_board_only(
    board_mm: float, spare_mm: float
) -> None:
    """Two lengths of 62 mm with a piece of 310 mm take 434 mm."""
    scenario = between(board_mm=board_mm)
    fixes = {fix.name: fix for fix in seek(Project(scenario), GANGS).sets[0].fixes}
    fix = fixes["found 1 added lengths"]
    case = Project(scenario).with_fixes([fix]).case(fix.name)
    work = handwork(case.layout, fix)
    assert (work.board_spare_mm, work.fits) == (spare_mm, spare_mm >= 0)
    assert (work.opened, work.held_down, work.joints) == ({}, {}, 4)


def test_what_each_way_takes() -> None:
    scenario = between()
    work = {}
    for fix in seek(Project(scenario), GANGS).sets[0].fixes:
        case = Project(scenario).with_fixes([fix]).case(fix.name)
        work[fix.name.removeprefix("found 1 ")] = handwork(case.layout, fix)
    inside, under = work["inside"], work["under the board"]
    assert (inside.joints, inside.holes, list(inside.opened)) == (4, 0, ["board/scissors"])
    assert inside.held_down == {}
    assert (under.joints, under.holes, under.opened) == (4, 4, {})
    assert list(under.held_down) == ["board/scissors"]  # it no longer lifts out


def test_found_fixes_can_be_pasted_into_the_file() -> None:
    from tests.checked import scenario_from_text
    from tests.seek.boards import between_text

    found = seek(Project(between()), GANGS)
    text = between_text() + toml_of(found.sets[0].fixes, ["found"])
    again = scenario_from_text(text)
    assert again.fix_names == tuple(fix.name for fix in found.sets[0].fixes)
    for name in again.fix_names:
        assert violated(assemble(again, name), GANGS) == []


def test_a_shorting_layout_is_cured_by_cuts() -> None:
    """Fed from beyond both frogs a live-frog crossover shorts (both legs need gaps)."""
    from tests.seek.boards import ringed_crossover

    found = seek(Project(ringed_crossover()), replace(GANGS, use=("gap", "feeder", "jumper")))
    assert found.size is not None
    assert all(one.cuts for one in found.sets)
    for one in found.sets:
        for fix in one.fixes:
            assert (
                violated(Project(ringed_crossover()).with_fixes([fix]).case(fix.name), GANGS)
                == []
            )
    assert any(one.fixes for one in found.sets)


def test_without_cuts_that_layout_has_no_cure_and_says_why() -> None:
    from tests.seek.boards import ringed_crossover

    found = seek(Project(ringed_crossover()), replace(GANGS, use=("jumper",)))
    assert found.size is None
    assert found.conflicts
    assert any("shorted" in why for c in found.conflicts for why in c.why)


def test_a_board_with_a_turnout_alone_can_be_fed_at_the_turnout() -> None:
    """Plain track is better for drops (they hold no lever's piece down), but here is none."""
    scenario = scenario_from_text(
        HEAD + '[[supply]]\nname = "cab"\n[[module]]\nname = "board"\n[[module.piece]]\n'
        'name = "points"\nkind = "turnout"\nfamily = "insulated frog, all live"\n'
    )
    found = seek(Project(scenario), Asked(use=("feeder",)))
    assert found.size == 2
    for one in found.sets:
        (fix,) = one.fixes
        assert len(fix.feeder) == 1
        (option,) = one.changes[0].options
        assert any("can no longer be lifted out" in words for words in option.cautions)
        assert not violated(Project(scenario).with_fixes([fix]).case(fix.name), Asked())
