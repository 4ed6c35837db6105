"""Where a fix is safe: every kind of neighbour, every wiring that is still possible."""

from __future__ import annotations

from io import StringIO
from pathlib import Path

import pytest
import tomli_w

from sim.analyses.neighbours.board import NEIGHBOURHOODS, board_of
from sim.analyses.neighbours.card import card
from sim.analyses.neighbours.variants import modules_of, variant
from sim.analyses.neighbours.verdicts import Judged, Neighbours
from sim.analyses.search.options import fix_from
from sim.layout.project import Project
from sim.pages.card import print_card
from sim.pages.page import Page
from sim.pieces.described import to_data
from sim.pieces.kinds import build
from sim.scenario.document import Scenario
from sim.scenario.fixes import FixTable
from sim.scenario.problems import ScenarioError
from tests.checked import read_scenario, scenario_from_text
from tests.seek.boards import HEAD, between, ringed_crossover

TWO = (("A-inner-west", "A-inner-east"), ("B-inner-west", "B-inner-east"))
FROGS = (("A-mid-west", "A-mid-east"), ("B-mid-west", "B-mid-east"))


def jumpers(*pairs: tuple[str, str]) -> FixTable:
    parts = tuple(
        ("jumper", {"from": f"board/scissors/{a}", "to": f"board/scissors/{b}"})
        for a, b in pairs
    )
    return fix_from("tried", "", parts)


def judge(
    scenario: Scenario, module: str, fix: FixTable | None, *rest: tuple[str, ...]
) -> Judged:
    return Neighbours(Project(scenario)).judge(module, fix, *rest)


def at(judged: Judged, name: str):  # type: ignore[no-untyped-def]
    return next(v for v in judged.verdicts if v.neighbourhood == name)


def test_as_built_passes_nothing_on_and_two_jumpers_do() -> None:
    """Common practice, no source: with a centre gap only the outer rails go through."""
    judged = judge(between(), "board", jumpers(*TWO))
    for name in ("fed from the west only", "fed from the east only"):
        assert (at(judged, name).dead_before, at(judged, name).dead) == (2, 0)
    for name in ("fed from both sides", "in a ring, fed at one place", "turned round"):
        assert (at(judged, name).dead_before, at(judged, name).dead) == (0, 0)
        assert at(judged, name).safe
    assert at(judged, "in opposite phase").safe


def test_a_wire_through_the_module_joins_what_meets_there() -> None:
    judged = judge(between(), "board", jumpers(*TWO))
    verdict = at(judged, "another supply on each side")
    assert verdict.harms == (
        "joins cab A and cab A east by both poles",
        "joins cab B and cab B east by both poles",
    )
    assert not judged.anywhere
    assert [v.neighbourhood for v in judged.verdicts if not v.safe] == [verdict.neighbourhood]


def test_plain_track_between_two_supplies_is_no_place_without_cuts() -> None:
    """Both rails of a straight go through: two supplies at its ends are in parallel."""
    text = HEAD + '[[supply]]\nname = "cab"\n[[feeder]]\nname = "f"\nsupply = "cab"\n'
    text += 'plus = "main/a/north"\nminus = "main/a/south"\n[[module]]\nname = "main"\n'
    text += '[[module.piece]]\nname = "a"\nkind = "straight"\nlength_mm = 100\n'
    text += '[[module]]\nname = "plain"\n[[module.piece]]\nname = "b"\nkind = "straight"\n'
    text += 'length_mm = 100\n[[line]]\nmodules = ["main", "plain"]\n'
    made = card(Project(scenario_from_text(text)), "plain", None)
    verdict = at(made.judged, "another supply on each side")
    assert verdict.standing == ("joins cab and cab east by both poles",)
    assert verdict.harms == ()
    assert not at(made.judged, "fed from both sides").standing
    assert any("insulated joiners" in words for words in made.tests)
    page = StringIO()
    print_card(Page(page, width=120), made, "gapwright card")
    (row,) = [x for x in page.getvalue().splitlines() if x.startswith("another supply")]
    assert "alive" not in row
    assert "joins cab and cab east" in row


def test_frog_to_frog_is_only_safe_while_levers_follow() -> None:
    ganged = judge(between(gangs="all"), "board", jumpers(*TWO, *FROGS))
    assert at(ganged, "fed from both sides").safe
    assert any("follow" in c for c in at(ganged, "fed from both sides").cautions)
    free = judge(between(gangs="per diagonal"), "board", jumpers(*TWO, *FROGS))
    assert not at(free, "fed from both sides").safe
    assert "shorts in" in at(free, "fed from both sides").harms[0]


def test_a_wire_from_loop_to_loop_is_harmful_everywhere_but_on_one_supply() -> None:
    wire = jumpers(("A-inner-east", "B-inner-east"))
    judged = judge(between(), "board", wire)
    for verdict in judged.verdicts:
        assert not verdict.safe, verdict.neighbourhood


def test_every_wiring_that_is_still_possible_is_judged() -> None:
    fix = jumpers(*TWO)
    judged = judge(between(), "board", fix, ("family", "centre_gap"))
    wirings = {v.wiring for v in judged.verdicts}
    assert len(wirings) == 12  # six families, with and without centre gap
    assert "family powered frog, centre_gap false" in wirings
    both = [v for v in judged.verdicts if v.neighbourhood == "fed from both sides"]
    assert len(both) == 12
    frogs = judge(between(gangs="per diagonal"), "board", jumpers(*TWO, *FROGS), ("family",))
    harmed = {v.wiring for v in frogs.verdicts if "shorts" in " ".join(v.harms)}
    assert harmed == {"family live frog", "family switched frog, bonded blades"}


def test_an_unknown_parameter_that_no_piece_has_is_refused() -> None:
    with pytest.raises(ScenarioError, match="hinge"):
        judge(between(), "board", None, ("hinge",))


def test_a_module_with_one_edge_stands_where_it_can() -> None:
    text = HEAD + '[[supply]]\nname = "cab"\n[[feeder]]\nname = "f"\nsupply = "cab"\n'
    text += 'plus = "main/a/north"\nminus = "main/a/south"\n[[module]]\nname = "main"\n'
    text += '[[module.piece]]\nname = "a"\nkind = "straight"\nlength_mm = 100\n'
    text += '[[module]]\nname = "end"\n[[module.piece]]\nname = "s"\nkind = "siding end"\n'
    text += 'length_mm = 100\n[[line]]\nmodules = ["main", "end"]\n'
    judged = judge(scenario_from_text(text), "end", None)
    names = [v.neighbourhood for v in judged.verdicts]
    assert "fed from the west only" in names
    assert "in a ring, fed at one place" in judged.skipped
    assert "supplies with a common return" in judged.skipped


def test_variants_keep_the_poles_of_home() -> None:
    board = board_of(Project(between()), "board")
    assert [(e.end, e.loop, e.north) for e in board.west] == [
        ("board/scissors/A-west", "cab A", "+"),
        ("board/scissors/B-west", "cab B", "+"),
    ]
    for place in NEIGHBOURHOODS:
        made = variant(board, place)
        assert {m.name for m in made.module} == {"board", "west neighbour", "east neighbour"}
        assert made.line[0].turned == (("board",) if place.turned else ())
    turned = next(n for n in NEIGHBOURHOODS if n.turned)
    rails = {d.name: d.sections for d in variant(board, turned).district}
    assert "west neighbour/1/*" in rails["cab B"]  # turned round, B lies in the north


def test_a_feeder_follows_the_loop_and_other_modules_are_left_out() -> None:
    parts = (
        ("feeder", {"name": "f", "supply": "cab A", "plus": "board/scissors/A-outer",
                    "minus": "board/scissors/A-inner-east"}),
        ("jumper", {"from": "east/A/north", "to": "east/B/north"}),
        ("reverse", "cab B"),
    )  # fmt: skip
    fix = fix_from("mixed", "", parts)
    assert modules_of(between(), fix) == ["east", "board"]
    judged = judge(between(), "board", fix)
    assert judged.elsewhere == (
        "the phase of cab B turned at the supply",
        "1 of 1 under 'jumper', on other modules",
    )
    assert at(judged, "fed from the west only").safe


def test_the_card_tells_changes_undoing_places_and_tests() -> None:
    made = card(Project(between()), "board", None)
    assert made.steps == ()
    scenario = between().model_copy(update={"fix": (jumpers(*TWO),)})
    made = card(Project(scenario), "board", scenario.fix[0])
    assert len(made.steps) == 2
    assert all("unsolder" in step.undo for step in made.steps)
    assert made.loops == ("cab A", "cab B")
    text = " ".join(made.tests)
    for word in ("unplugged", "0.3 ohm", "no rail of one loop", "insulated joiners", "0 V"):
        assert word in text


def test_a_crossover_in_a_ring_needs_its_cuts_anywhere() -> None:
    judged = judge(ringed_crossover(), "board", None)
    assert at(judged, "fed from the west only").settings == 2


def test_a_learned_piece_is_judged_as_what_may_lie_there(tmp_path: Path) -> None:
    fix = jumpers(*TWO, *FROGS)
    free = between(gangs="per diagonal")
    piece = build("scissors crossover", {
        "gauge_mm": 9.0, "track_centres_mm": 33.0, "length_mm": 310.0,
        "family": "powered frog", "gangs": "per diagonal",
    })  # fmt: skip
    path = tmp_path / "learned.toml"
    path.write_text(tomli_w.dumps(to_data(piece)), encoding="utf-8")
    judged = judge(free, "board", fix, (), (str(path),))
    both = [v for v in judged.verdicts if v.neighbourhood == "fed from both sides"]
    assert [(v.wiring, v.safe) for v in both] == [("as it is", False), ("learned.toml", True)]
    named = judge(free, "board", None, (), (f"scissors={path}",))
    assert {v.wiring for v in named.verdicts} == {"as it is", "learned.toml"}


def test_a_wiring_that_is_none_is_told(tmp_path: Path) -> None:
    path = tmp_path / "bad.toml"
    path.write_text('sections = ["a"]\n', encoding="utf-8")
    for files in ((str(path),), (f"nothing={path}",), (str(tmp_path / "missing.toml"),)):
        with pytest.raises(ScenarioError):
            judge(between(), "board", None, (), files)


def test_the_card_tells_a_changed_piece_in_words_of_the_trade() -> None:
    scenario = read_scenario("scenarios/branch-terminus.toml")
    fix = next(f for f in scenario.fix if f.name == "gaps and feeders")
    made = card(Project(scenario), "throat", fix)
    assert "throat/points changed: with frog gaps" in [step.done for step in made.steps]
