"""Read a scenario file: text to tables, and what the file and the schema refuse.

What is wrong with the layout shows only once it is put together; that is asked of
:class:`sim.layout.project.Project`.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

from pydantic import ValidationError

from sim.scenario.document import Scenario
from sim.scenario.load import Lines, frozen, load_text, parse_toml, with_piece_files
from sim.scenario.problems import Problem, ScenarioError, fix_prefix, shown
from sim.scenario.refusals import ERRORS_AT_MOST, Mended, mend, problems_of, unknown_key
from sim.scenario.refusals import KeyPath as Place

#: More problems than this are not listed: nobody reads them.
PROBLEMS_AT_MOST = 200


@dataclass(frozen=True, slots=True)
class Contents:
    """What a file holds, and what its text and the schema refuse.

    ``scenario`` is what is left without the refused entries, or None where that is
    too little.  ``mended`` tells what was put aside; None where the text is no TOML.
    """

    text: str
    scenario: Scenario | None
    problems: tuple[Problem, ...]
    mended: Mended | None = None
    broken: frozenset[str] = frozenset()  #: names of what was put aside; "": of anything
    refused: bool = False  #: whether the schema refuses any of it

    def told(self, more: Iterable[Problem] = ()) -> list[Problem]:
        """All problems as the file has them: ``more`` are those of the layout."""
        mended = self.mended
        if mended is None:
            return list(self.problems)
        problems = list(self.problems)
        problems += (replace(p, where=mended.in_the_file(p.where)) for p in more)
        if len(problems) > PROBLEMS_AT_MOST:
            rest = len(problems) - PROBLEMS_AT_MOST
            least = "" if len(problems) < ERRORS_AT_MOST else "at least "
            problems = problems[:PROBLEMS_AT_MOST]
            problems.append(
                Problem("file", "fewer problems", f"{least}{rest} more than are listed")
            )
        if problems:
            lines = Lines(self.text)
            problems = [replace(p, line=lines.of(p.where)) for p in problems]
        return problems


def read_scenario(path: str | Path) -> Contents:
    """The contents of a TOML file. What cannot be read is told in their problems."""
    file = Path(path)
    try:
        text = load_text(file)
    except ScenarioError as error:
        return Contents("", None, error.problems)
    return read_text(text, file.parent)


def read_text(text: str, folder: str | Path = ".") -> Contents:
    """The same of a TOML text; files that it names are looked for in ``folder``."""
    try:
        raw, problems = with_piece_files(parse_toml(text), Path(folder))
    except ScenarioError as error:
        return Contents(text, None, error.problems)
    scenario, mended, refused = _validated(raw)
    problems += refused
    broken = set(mended.broken)
    if any(problem.where.startswith("piece[") for problem in problems):
        broken.add("")  # a kind that could not be read may be used anywhere
    if scenario is not None:
        twice = _duplicates(scenario)
        problems += (replace(p, where=mended.in_the_file(p.where)) for p in twice)
    return Contents(text, scenario, tuple(problems), mended, frozenset(broken), bool(refused))


def _validated(raw: dict[str, Any]) -> tuple[Scenario | None, Mended, list[Problem]]:
    """The scenario, or what is left of it, and what the schema refuses."""
    try:
        return Scenario.model_validate(frozen(raw)), Mended(raw), []
    except ValidationError as error:
        found = problems_of(error, raw, Scenario)
        more = error.error_count() - ERRORS_AT_MOST
    problems = [replace(p, where=_of_fix(raw, place) + p.where) for place, p in found]
    if more > 0:
        return None, Mended(raw), problems
    mended = _mended(raw, found)
    try:
        return Scenario.model_validate(frozen(mended.raw)), mended, problems
    except ValidationError:  # too little is left to check any further
        return None, mended, problems


def _mended(raw: dict[str, Any], found: Iterable[tuple[Place, Problem]]) -> Mended:
    rest: list[Place] = []
    tidy = frozen(raw)
    tidy = _thawed(tidy)
    for place, problem in found:
        if problem.found.startswith("unknown key"):
            unknown_key(tidy, place)
        else:
            rest.append(place)
    return mend(tidy, rest)


def _thawed(value: Any) -> Any:
    """A copy of ``value`` in lists and tables that can be changed."""
    if isinstance(value, dict):
        return {key: _thawed(item) for key, item in value.items()}
    return [_thawed(item) for item in value] if isinstance(value, (list, tuple)) else value


def _of_fix(raw: dict[str, Any], place: Place) -> str:
    """The prefix of problems that lie in a fix whose name is known."""
    if len(place) < 2 or place[0] != "fix" or not isinstance(place[1], int):
        return ""
    table = raw["fix"][place[1]]
    name = table.get("name") if isinstance(table, dict) else None
    return fix_prefix(name) if isinstance(name, str) and len(name) <= 80 else ""


def _duplicates(scenario: Scenario) -> list[Problem]:
    """Fixes and feeders are looked up by name, so each name may be given once."""
    problems: list[Problem] = []
    named = [(f"fix[{n}].name", "fix", fix.name) for n, fix in enumerate(scenario.fix)]
    named += [(f"feeder[{n}].name", "feeder", f.name) for n, f in enumerate(scenario.feeder)]
    seen: set[tuple[str, str]] = set()
    for where, kind, name in named:
        if (kind, name) in seen:
            problems.append(Problem(where, f"a name that no other {kind} has", shown(name)))
        seen.add((kind, name))
    return problems
