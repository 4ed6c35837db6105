"""Gapwright's model: pieces, layouts, power, motion and judgement. Draws nothing.

From Python::

    import sim

    project = sim.load("scenarios/club-loops.toml")
    result = project.compare(runs=12, seed=1)
    print(result)                   # its first lines
    result.rows()                   # flat dicts, for any data frame
    project.case("two jumpers").states().to_dict()

A verb does what the command of that name does, and its ``to_dict()`` is the command's
``--json``.  Nothing is loaded before it is needed.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import TYPE_CHECKING, Any, Literal

if TYPE_CHECKING:
    from os import PathLike

    from sim.analyses.odds.odds import Odds
    from sim.analyses.search.model import Found
    from sim.analyses.survey.harm import Survey
    from sim.circuit.voltage_drop import VoltsReport
    from sim.judge.comparison import Comparison
    from sim.layout import project as layouts
    from sim.pages.answer import Answer, Question
    from sim.power.chart import Chart
    from sim.records.model import Record
    from sim.scenario.document import Scenario
    from sim.scenario.problems import Problem, ScenarioError

__all__ = ["Answer", "Case", "Problem", "Project", "ScenarioError", "load"]

Levers = Literal["gangs", "each"]
Progress = Callable[[int, int], None]  #: called with (done, in all)

DEFAULT_SEED, DEFAULT_RUNS = 1, 6


def load(path: str | PathLike[str]) -> Project:
    """The project of a scenario file (TOML).

    Raises :class:`ScenarioError` with all ``problems`` of the file and its fixes.
    """
    from sim.layout.project import load_project

    return Project(load_project(str(path)), str(path))


class Case:
    """A layout as built or with one fix, and what can be asked of it."""

    def __init__(self, project: layouts.Project, file: str, fix: str | None = None) -> None:
        self._project, self._file, self._fix = project, file, fix
        self._case = project.case(fix)

    @property
    def fix(self) -> str | None:
        """Name of its fix; None as built."""
        return self._case.fix

    def states(self, levers: Levers = "gangs") -> Answer[Chart]:
        """Which rails are fed, dead or shorted in every setting. Rows: routes by setting."""
        from sim.pages.answer import Answer, rows_under
        from sim.pages.documents import states_document
        from sim.pages.states import print_states
        from sim.power.chart import chart

        case = self._case
        found = chart(case, _each(levers))
        return Answer(
            found,
            self._question("states", levers=levers),
            case.scenario,
            lambda page, again: print_states(page, found, again),
            lambda asked: states_document(asked, found, case.assumptions),
            rows_under("settings", "routes:route"),
        )

    def volts(self) -> Answer[VoltsReport]:
        """What is left of the supply at each place. Rows: sections by setting."""
        from sim.circuit.voltage_drop import volts_report
        from sim.pages.answer import Answer, rows_under
        from sim.pages.volts import print_volts, volts_document

        case = self._case
        found = volts_report(case)
        return Answer(
            found,
            self._question("volts"),
            case.scenario,
            lambda page, again: print_volts(page, found, case.assumptions, again),
            lambda asked: volts_document(asked, found, case.assumptions),
            rows_under("settings", "sections:section"),
        )

    def run(self, seed: int = DEFAULT_SEED) -> Answer[Record]:
        """The timetable once. Rows: everything that happened, as ``--records`` has it."""
        from dataclasses import asdict

        from sim.pages.answer import Answer
        from sim.pages.documents import run_document
        from sim.pages.run import print_run
        from sim.pages.words import changes_in_words
        from sim.records.table import rows_of
        from sim.run.run import run

        case = self._case
        record, changes = run(case, seed), changes_in_words(case.layout)
        return Answer(
            record,
            self._question("run", seed=seed),
            case.scenario,
            lambda page, again: print_run(page, record, case.assumptions, again, changes),
            lambda asked: run_document(asked, record, case.assumptions),
            lambda _: map(asdict, rows_of(record)),
        )

    def faults(
        self,
        depth: Literal[1, 2] = 1,
        levers: Levers = "gangs",
        progress: Progress | None = None,
    ) -> Answer[Survey]:
        """What every fault does, one (or two) at a time. Rows: the single faults."""
        from sim.analyses.survey.harm import changes
        from sim.analyses.survey.survey import survey
        from sim.analyses.survey.tired import tired_changes, tired_survey
        from sim.pages.answer import Answer, rows_under
        from sim.pages.faults import faults_document, print_faults

        _one_of("depth", depth, (1, 2))
        case, project, each = self._case, self._project, _each(levers)
        found = survey(case, depth, each, progress)
        ohm = project.scenario.assumptions.tired_ohm
        tired = tired_survey(case, ohm, each)
        if case.fix is None:
            cases = project.cases()[1:]
            fixes = [changes(found, survey(c, 1, each)) for c in cases]
            starts = [tired_changes(tired, tired_survey(c, ohm, each)) for c in cases]
        else:
            built = project.case()
            fixes = [changes(survey(built, 1, each), found)]
            starts = [tired_changes(tired_survey(built, ohm, each), tired)]
        return Answer(
            found,
            self._question("faults", depth=depth, levers=levers),
            case.scenario,
            lambda page, again: print_faults(page, found, fixes, tired, starts, again),
            lambda asked: faults_document(asked, found, fixes, tired, starts),
            rows_under("single"),
        )

    def odds(self, levers: Levers = "gangs") -> Answer[Odds]:
        """Exact odds of every route, beside the other cases'. Rows: routes by setting."""
        from sim.analyses.odds.odds import exact_odds
        from sim.pages.answer import Answer, rows_under
        from sim.pages.odds import odds_document, print_odds

        case, each = self._case, _each(levers)
        found = exact_odds(case, each)
        cases = self._project.cases()
        others = [exact_odds(other, each) for other in cases if other.fix != case.fix]
        return Answer(
            found,
            self._question("odds", levers=levers),
            case.scenario,
            lambda page, again: print_odds(page, found, others, again),
            lambda asked: odds_document(asked, found, others),
            rows_under("settings", "routes"),
        )

    def seek(
        self,
        *,
        survive: Literal["contact", "lever", "both"] | None = None,
        most: int = 4,
        cuts: int = 2,
        use: str | Sequence[str] | None = None,
        at: str | Sequence[str] | None = None,
        settings: Literal["timetable", "gangs"] = "timetable",
        sizes: Literal["smallest", "every"] = "smallest",
        progress: Progress | None = None,
    ) -> Answer[Found]:
        """Every smallest set of changes that cures the layout. Rows: the sets.

        ``use`` and ``at`` are lists, or texts with commas.  Raises ``AskedError``, a
        ``ValueError``, for what cannot be sought.
        """
        from sim.analyses.search.changes import asked_for
        from sim.analyses.search.seek import seek
        from sim.pages.answer import Answer, rows_under
        from sim.pages.seek import print_seek, seek_document

        case = self._case
        words: dict[str, Any] = {
            "survive": survive,
            "most": most,
            "cuts": cuts,
            "use": _listed(use),
            "at": _listed(at),
            "settings": settings,
            "sizes": sizes,
        }
        found = seek(self._project, asked_for(case.layout, **words), case.fix, progress)
        rests = tuple(a for a in case.assumptions if "pad" in a.value or "drill" in a.value)
        return Answer(
            found,
            self._question("seek", **words),
            case.scenario,
            lambda page, again: print_seek(page, found, rests, again),
            lambda asked: seek_document(asked, found, rests),
            rows_under("sets"),
        )

    def _question(self, command: str, **options: object) -> Question:
        from sim.pages.answer import Question

        return Question(command, self._file, (("fix", self._fix), *options.items()))


class Project(Case):
    """A scenario: its layout as built, and with each of its fixes. Made by :func:`load`."""

    @property
    def scenario(self) -> Scenario:
        """The tables of the file."""
        return self._project.scenario

    @property
    def title(self) -> str:
        """Title of the scenario."""
        return self.scenario.title

    @property
    def fixes(self) -> tuple[str, ...]:
        """Names of the fixes, in the order of the file."""
        return self.scenario.fix_names

    def case(self, fix: str | None = None) -> Case:
        """As built (``None``) or with one fix. Raises ``ScenarioError`` for no fix of it."""
        return Case(self._project, self._file, fix)

    def compare(
        self,
        runs: int = DEFAULT_RUNS,
        seed: int = DEFAULT_SEED,
        levers: Levers = "gangs",
        workers: int | None = None,
        progress: Progress | None = None,
    ) -> Answer[Comparison]:
        """As built and every fix over ``runs`` runs on the same luck. Rows: the cases.

        ``workers`` processes share the work, one for each processor if not given.
        """
        from sim.judge.compare import compare
        from sim.judge.replicate import usable_processors
        from sim.pages.answer import Answer, Question, rows_under
        from sim.pages.compare import compare_document, print_compare

        if runs < 1:
            raise ValueError(f"runs: expected 1 or more, got {runs}")
        many = workers or usable_processors()
        found = compare(self._project, runs, seed, many, _each(levers), progress)
        options = ("runs", runs), ("seed", seed), ("levers", levers)
        return Answer(
            found,
            Question("compare", self._file, options),
            self.title,
            lambda page, again: print_compare(page, found, again),
            lambda asked: compare_document(asked, found),
            rows_under("cases"),
        )


def _each(levers: Levers) -> bool:
    _one_of("levers", levers, ("gangs", "each"))
    return levers == "each"


def _one_of(name: str, value: object, known: Sequence[object]) -> None:
    if value not in known:
        raise ValueError(f"{name}: expected {' or '.join(map(repr, known))}, got {value!r}")


def _listed(words: str | Sequence[str] | None) -> str | None:
    return words if words is None or isinstance(words, str) else ",".join(words)


def __getattr__(name: str) -> Any:
    """Names of other rooms, loaded when they are first asked for."""
    if name in ("ScenarioError", "Problem"):
        from sim.scenario import problems as module
    elif name == "Answer":
        from sim.pages import answer as module  # type: ignore[no-redef]
    else:
        raise AttributeError(f"module 'sim' has no attribute {name!r}")
    return getattr(module, name)
