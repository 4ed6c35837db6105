"""Which demands cannot be met together when no set meets them all."""

from __future__ import annotations

from itertools import combinations

from sim.seek.model import ALWAYS, DEMANDS, Conflict, Demand
from sim.seek.part import Column, Part, State
from sim.seek.plan import Plan
from sim.seek.solver import Solution, Solved, Solver

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
