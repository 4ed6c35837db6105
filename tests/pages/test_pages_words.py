"""Pages name places in words, and by the ids of the file only with ``--ids``.

Rules of this project, no source.
"""

from __future__ import annotations

import io
from collections.abc import Callable
from functools import cache

import pytest

from sim.analyses.search.model import Asked
from sim.analyses.search.seek import seek
from sim.analyses.survey.harm import changes
from sim.analyses.survey.survey import survey
from sim.analyses.survey.tired import tired_changes, tired_survey
from sim.circuit.voltage_drop import volts_report
from sim.command.main import main
from sim.judge.compare import compare
from sim.layout.assemble import assemble
from sim.layout.model import Layout
from sim.layout.traffic import Case
from sim.pages.compare import print_compare
from sim.pages.faults import print_faults
from sim.pages.page import Page
from sim.pages.places import Ids, Names
from sim.pages.run import print_run
from sim.pages.seek import print_seek
from sim.pages.states import print_states
from sim.pages.volts import print_volts
from sim.pages.words import changes_in_words
from sim.power.chart import chart
from sim.run.run import run
from sim.scenario.document import Scenario
from sim.scenario.read import read_scenario

CLUB, BRANCH = "scenarios/club-loops.toml", "scenarios/branch-terminus.toml"


@cache
def scenario(path: str) -> Scenario:
    return read_scenario(path)


@cache
def case(path: str, fix: str | None = None) -> Case:
    return assemble(scenario(path), fix)


def states_page(page: Page, path: str) -> None:
    print_states(page, chart(case(path)), "again")


def run_page(page: Page, path: str) -> None:
    record = run(case(path), 1)
    assert record.stalls
    words = changes_in_words(case(path).layout, page.names)
    print_run(page, record, (), "again", words)


def faults_page(page: Page, path: str) -> None:
    fix = case(path, scenario(path).fix_names[0])
    built, fixed = survey(case(path), 1, False), survey(fix, 1, False)
    tired = [tired_survey(c, None, False) for c in (case(path), fix)]
    print_faults(
        page, built, [changes(built, fixed)], tired[0], [tired_changes(*tired)], "again"
    )


def volts_page(page: Page, path: str) -> None:
    print_volts(page, volts_report(case(path)), (), "again")


def seek_page(page: Page, path: str) -> None:
    print_seek(page, seek(scenario(path), Asked(most=6, gangs=True)), (), "again")


def compare_page(page: Page, path: str) -> None:
    found = compare(scenario(path), 1, 1, 1, False)
    assert found.cases[0].by_section
    print_compare(page, found, "again")


def ids_of(layout: Layout) -> set[str]:
    """Every id that holds a stroke: wires and poles have the names of their builder."""
    return {
        id
        for ids in (
            layout.nodes,
            (e.id for e in layout.elements),
            (v.id for v in layout.levers),
            (c.id for c in layout.controls),
            (r.id for r in layout.routes),
            (e.id for e in layout.ends),
            (name for name, _ in layout.pads),
            (p.id for p in layout.pieces),
        )
        for id in ids
        if "/" in id
    }


def told(tell: Callable[[Page, str], None], path: str, names: Names) -> str:
    out = io.StringIO()
    tell(Page(out, 80, names), path)
    lines = out.getvalue().splitlines()
    assert max(map(len, lines)) <= 80
    return " ".join(" ".join(lines).split())


def ids_in(text: str, path: str) -> set[str]:
    """Ids that a page tells; in cells they are parted at their strokes."""
    close = text.replace(" ", "")
    return {id for id in ids_of(case(path).layout) if id.replace(" ", "") in close}


PAGES = [states_page, run_page, faults_page, volts_page, compare_page]


@pytest.mark.parametrize("tell", [*PAGES, pytest.param(seek_page, id="seek_page")])
def test_no_id_is_on_a_page_in_words(tell: Callable[[Page, str], None]) -> None:
    path = CLUB if tell is seek_page else BRANCH
    layouts = [case(path, fix).layout for fix in (None, *scenario(path).fix_names)]
    found = ids_in(told(tell, path, Names(layouts)), path)
    if tell is run_page or tell is compare_page:  # a leg is named by the run
        found -= {piece.id for piece in layouts[0].pieces}
    assert not found
    assert ids_in(told(tell, path, Ids()), path)


def test_pages_tell_what_a_modeller_would_say() -> None:
    names = Names([case(BRANCH).layout])
    states = told(states_page, BRANCH, names)
    assert "points on throat: straight stock" in states
    assert "crossover on station: AW through, BE through" in states
    assert "- blade contact, set diverging, points on throat" in states
    assert "DEAD: diagonal from AW to BE, crossover on station" in states
    ran = told(run_page, BRANCH, names)
    assert "Along diagonal from AW to BE, crossover on station" in ran
    assert "on the inner rail of track B, east half, crossover on station" in ran
    assert "- move the lever of points on throat" in ran
    gap = "bridge the gap of the diagonal from AW to BE, north rail, crossover on station with"
    assert gap in ran
    faults = told(faults_page, BRANCH, names)
    assert "feeder line drop, plus wire: feeder off" in faults
    assert "lever BE of crossover on station: lever does not follow" in faults
    club = Names([case(CLUB).layout])
    sought = told(seek_page, CLUB, club)
    assert "Join A inner west to A inner east, scissors on north junction" in sought
    assert "length added at the west end of track A, scissors on north junction" in sought


def test_ids_when_asked_for(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["states", BRANCH]) == 0
    words = capsys.readouterr().out
    assert main(["states", BRANCH, "--ids"]) == 0
    ids = capsys.readouterr().out
    assert "throat/points: lever through" in ids
    assert "throat/points" not in words
    # a board stands turned round: that is told with the words, once
    assert words.count("turned round") == 1
    assert "turned round" not in ids


def test_the_document_is_the_same_with_words_and_ids(
    capsys: pytest.CaptureFixture[str],
) -> None:
    said = []
    for more in ([], ["--ids"]):
        assert main(["states", BRANCH, "--json", "-", *more]) == 0
        said.append(capsys.readouterr().out)
    assert said[0] == said[1]
    assert "throat/points/lever" in said[0]
