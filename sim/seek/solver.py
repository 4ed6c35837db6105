"""The search over a whole layout: cuts outside, wires inside, part by part."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import islice, product
from math import comb

from sim.layout.assemble import assemble
from sim.layout.traffic import Case
from sim.power.settings import timetable_settings
from sim.scenario.document import Scenario
from sim.seek.changes import Ground, changes_of, survey_ground
from sim.seek.cuts import choices, choices_at_most, cuts_of
from sim.seek.fixes import fix_from, with_fixes
from sim.seek.model import Asked, Change, Cut, Demand, Figures
from sim.seek.plan import Plan
from sim.seek.search import Chosen, PartSearch, TooLargeError

_Sign = tuple[tuple[int, ...], tuple[int, ...]]
Progress = Callable[[int, int], None]
_NO_LIMIT = 10**6


@dataclass(slots=True)
class Solution:
    """For one choice of cuts, the good sets of each part: any one of each is a cure."""

    cuts: tuple[Cut, ...]
    plan: Plan
    ground: Ground
    parts: list[list[tuple[Change, ...]]]

    @property
    def count(self) -> int:
        """How many sets there are."""
        count = 1
        for sets in self.parts:
            count *= len(sets)
        return count

    def sets(self) -> Iterator[tuple[Change, ...]]:
        """Every set, one choice from each part."""
        for picked in product(*self.parts):
            yield tuple(change for changes in picked for change in changes)


@dataclass(slots=True)
class Solved:
    """All smallest solutions for one list of demands."""

    solutions: list[Solution]
    size: int | None
    figures: Figures
    complete: bool


class Solver:
    """One scenario with one fix, to be searched under one or more lists of demands."""

    def __init__(self, scenario: Scenario, fix: str | None, asked: Asked) -> None:
        self.scenario, self.asked = scenario, asked
        self.base = None if fix is None else scenario.fix_named(fix)
        self.case = assemble(scenario, fix)
        self.cuts = cuts_of(self.case.layout, asked)
        self._altered: dict[tuple[str, ...], Case] = {}

    def solve(
        self,
        demands: tuple[Demand, ...],
        first: bool = False,
        progress: Progress | None = None,
    ) -> Solved:
        """Every smallest solution; with ``first`` any one of any size will do."""
        figures = Figures()
        solved = Solved([], None, figures, True)
        chosen, left_out = self._choices_of_cuts()
        least, seen = 0, _Seen()
        for number, cuts in enumerate(chosen):
            if progress is not None:
                progress(number, len(chosen) + len(left_out))
            limit = self._limit(solved, cuts)
            figures.cut_sets += 1
            if limit < least:
                figures.prune("needs more changes than allowed")
                continue
            plan = self.plan_for(cuts, demands)
            if seen.is_idle(plan, cuts):
                figures.prune("cuts that part nothing more")
                continue
            try:
                found, bound = self._with_cuts(cuts, plan, limit, figures)
            except TooLargeError:
                solved.complete = False
                continue
            least = max(least, bound) if not cuts else least
            if found is not None:
                seen.cured()
                self._keep(solved, found)
                if first:
                    break
        # More cuts than the smallest cure has changes cannot be a smaller one.
        if any(self._limit(solved, cuts) >= least for cuts in left_out):
            solved.complete = False
        return solved

    def _choices_of_cuts(self) -> tuple[list[tuple[Cut, ...]], list[tuple[Cut, ...]]]:
        """Those to be searched; and where there are more, the next of them, the smallest."""
        most = choices_at_most(self.case.layout)
        chosen = list(islice(choices(self.cuts, self.asked.most_cuts), most + 1))
        return chosen[:most], chosen[most:]

    def _limit(self, solved: Solved, cuts: tuple[Cut, ...]) -> int:
        """Changes that may still be made in all. ``asked.most`` bounds each part alone."""
        if solved.size is None or self.asked.every_size:
            return _NO_LIMIT
        return solved.size - _size(cuts)

    def _keep(self, solved: Solved, found: Solution) -> None:
        wires = sum(min(len(s) for s in sets) for sets in found.parts)
        size = wires + _size(found.cuts)
        if solved.size is None or size < solved.size:
            solved.size = size
            if not self.asked.every_size:
                solved.solutions.clear()
        if self.asked.every_size or size == solved.size:
            solved.solutions.append(found)

    def plan_for(self, cuts: tuple[Cut, ...], demands: tuple[Demand, ...]) -> Plan:
        """The case with these cuts made, contracted for these demands."""
        case = self._case(cuts)
        index = {e.id: i for i, e in enumerate(case.layout.elements)}
        out = [index[e] for cut in cuts for e in cut.elements if e in index]
        return Plan(case, replace(self.asked, demands=demands), out)

    def _case(self, cuts: tuple[Cut, ...]) -> Case:
        parts = tuple(part for cut in cuts if cut.alters for part in cut.fix)
        if not parts:
            return self.case
        key = tuple(cut.name for cut in cuts if cut.alters)
        if key not in self._altered:
            fix = fix_from("altered for the search", "", parts, self.base)
            self._altered[key] = assemble(with_fixes(self.scenario, [fix]), fix.name)
        return self._altered[key]

    def _with_cuts(
        self, cuts: tuple[Cut, ...], plan: Plan, limit: int, figures: Figures
    ) -> tuple[Solution | None, int]:
        """The smallest sets of wires with these cuts, and how many wires it takes at least."""
        if "live" in plan.asked.demands and plan.hopeless():
            figures.prune("leaves a place that no wire can cure")
            return None, 0
        ground = survey_ground(plan)
        changes = changes_of(plan, ground)
        good = plan.harmless(changes)
        figures.changes += len(changes)
        figures.refused += len(changes) - len(good)
        figures.possible += sum(comb(len(changes), k) for k in range(self.asked.most + 1))
        searches = [PartSearch(part, figures) for part in plan.parts(good)]
        todo = [search for search in searches if not search.needs_nothing()]
        bound = _bound(plan, todo)
        if any(search.is_hopeless() for search in todo):
            figures.prune("shorts or joins loops before anything is added")
            return None, bound
        if bound > limit:
            figures.prune("needs more changes than allowed")
            return None, bound
        sets = self._parts(todo, limit)
        if sets is None:
            return None, bound
        made = [
            [tuple(s.part.changes[n].change for n in chosen) for chosen in found]
            for s, found in zip(todo, sets, strict=True)
        ]
        return Solution(cuts, plan, ground, made), bound

    def _parts(self, todo: Sequence[PartSearch], limit: int) -> list[list[Chosen]] | None:
        """Good sets of each part, None where the limit does not suffice for all."""
        left = limit
        smallest: list[list[Chosen]] = []
        for search in todo:
            found = search.smallest(min(left, self.asked.most))
            if not found:
                return None
            left -= len(found[0])
            smallest.append(found)
        if not self.asked.every_size:
            return smallest
        return [search.minimal(self.asked.most) for search in todo]


def _size(cuts: tuple[Cut, ...]) -> int:
    return sum(cut.size for cut in cuts)


class _Seen:
    """Contracted layouts met before, with the size of their cuts and whether these cured."""

    def __init__(self) -> None:
        self._met: dict[_Sign, tuple[int, bool]] = {}
        self._last: _Sign = (), ()

    def is_idle(self, plan: Plan, cuts: tuple[Cut, ...]) -> bool:
        """True where smaller cuts part as much, or equal ones that cured nothing."""
        self._last = tuple(plan.clusters), tuple(plan.free)
        size = _size(cuts)
        met = self._met.get(self._last)
        if met is None:
            self._met[self._last] = (size, False)
            return False
        return met != (size, True)

    def cured(self) -> None:
        """The cuts just asked about lead to a cure."""
        self._met[self._last] = (self._met[self._last][0], True)


def _bound(plan: Plan, todo: Sequence[PartSearch]) -> int:
    """Wires that are needed at least, whatever is cut: nets without a pole in one state."""
    together = plan.live_settings or timetable_settings(plan.case)
    counts = [sum(search.floating_in(setting) for search in todo) for setting in together]
    alone = [search.floating_at_most() for search in todo]
    return max([*counts, *alone], default=0)
