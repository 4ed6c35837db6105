"""A scenario and every case of it, each put together once, with its problems.

A file is read once; the layout as built and with each fix is put together when it is
first asked for and kept.  Whatever works on a scenario is handed a :class:`Project`.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterable
from dataclasses import dataclass
from pathlib import Path

from sim.layout.assemble import survey
from sim.layout.piece_maker import PieceMaker
from sim.layout.traffic import Case
from sim.scenario.document import Scenario
from sim.scenario.fixes import AS_BUILT, FixTable
from sim.scenario.problems import Problem, ScenarioError, fix_prefix
from sim.scenario.read import Contents, read_scenario, read_text

#: What else is wrong with a case.
Judge = Callable[[Case], list[Problem]]


@dataclass(frozen=True, slots=True)
class _Assembled:
    """What putting a case together came to. ``number`` is its fix's place in the file."""

    number: int
    case: Case | None
    problems: tuple[Problem, ...]


class Project:
    """A scenario, with its cases as they are asked for.

    ``contents`` is what the scenario was read from, if it was: problems then tell
    the place in the file.
    """

    def __init__(self, scenario: Scenario, contents: Contents | None = None) -> None:
        self.scenario, self._contents = scenario, contents
        self._maker = PieceMaker(scenario)
        broken = set() if contents is None else set(contents.broken)
        if self._maker.problems:
            broken |= {str(table.get("kind")) for table in scenario.piece}
        self._broken = frozenset(broken)
        #: By the fix as it reads, so that one is known again wherever it stands.
        self._known: dict[str, _Assembled] = {}

    def case(self, fix: str | None = None) -> Case:
        """The case as built (``None`` or ``"as built"``) or with one fix.

        Raises :class:`ScenarioError` with every error found.
        """
        found = self._assembled(fix)
        if found.case is None:
            raise ScenarioError(p for p in self.problems_of(fix) if p.severity == "error")
        return found.case

    def case_or_none(self, fix: str | None = None) -> Case | None:
        """The same, and None where it cannot be put together."""
        return self._assembled(fix).case

    def cases(self) -> tuple[Case, ...]:
        """As built, then every fix in the order of the file. Raises like :meth:`case`."""
        return (self.case(), *(self.case(fix.name) for fix in self.scenario.fix))

    def problems_of(self, fix: str | None = None) -> tuple[Problem, ...]:
        """Errors and warnings of one case, those that it has as built among them."""
        return self._assembled(fix, here=True).problems

    def with_fixes(self, fixes: Iterable[FixTable]) -> Project:
        """The project with these fixes added to its own: what is known stays known.

        A fix that was put together under this project or one made from it is not put
        together again.
        """
        fix = (*self.scenario.fix, *fixes)
        made = Project.__new__(Project)
        made.scenario, made._contents = self.scenario.model_copy(update={"fix": fix}), None
        made._maker, made._broken, made._known = self._maker, self._broken, self._known
        return made

    def check(
        self, judge: Judge | None = None, fixes: Collection[str] | None = None
    ) -> list[Problem]:
        """Every error and warning, of the layout as built and what each fix adds.

        ``judge`` adds what it finds in the layout as built, where there are no errors.
        With ``fixes`` only these are put together.
        """
        contents = self._contents
        judge = None if contents is not None and contents.refused else judge
        found = self._problems(judge, fixes)
        return found if contents is None else contents.told(found)

    def require(self, fixes: Collection[str] | None = None) -> None:
        """Raise :class:`ScenarioError` with all errors, if there are any.

        With ``fixes`` no other fix is looked at: for whoever wants to show something
        first and asks for the rest at once.
        """
        errors = [p for p in self.check(fixes=fixes) if p.severity == "error"]
        if errors:
            raise ScenarioError(errors)

    def _problems(self, judge: Judge | None, fixes: Collection[str] | None) -> list[Problem]:
        """Problems of the scenario as built, then what each fix adds to them."""
        built = self._assembled(None)
        problems = list(built.problems)
        if built.case is not None and judge is not None:
            problems += judge(built.case)
        known = {(p.where, p.expected, p.found) for p in problems}
        for name in dict.fromkeys(self.scenario.fix_names):
            if fixes is not None and name not in fixes:
                continue
            prefix = fix_prefix(name)
            for problem in self.problems_of(name):
                where = problem.where.removeprefix(prefix)
                if (where, problem.expected, problem.found) not in known:
                    problems.append(problem)
        return problems

    def _assembled(self, fix: str | None, here: bool = False) -> _Assembled:
        """One case. ``here``: its problems have to name the fix's place in this scenario."""
        chosen = None if fix is None else self.scenario.fix_named(fix)
        if chosen is None and fix not in (None, AS_BUILT):
            return self._put_together(fix, -1)  # there is no such fix, which is told
        number = -1 if chosen is None else self.scenario.fix.index(chosen)
        key = "" if chosen is None else repr(chosen)
        found = self._known.get(key)
        if found is None or (found.number != number and (here or found.case is None)):
            found = self._known[key] = self._put_together(fix, number)
        return found

    def _put_together(self, fix: str | None, number: int) -> _Assembled:
        case, problems = survey(self.scenario, fix, self._broken, self._maker)
        return _Assembled(number, case, tuple(problems))


def load_project(path: str | Path, fixes: Collection[str] | None = None) -> Project:
    """The project of a TOML file.

    Raises :class:`ScenarioError` with every error found, in the file and in each
    of its fixes.  Warnings do not stop it; :func:`check_file` lists them.
    With ``fixes`` only these are put together: :meth:`Project.require` asks for the rest.
    """
    return _usable(read_scenario(path), fixes)


def project_from_text(text: str, folder: str | Path = ".") -> Project:
    """The project of a TOML text; files that it names are looked for in ``folder``.

    Raises like :func:`load_project`.
    """
    return _usable(read_text(text, folder))


def check_file(
    path: str | Path, judge: Judge | None = None
) -> tuple[Project | None, list[Problem]]:
    """Every error and warning of a scenario file, in the order of checking.

    With them the project, None where there is too little to put together.
    ``judge`` adds what it finds in the layout as built, where there are no errors.
    """
    contents = read_scenario(path)
    if contents.scenario is None:
        return None, contents.told()
    project = Project(contents.scenario, contents)
    return project, project.check(judge)


def _usable(contents: Contents, fixes: Collection[str] | None = None) -> Project:
    if contents.scenario is None:
        raise ScenarioError(p for p in contents.told() if p.severity == "error")
    project = Project(contents.scenario, contents)
    project.require(fixes)
    return project
