"""The search over a whole layout, part by part, and demands that cannot be met together.

Which demands cannot be met together when no set meets them all.

The search over a whole layout: cuts outside, wires inside, part by part.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import combinations, islice, product
from math import comb

from sim.analyses.search.changes import (
    Ground,
    changes_of,
    choices,
    choices_at_most,
    cuts_of,
    survey_ground,
)
from sim.analyses.search.model import (
    ALWAYS,
    DEMANDS,
    Asked,
    Change,
    Conflict,
    Cut,
    Demand,
    Figures,
)
from sim.analyses.search.options import fix_from
from sim.analyses.search.part_search import Chosen, PartSearch, TooLargeError
from sim.analyses.search.parts import Column, Part, State
from sim.analyses.search.tables import Plan
from sim.layout.project import Project
from sim.layout.traffic import Case
from sim.power.settings import timetable_settings

#: What is told of one failing demand at most.
_TOLD = 2


def conflicts_of(solver: Solver, demands: tuple[Demand, ...]) -> tuple[Conflict, ...]:
    """Every smallest list of demands that no allowed set meets.

    Taking one demand away from such a list leaves demands that can be met; what
    then happens to the one taken away is the reason.  Where the three demands
    that are always made can be met, the lists are of the others, and nothing may
    short or join loops throughout.
    """
    firm = tuple(d for d in demands if d in ("no short", "apart"))
    always = tuple(d for d in demands if d in ALWAYS)
    tried = _Tried(solver, firm)
    if tried.size(always) is None:
        tried = _Tried(solver, ())
        choice = always
    else:
        choice = tuple(d for d in demands if d not in firm)
        for demand in demands:
            if demand not in ALWAYS:
                tried.size(tuple(d for d in choice if d != demand))
    minimal: list[tuple[Demand, ...]] = []
    for count in range(1, len(choice) + 1):
        for chosen in combinations(choice, count):
            if any(set(found) <= set(chosen) for found in minimal):
                continue
            if tried.size(chosen) is None:
                minimal.append(chosen)
    return tuple(_conflict(tried, chosen) for chosen in minimal)


class _Tried:
    """Lists of demands tried so far. ``firm`` ones are asked with every list."""

    def __init__(self, solver: Solver, firm: tuple[Demand, ...]) -> None:
        self.solver, self.firm = solver, firm
        self._known: dict[frozenset[Demand], Solved] = {}

    def size(self, demands: tuple[Demand, ...]) -> int | None:
        """Size of some set that meets ``demands``; None where none does."""
        return self.solved(demands).size

    def solved(self, demands: tuple[Demand, ...]) -> Solved:
        """A solution of these demands, or of more, if there is any."""
        wanted = frozenset(demands) | frozenset(self.firm)
        for known, solved in self._known.items():
            if wanted <= known and solved.size is not None:
                return solved
        asked = tuple(d for d in DEMANDS if d in wanted)
        self._known[wanted] = self.solver.solve(asked, first=True)
        return self._known[wanted]


def _conflict(tried: _Tried, demands: tuple[Demand, ...]) -> Conflict:
    without: list[tuple[Demand, int]] = []
    why: list[str] = []
    every = tuple(d for d in DEMANDS if d in (*demands, *tried.firm))
    for demand in demands if len(demands) > 1 else ():
        solved = tried.solved(tuple(d for d in demands if d != demand))
        if solved.size is not None:
            without.append((demand, solved.size))
            why += _reasons(tried.solver, solved.solutions[0], every, demand)
    if not without:
        why += _as_it_is(tried.solver, every)
    return Conflict(demands, tuple(without), tuple(dict.fromkeys(why)))


def _reasons(
    solver: Solver, solution: Solution, demands: tuple[Demand, ...], left_out: Demand
) -> list[str]:
    """What goes wrong with ``left_out`` when only the other demands are met."""
    plan = solver.plan_for(solution.cuts, demands)
    chosen = next(solution.sets())
    found = []
    for part in plan.parts(chosen):
        state = part.start
        for change in part.changes:
            state = part.add(state, change)
        found += _failings(plan, part, state, left_out)
    return found[:_TOLD]


def _as_it_is(solver: Solver, demands: tuple[Demand, ...]) -> list[str]:
    """What goes wrong before anything is added."""
    plan = solver.plan_for((), demands)
    found = []
    for need in plan.hopeless() if "live" in demands else ():
        rails = " and ".join(plan.names_of(need))
        found.append(f"{plan.route_of(need)}: {rails} stay dead whatever is wired")
    for part in plan.parts(()):
        for demand in demands:
            found += _failings(plan, part, part.start, demand)
    return found[:_TOLD]


def _failings(plan: Plan, part: Part, state: State, demand: Demand) -> list[str]:
    look = part.look(state)
    found = []
    if demand == "apart" and state.mixed:
        found.append("rails of two districts become one net, with all feeders lifted")
    for k, column in enumerate(part.columns):
        if part.demand[k] != demand and not (demand == "no short" and part.no_short[k]):
            continue
        at = in_words(plan, column)
        if part.no_short[k] and part.shorted(state)[k]:
            found.append(f"{at}: a supply is shorted")
        elif demand != "no short":
            dead = [row for row in range(len(part.left)) if look.unmet[row, k]]
            if dead:
                left, right = part.pairs[dead[0]]
                need = next(n for n in plan.needs if (n.left, n.right) == (left, right))
                names = " and ".join(plan.names_of(need))
                found.append(f"{at}: the place between {names} is dead")
    return found


def in_words(plan: Plan, column: Column) -> str:
    """A state for people: levers that are not at rest, and what has failed."""
    layout = plan.layout
    moved = [
        f"{layout.levers[lever].id} {layout.levers[lever].positions[position]}"
        for lever, position in column.positions
        if position != layout.levers[lever].rest
    ]
    words = ", ".join(moved) if moved else "all levers at rest"
    if column.astray >= 0:
        words += f" ({layout.levers[column.astray].id} not following its gang)"
    if column.open >= 0:
        words += f", contact {layout.elements[column.open].id} open"
    if column.spare is not None:
        words += ", the added changeover open"
    return words


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
    """One project with one fix, to be searched under one or more lists of demands."""

    def __init__(self, project: Project, fix: str | None, asked: Asked) -> None:
        self.project, self.asked = project, asked
        self.base = None if fix is None else project.scenario.fix_named(fix)
        self.case = project.case(fix)
        self.cuts = cuts_of(self.case.layout, asked)

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
        fix = fix_from("altered for the search", "", parts, self.base)
        return self.project.with_fixes([fix]).case(fix.name)

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
