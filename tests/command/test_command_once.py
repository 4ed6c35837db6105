"""A command reads its file once and puts every case together once.

Rules of this project, no source.
"""

from __future__ import annotations

import os
import sys
from collections import Counter
from collections.abc import Iterable
from pathlib import Path
from typing import Any

import pytest

import sim.layout.project as projects
from sim.command.main import main
from sim.layout.project import Project, load_project
from sim.layout.traffic import Case
from sim.scenario.document import Scenario
from sim.scenario.problems import Problem
from tests.checked import read_scenario
from tests.seek.boards import between

LOOPS = Path(__file__).with_name("loops.toml")
FIXES = read_scenario(LOOPS).fix_names

#: Files that are being counted: audit hooks stay for good, so this one looks here.
_counted: dict[str, int] = {}


def _opened(event: str, args: tuple[Any, ...]) -> None:
    if _counted and event == "open" and isinstance(args[0], (str, os.PathLike)):
        name = os.fspath(args[0])
        if name in _counted:
            _counted[str(name)] += 1


sys.addaudithook(_opened)


class Counts:
    """How often each case was put together, and the file opened."""

    def __init__(self, path: Path) -> None:
        self.cases: Counter[tuple[str, str]] = Counter()
        self.path = str(path)
        _counted.clear()
        _counted[self.path] = 0

    @property
    def reads(self) -> int:
        return _counted[self.path]

    def of(self, scenario: Scenario) -> Counter[str]:
        """By fix: of one scenario alone."""
        own = repr(scenario.model_copy(update={"fix": ()}))
        return Counter({fix: n for (one, fix), n in self.cases.items() if one == own})


@pytest.fixture
def counts(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterable[Counts]:
    path = tmp_path / "loops.toml"
    path.write_text(LOOPS.read_text(encoding="utf-8"), encoding="utf-8")
    found = Counts(path)
    survey = projects.survey

    def counted(
        scenario: Scenario, fix: str | None, *rest: Any
    ) -> tuple[Case | None, list[Problem]]:
        own = repr(scenario.model_copy(update={"fix": ()}))
        table = None if fix is None else scenario.fix_named(fix)
        found.cases[own, "" if table is None else repr(table)] += 1
        return survey(scenario, fix, *rest)

    monkeypatch.setattr(projects, "survey", counted)
    monkeypatch.chdir(tmp_path)
    yield found
    _counted.clear()


ONE, SOME = ("--fix", FIXES[0]), ("--runs", "1", "--workers", "1")
COMMANDS = [
    ("check",),
    ("states",),
    ("states", *ONE),
    ("volts", *ONE),
    ("run", *ONE),
    ("netlist", *ONE),
    ("locate", *ONE),
    ("faults",),
    ("faults", *ONE),
    ("odds",),
    ("odds", *ONE),
    ("seek", "--most", "2"),
    ("seek", "--most", "1", *ONE),
    ("compare", *SOME),
    ("weigh", "--most", "2", *SOME),
    ("campaign", "--band-runs", "1", *SOME),
    ("campaign", "--band-runs", "0", "--hours", "0.01", *SOME),
    ("card", "--module", "board", *ONE),
    ("card", "--module", "board", "--unknown", "family"),
    ("worksheet", *ONE),
    ("worksheet", "--out", "sheet.html", *ONE),
    ("picture", "--out", "picture.svg", *ONE),
    ("report", "--out", "report.html", *SOME),
]


@pytest.mark.parametrize("words", COMMANDS, ids=lambda words: " ".join(words)[:40])
def test_a_command_reads_once_and_puts_together_once(
    words: tuple[str, ...], counts: Counts, capsys: pytest.CaptureFixture[str]
) -> None:
    command, *rest = words
    assert main([command, counts.path, *rest]) == 0, capsys.readouterr().err
    assert counts.reads == 1
    assert set(counts.cases.values()) == {1}
    # To check a file is to put together all of it: nothing of it is left out either.
    own = counts.of(read_scenario(LOOPS))
    assert {"", *(repr(f) for f in read_scenario(LOOPS).fix)} <= set(own)


def test_a_window_looks_at_the_other_fixes_afterwards(counts: Counts) -> None:
    project = load_project(counts.path, (FIXES[1],))
    assert (sum(counts.cases.values()), counts.reads) == (2, 1)
    project.case(), project.case(FIXES[1])
    assert sum(counts.cases.values()) == 2
    project.require()
    assert sum(counts.cases.values()) == 1 + len(FIXES)
    assert (set(counts.cases.values()), counts.reads) == ({1}, 1)


def test_a_fix_that_is_added_is_known_again_wherever_it_stands(counts: Counts) -> None:
    project = Project(between())
    fix = read_scenario(LOOPS).fix[0].model_copy(update={"jumper": (), "feeder": ()})
    counts.cases.clear()
    other = fix.model_copy(update={"name": "another"})
    alone = project.with_fixes([fix]).case(fix.name)
    assert project.with_fixes([other, fix]).case(fix.name) is alone
    assert project.with_fixes([other, fix]).cases()[1:] != (alone,)
    assert sum(counts.cases.values()) == 3
    assert set(counts.cases.values()) == {1}
    assert project.scenario.fix_names == ()


def test_a_problem_of_an_added_fix_names_its_place() -> None:
    bad = read_scenario(LOOPS).fix[0].model_copy(update={"solder": ("nowhere",)})
    project = Project(between())
    for before in ((), (bad.model_copy(update={"name": "first"}),)):
        made = project.with_fixes([*before, bad])
        assert made.case_or_none(bad.name) is None
        places = {p.where for p in made.problems_of(bad.name)}
        assert any(f"fix[{len(before)}].solder[0]" in where for where in places)
