"""Orders that no train can carry out, and the rounds of the track that decide it.

Which places of a directed graph lie on a round that leads back to them.

Written out plainly: every command assembles a layout, and to load a library of graphs
for two small questions took a fifth of the time in which a window opens.

Orders that no train can carry out, whatever the levers do: what is certain, no more.

A train's place is known only roughly once it has moved (it may run on before it
stands), so it is taken to be anywhere that it could have got to, and an order is
only complained of when it cannot be carried out from any of these places.
"""

from __future__ import annotations

from collections.abc import Hashable, Iterable, Mapping
from graphlib import CycleError, TopologicalSorter
from typing import TypeVar

from sim.layout.model import Layout
from sim.layout.traffic import Case, Order, Train
from sim.scenario.problems import Problem, shown

Place = TypeVar("Place", bound=Hashable)


def on_rounds(after: Mapping[Place, Iterable[Place]]) -> set[Place]:
    """The places from which one comes back to the same place, in time linear in the graph.

    ``after`` has every place as a key and what it leads on to.  (Strongly connected
    parts by two searches: places in the order in which they were done with, then back
    along the graph from the last; Cormen et al., Introduction to Algorithms, from memory.)
    """
    before: dict[Place, list[Place]] = {place: [] for place in after}
    for place, others in after.items():
        for other in others:
            before[other].append(place)
    found: set[Place] = set()
    parted: set[Place] = set()
    for start in reversed(_done_with(after)):
        if start in parted:
            continue
        part, todo = {start}, [start]
        while todo:
            for other in before[todo.pop()]:
                if other not in parted and other not in part:
                    part.add(other)
                    todo.append(other)
        parted |= part
        if len(part) > 1 or start in before[start]:
            found |= part
    return found


def _done_with(after: Mapping[Place, Iterable[Place]]) -> list[Place]:
    """Every place, each when all that it leads on to has been seen."""
    order: list[Place] = []
    seen: set[Place] = set()
    for start in after:
        if start in seen:
            continue
        seen.add(start)
        stack = [(start, iter(after[start]))]
        while stack:
            place, rest = stack[-1]
            other = next((x for x in rest if x not in seen), None)
            if other is None:
                order.append(place)
                stack.pop()
            else:
                seen.add(other)
                stack.append((other, iter(after[other])))
    return order


def longest_mm(before: Mapping[int, Mapping[int, float]]) -> float | None:
    """Length of the longest way, mm; None where some way leads back on itself.

    ``before`` gives for a place the places that lead on to it and how far each is.
    """
    far: dict[int, float] = {}
    try:
        for place in TopologicalSorter(before).static_order():
            ways = (far[p] + mm for p, mm in before.get(place, {}).items())
            far[place] = max(ways, default=0.0)
    except CycleError:
        return None
    return max(far.values(), default=0.0)


#: A route, and whether it is run from its start to its finish.
Going = tuple[int, bool]


def undoable_orders(case: Case) -> list[Problem]:
    """A warning for each order that certainly cannot be carried out."""
    if _may_be_dragged(case):
        return []
    ways = _Ways(case.layout)
    problems: list[Problem] = []
    for number, train in enumerate(case.trains):
        problems += _of_train(ways, train, f"train[{number}].orders")
    return problems


def _may_be_dragged(case: Case) -> bool:
    """Whether another train's turning may move a train against its own orders."""
    dc = any(supply.kind == "dc" for supply in case.layout.supplies)
    turns = any(order.backward for train in case.trains for order in train.orders)
    return dc and turns and len(case.trains) > 1


class _Ways:
    """Where each way of going over a route leads on to."""

    def __init__(self, layout: Layout) -> None:
        self.layout = layout
        self._into: list[list[Going]] = [[] for _ in layout.ends]
        for number, route in enumerate(layout.routes):
            self._into[route.start].append((number, True))
            self._into[route.finish].append((number, False))
        self._rings: set[Going] | None = None

    def entry(self, going: Going) -> int:
        """The end by which it is entered."""
        route = self.layout.routes[going[0]]
        return route.start if going[1] else route.finish

    def after(self, going: Going) -> list[Going]:
        """What it leads on to."""
        joined = self.layout.ends[self.entry((going[0], not going[1]))].joined
        return self._into[joined] if joined >= 0 else []

    def ahead(self, starts: Iterable[Going]) -> set[Going]:
        """Everything that any of ``starts`` leads on to, sooner or later."""
        todo = [going for start in starts for going in self.after(start)]
        seen = set(todo)
        while todo:
            for going in self.after(todo.pop()):
                if going not in seen:
                    seen.add(going)
                    todo.append(going)
        return seen

    def rings(self) -> set[Going]:
        """Every way of going that leads back to itself."""
        if self._rings is None:
            every = (going for entered in self._into for going in entered)
            self._rings = on_rounds({going: self.after(going) for going in every})
        return self._rings

    def leads_across(self, entry: int) -> bool:
        """Whether some route from there asks for a lever that does not lie so at rest."""
        routes, levers = self.layout.routes, self.layout.levers
        return any(
            levers[p.lever].rest != p.position
            for number, _ in self._into[entry]
            for p in routes[number].points
        )


def _of_train(ways: _Ways, train: Train, where: str) -> list[Problem]:
    here = {(train.route, train.toward_finish)}
    moved, backward = False, False
    for turn in range(2 if train.repeat else 1):
        for number, order in enumerate(train.orders):
            if order.do in ("wait", "throw"):
                continue
            if order.backward != backward:
                here = {(route, not forward) for route, forward in here}
                # the other end of the train goes first, from somewhere behind
                moved, backward = True, order.backward
            problem, there = _carried_out(ways, order, here, moved)
            if problem is not None:
                expected, found = problem
                found += ", once the orders are repeated" if turn else ""
                at = f"{where}[{number}].do"
                return [Problem(at, expected, found, "warning", code="order-undoable")]
            here, moved = there | ways.ahead(there), True
    return []


_Wrong = tuple[str, str]


def _carried_out(
    ways: _Ways, order: Order, here: set[Going], moved: bool
) -> tuple[_Wrong | None, set[Going]]:
    """What is wrong with the order, and where the train is when it is done."""
    if order.do == "circulate":
        rings = here & ways.rings()
        expected = "track that leads back to where the train stands"
        return (None if rings else (expected, "track that is no ring")), rings
    layout, reached = ways.layout, ways.ahead(here)
    if moved or order.do == "stop":
        reached |= here
    there = {going for going in reached if layout.routes[going[0]].piece == order.piece}
    name = shown(layout.pieces[order.piece].id)
    if not there:
        expected = "a piece that lies ahead of the train in the direction of the order"
        return (expected, f"{order.do!r} with {name}, which no track leads to that way"), there
    if order.do == "cross":
        ends = {ways.entry(going) for going in there}
        if not any(ways.leads_across(end) for end in ends):
            come = " or ".join(shown(layout.ends[end].id) for end in sorted(ends))
            expected = "a piece with a way across from where the train comes in"
            return (expected, f"{name}, where no route from {come} leads across"), there
    return None, there
