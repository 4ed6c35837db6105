"""Read and check a scenario file: everything that is wrong with it, at once."""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterable, Sequence
from dataclasses import replace
from pathlib import Path
from typing import Any

from pydantic import ValidationError

from sim.layout.assemble import survey
from sim.layout.piece_maker import PieceMaker
from sim.layout.traffic import Case
from sim.scenario.document import Scenario
from sim.scenario.gather import gather
from sim.scenario.load import frozen, load_text, parse_toml
from sim.scenario.problems import Problem, ScenarioError, fix_prefix, shown
from sim.scenario.refusals import ERRORS_AT_MOST, Mended, mend, problems_of, unknown_key
from sim.scenario.refusals import KeyPath as Place

#: What else is wrong with a case.
Judge = Callable[[Case], list[Problem]]
#: More problems than this are not listed: nobody reads them.
PROBLEMS_AT_MOST = 200


def read_scenario(
    path: str | Path,
    fixes: Collection[str] | None = None,
    folders: Sequence[str | Path] = (),
) -> Scenario:
    """The scenario in a TOML file, with the files that it names.

    These lie in its folder or below, or in one of ``folders``.

    Raises :class:`ScenarioError` with every error found, in the file and in each
    of its fixes.  Warnings do not stop it; :func:`check_scenario` lists them.
    With ``fixes`` only these are put together: for whoever wants to show something
    first and reads the file again, whole, at once.
    """
    scenario, problems = _read(Path(path), fixes=fixes, folders=folders)
    errors = [problem for problem in problems if problem.severity == "error"]
    if scenario is None or errors:
        raise ScenarioError(errors)
    return scenario


def check_scenario(
    path: str | Path, judge: Judge | None = None, folders: Sequence[str | Path] = ()
) -> list[Problem]:
    """Every error and warning of a scenario file, in the order of checking.

    ``judge`` adds what it finds in the layout as built, where there are no errors.
    """
    return _read(Path(path), judge, folders=folders)[1]


def scenario_from_text(text: str, folder: str | Path = ".") -> Scenario:
    """The scenario in a TOML text; files that it names are looked for in ``folder``.

    Raises like :func:`read_scenario`.
    """
    scenario, problems = _check(text, Path(folder))
    errors = [problem for problem in problems if problem.severity == "error"]
    if scenario is None or errors:
        raise ScenarioError(errors)
    return scenario


def _read(
    path: Path,
    judge: Judge | None = None,
    fixes: Collection[str] | None = None,
    folders: Sequence[str | Path] = (),
) -> tuple[Scenario | None, list[Problem]]:
    try:
        return _check(load_text(path), path.parent, judge, fixes, folders)
    except ScenarioError as error:
        return None, list(error.problems)


def _check(
    text: str,
    folder: Path,
    judge: Judge | None = None,
    fixes: Collection[str] | None = None,
    folders: Sequence[str | Path] = (),
) -> tuple[Scenario | None, list[Problem]]:
    try:
        gathered = gather(parse_toml(text), text, folder, [Path(f) for f in folders])
    except ScenarioError as error:
        return None, list(error.problems)
    problems = list(gathered.problems)
    scenario, mended, refused = _validated(gathered.data)
    if problems:  # boards that could not be read are not missing
        refused = [p for p in refused if p.where != "module"]
    problems += refused
    if scenario is not None:
        broken = set(mended.broken) | gathered.broken
        if any(problem.where.startswith("piece[") for problem in refused):
            broken.add("")  # a kind that could not be read may be used anywhere
        for problem in _all_fixes(scenario, broken, None if refused else judge, fixes):
            where = mended.in_the_file(problem.where)
            problems.append(replace(problem, where=where))
    if len(problems) > PROBLEMS_AT_MOST:
        more = len(problems) - PROBLEMS_AT_MOST
        least = "" if len(problems) < ERRORS_AT_MOST else "at least "
        problems = problems[:PROBLEMS_AT_MOST]
        problems.append(
            Problem("file", "fewer problems", f"{least}{more} more than are listed")
        )
    if problems:
        problems = gathered.whereabouts.located(problems)
    return scenario, problems


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


def _all_fixes(
    scenario: Scenario,
    broken: set[str],
    judge: Judge | None,
    fixes: Collection[str] | None = None,
) -> list[Problem]:
    """Problems of the scenario as built, then what each fix adds to them."""
    maker = PieceMaker(scenario)
    problems = _duplicates(scenario)
    if any(True for _ in maker.problems):
        broken = broken | {str(table.get("kind")) for table in scenario.piece}
    case, as_built = survey(scenario, None, broken, maker)
    if case is not None and judge is not None:
        as_built += judge(case)
    problems += as_built
    known = {(p.where, p.expected, p.found) for p in as_built}
    for name in dict.fromkeys(scenario.fix_names):
        if fixes is not None and name not in fixes:
            continue
        prefix = fix_prefix(name)
        for problem in survey(scenario, name, broken, maker)[1]:
            where = problem.where.removeprefix(prefix)
            if (where, problem.expected, problem.found) not in known:
                problems.append(problem)
    return problems


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
