"""Seek: every smallest cure of a layout, as changes, pads and fixes, with its proof."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import islice

from sim.analyses.search.model import (
    DEMANDS,
    Asked,
    Change,
    Found,
    FoundChange,
    FoundSet,
    Option,
    Parts,
    Way,
)
from sim.analyses.search.options import ORDER, Ways, data_of, fix_from, free_name
from sim.analyses.search.parts import homes_of
from sim.analyses.search.solver import Progress, Solution, Solved, Solver, conflicts_of
from sim.analyses.search.verify import crossings_of, violated
from sim.layout.project import Project
from sim.scenario.fixes import FixTable

#: Sets that are worked out to pads and fixes; more are counted.
LISTED_AT_MOST = 40
#: ... of which so many are made into fixes and checked on the whole layout.
FIXED_AT_MOST = 10


def seek(
    project: Project, asked: Asked, fix: str | None = None, progress: Progress | None = None
) -> Found:
    """Search ``project`` as built, or on top of one of its fixes.

    Raises ``ScenarioError`` where the scenario or the fix cannot be built.
    """
    solver = Solver(project, fix, asked)
    demands = tuple(d for d in DEMANDS if d in asked.demands)
    solved = solver.solve(demands, progress=progress)
    conflicts = () if solved.size is not None else conflicts_of(solver, demands)
    plan = solver.plan_for((), demands)
    hopeless = tuple(" and ".join(plan.names_of(n)) + f" on {plan.route_of(n)}"
                     for n in plan.hopeless())  # fmt: skip
    maker = _Maker(solver)
    sets, more = maker.sets(solved)
    return Found(
        scenario=project.scenario.title,
        fix=fix,
        asked=asked,
        sets=sets,
        size=solved.size,
        conflicts=conflicts,
        hopeless=hopeless,
        crossings=crossings_of(solver.case, asked.gangs),
        refused_pads=tuple(maker.refused),
        figures=solved.figures,
        notes=_notes(solver),
        complete=solved.complete,
        more_sets=more,
    )


def _notes(solver: Solver) -> tuple[str, ...]:
    layout = solver.case.layout
    notes = [homes_of(layout).note] if homes_of(layout).note else []
    if not layout.supplies:
        notes.append("the layout has no supply, so nothing on it can be live")
    if len(set(homes_of(layout).supply)) < 2:
        notes.append("there is one supply or none, so there are no loops to keep apart")
    return tuple(note for note in notes if note)


class _Maker:
    """Turns solutions into sets with pads and fixes, each checked on the whole layout."""

    def __init__(self, solver: Solver) -> None:
        self.solver, self.project = solver, solver.project
        self.taken = list(self.project.scenario.fix_names)
        self.refused: dict[tuple[str, str], None] = {}
        self.made: list[FixTable] = []

    def sets(self, solved: Solved) -> tuple[tuple[FoundSet, ...], int]:
        """The sets to list, plainest first, and how many more there are."""
        found: list[FoundSet] = []
        total = sum(solution.count for solution in solved.solutions)
        for solution in solved.solutions:
            self.refused.update(dict.fromkeys(solution.ground.refused))
            for chosen in islice(solution.sets(), LISTED_AT_MOST - len(found)):
                found.append(self._set(solution, chosen, len(found) + 1))
        found.sort(key=lambda s: s.size)
        return tuple(found), total - len(found)

    def _set(self, solution: Solution, chosen: Sequence[Change], number: int) -> FoundSet:
        buses = [bus.name for bus in self.project.scenario.bus]
        ways = Ways(solution.plan, solution.ground, buses)
        changes = [
            FoundChange(ways.words(c), ways.of(c, [o for o in chosen if o is not c]))
            for c in chosen
        ]
        cuts = tuple(cut.name for cut in solution.cuts)
        base = tuple(part for cut in solution.cuts for part in cut.fix)
        size = len(changes) + sum(cut.size for cut in solution.cuts)
        return FoundSet(tuple(changes), cuts, self._fixes(changes, base, number, cuts), size)

    def _fixes(
        self, changes: Sequence[FoundChange], cuts: Parts, number: int, words: Sequence[str]
    ) -> tuple[FixTable, ...]:
        """One fix for each way that is possible, those that hold on the whole layout."""
        fixes: list[FixTable] = []
        for way in ORDER if number <= FIXED_AT_MOST else ():
            picked = [_pick(change, way) for change in changes]
            if not all(picked):
                continue
            if changes and not any(option and option.way == way for option in picked):
                continue
            parts = tuple(part for option in picked if option for part in option.fix)
            name = free_name(f"found {number} {way if changes else 'cuts'}", self.taken)
            note = "; ".join([*words, *(change.words for change in changes)])
            fix = fix_from(name, note[:2000], (*cuts, *parts), self.solver.base)
            if self._is_new(fix) and self._holds(fix):
                self.taken.append(name)
                self.made.append(fix)
                fixes.append(fix)
            if not changes:
                break
        return tuple(fixes)

    def _is_new(self, fix: FixTable) -> bool:
        """Whether no fix made before does the same."""

        def what(one: FixTable) -> object:
            return {k: v for k, v in data_of(one).items() if k not in ("name", "note")}

        return bool(what(fix)) and all(what(fix) != what(other) for other in self.made)

    def _holds(self, fix: FixTable) -> bool:
        """Assemble it and judge it by the tracer, on the whole layout."""
        case = self.project.with_fixes([fix]).case_or_none(fix.name)
        return case is not None and not violated(case, self.solver.asked)


def _pick(change: FoundChange, way: Way) -> Option | None:
    """The option of that way, else the plainest other."""
    for option in change.options:
        if option.way == way:
            return option
    return change.options[0] if change.options else None
