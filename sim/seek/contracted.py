"""A case contracted to what a search needs, and the pairs of rails that must be live."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field

from sim.layout.model import PLASTIC, Layout
from sim.layout.traffic import Case
from sim.power.poles import pole_state, sources_of
from sim.power.settings import timetable_settings
from sim.power.wiring import wire
from sim.seek.districts import Homes, homes_of, isolated
from sim.seek.model import Asked

_LIFTED = ("feeder", "bus", "common")
Pair = tuple[int, int, tuple[int, int]]
NOT_CROSSING = (-1, -1)


@dataclass(slots=True)
class Need:
    """A pair of clusters that must be live where any of ``routes`` is set."""

    left: int
    right: int
    crossing: tuple[int, int]
    routes: list[int] = field(default_factory=list)


class Contracted:
    """One case with some elements cut.

    ``clusters`` and ``free`` give each node's cluster with the feeders on and with
    them lifted.
    """

    def __init__(self, case: Case, asked: Asked, cut: Iterable[int] = ()) -> None:
        self.case, self.asked, self.layout = case, asked, case.layout
        out = frozenset(cut)
        layout = case.layout
        self.clusters = wire(layout, out).cluster_of
        lifted = {i for i, e in enumerate(layout.elements) if e.kind in _LIFTED}
        self.free = wire(layout, out | lifted).cluster_of
        self.homes = homes_of(layout)
        self.sources = sources_of(layout.supplies)
        self.poles = [n for s in layout.supplies for n in (s.plus, s.minus)]
        self.pole_of = self._pole_of()
        self.district_of, self.mixed = self._district_of()
        self.contacts = [
            i
            for i, e in enumerate(layout.elements)
            if e.kind == "contact" and i not in out
            and self.clusters[e.a] != self.clusters[e.b]
        ]  # fmt: skip
        self.live_settings = None if asked.gangs else timetable_settings(case)
        self.needs = self._needs()

    def _pole_of(self) -> dict[int, int]:
        found: dict[int, int] = {}
        for pole, node in enumerate(self.poles):
            found.setdefault(self.clusters[node], pole)
        return found

    def _district_of(self) -> tuple[dict[int, int], bool]:
        """District of each cluster without feeders, and whether any has two of them."""
        found: dict[int, int] = {}
        mixed = False
        for node, district in self.homes.of.items():
            mixed |= found.setdefault(self.free[node], district) != district
        return found, mixed

    def _needs(self) -> list[Need]:
        found: dict[Pair, Need] = {}
        for number, route in enumerate(self.layout.routes):
            crossing = crossing_of(self.layout, self.homes, number)
            for span in route.spans:
                if PLASTIC in (span.left, span.right):
                    continue
                left, right = self.clusters[span.left], self.clusters[span.right]
                pair = (min(left, right), max(left, right), crossing)
                need = found.setdefault(pair, Need(*pair))
                if number not in need.routes:
                    need.routes.append(number)
        return list(found.values())

    def ends(self, element: int) -> tuple[int, int]:
        """Nodes that an element joins."""
        return self.layout.elements[element].a, self.layout.elements[element].b

    def base_pattern(self) -> tuple[int, ...]:
        """Lowest pole that shares each pole's cluster."""
        return tuple(self.pole_of[self.clusters[n]] for n in self.poles)

    def is_fixed(self, need: Need) -> bool:
        """Whether both rails are on poles already, whatever is wired elsewhere."""
        return need.left in self.pole_of and need.right in self.pole_of

    def hopeless(self) -> list[Need]:
        """Pairs that are on poles already, and not live: no wire changes that."""
        state = pole_state(self.base_pattern(), self.sources)
        found = []
        for need in self.needs:
            if need.left == need.right:
                found.append(need)
            elif self.is_fixed(need):
                left, right = self.pole_of[need.left], self.pole_of[need.right]
                kind = state.kind(left, right)
                across = tuple(sorted((left // 2, right // 2))) == need.crossing
                if kind is not None and not (kind == "no return" and across):
                    found.append(need)
        return found

    def route_of(self, need: Need) -> str:
        """A route that the pair lies on."""
        return self.layout.routes[need.routes[0]].id

    def names_of(self, need: Need) -> tuple[str, str]:
        """The two sections of a pair as they lie on that route."""
        for span in self.layout.routes[need.routes[0]].spans:
            if PLASTIC not in (span.left, span.right):
                clusters = self.clusters[span.left], self.clusters[span.right]
                if tuple(sorted(clusters)) == (need.left, need.right):
                    return self.layout.nodes[span.left], self.layout.nodes[span.right]
        return self.layout.nodes[need.left], self.layout.nodes[need.right]


def crossing_of(layout: Layout, homes: Homes, route: int) -> tuple[int, int]:
    """The two supplies of a route that leads from one's rails to another's, isolated ones."""
    spans = [s for s in layout.routes[route].spans if PLASTIC not in (s.left, s.right)]
    if not spans:
        return NOT_CROSSING
    ends: list[set[int]] = []
    for span in (spans[0], spans[-1]):
        found = {homes.supply_of(span.left), homes.supply_of(span.right)} - {None}
        ends.append({s for s in found if s is not None})
    if any(len(found) != 1 for found in ends) or ends[0] == ends[1]:
        return NOT_CROSSING
    a, b = sorted(ends[0] | ends[1])
    return (a, b) if isolated(layout, a, b) else NOT_CROSSING
