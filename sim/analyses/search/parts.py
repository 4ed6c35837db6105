"""A case contracted to what a search needs, and one part of it ready to be joined.

Which rails each supply is meant to feed: declared, or taken from the layout as built.

One part of a layout that can be searched by itself, as tables ready to be joined.

Parts meet only at clusters that hold a pole, so what is wired in one changes
nothing in another.

A case contracted to what a search needs, and the pairs of rails that must be live.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field

import numpy as np
import numpy.typing as npt

from sim.analyses.search.model import Asked, Change, Demand
from sim.analyses.search.nets import (
    LIVE,
    NEVER,
    NO_RETURN,
    Codes,
    Labels,
    Mask,
    join_in_place,
    shorting,
    worth,
)
from sim.layout.model import PLASTIC, Layout
from sim.layout.traffic import Case
from sim.power.poles import Source, pole_state, sources_of
from sim.power.settings import rest_positions, timetable_settings
from sim.power.trace import trace
from sim.power.wiring import wire

NOT_DECLARED = (
    "the file declares no districts, so the rails that each supply reaches with all levers "
    "at rest are taken for its own"
)


@dataclass(frozen=True, slots=True)
class Homes:
    """``of`` gives a node's district by number, ``supply`` that district's supply."""

    of: dict[int, int]
    supply: tuple[int, ...]
    note: str | None = None

    def supply_of(self, node: int) -> int | None:
        """The supply that a node is meant to be fed by, if that is known."""
        district = self.of.get(node)
        return None if district is None else self.supply[district]


def homes_of(layout: Layout) -> Homes:
    """The declared districts, else one for each supply as the rails are fed at rest."""
    if layout.districts:
        of = {n: number for number, d in enumerate(layout.districts) for n in d.nodes}
        return Homes(of, tuple(d.supply for d in layout.districts))
    every = tuple(range(len(layout.supplies)))
    if len(every) < 2:
        return Homes({}, every)
    traced = trace(layout, [tuple(rest_positions(layout))])
    found: dict[int, int] = {}
    for node in range(len(layout.nodes)):
        supplies = {p // 2 for p in traced.poles_at(node, 0)}
        if len(supplies) == 1:
            found[node] = supplies.pop()
    return Homes(found, every, NOT_DECLARED)


def isolated(layout: Layout, a: int, b: int) -> bool:
    """Whether two supplies have no way back to each other."""
    one, other = layout.supplies[a].common, layout.supplies[b].common
    return a != b and (one is None or one != other)


Rows = npt.NDArray[np.int64]


@dataclass(frozen=True, slots=True)
class Column:
    """One state: where levers are, and what does not conduct.

    ``positions`` are (lever, position) of the part's own levers; ``open`` is an
    element, -1 for none; ``spare`` the number of an added contact that is open.
    """

    positions: tuple[tuple[int, int], ...]
    open: int = -1
    spare: tuple[int, int] | None = None
    astray: int = -1


@dataclass(frozen=True, slots=True)
class RowJoin:
    """A join as rows of the two tables, each with the columns in which it is closed."""

    a: int
    b: int
    where: Mask | None
    home_a: int
    home_b: int
    home_where: Mask | None


@dataclass(frozen=True, slots=True)
class PartChange:
    """A change with the rows that it joins."""

    change: Change
    joins: tuple[RowJoin, ...]


@dataclass(frozen=True, slots=True)
class State:
    """Labels after some changes; ``mixed`` once rails of two districts are one net."""

    labels: Labels
    home: Labels
    mixed: bool


@dataclass(frozen=True, slots=True)
class Look:
    """What a state is worth: why it is beyond cure, or what is still dead.

    ``unmet`` has the shape (needs, columns), as ``codes`` has.
    """

    bad: str | None
    unmet: Mask
    codes: Codes

    @property
    def good(self) -> bool:
        """Whether every demand is met."""
        return self.bad is None and not bool(self.unmet.any())


@dataclass(slots=True)
class Part:
    """Tables of one part.

    ``left`` and ``right`` are rows of the pairs of rails that must be live,
    ``need`` (pairs, columns) where; ``low`` and ``high`` are the two supplies of a
    pair on the way from one loop to another, -1 elsewhere.  ``district_count``
    bounds the labels in ``start.home`` that are districts.
    """

    sources: tuple[Source, ...]
    columns: tuple[Column, ...]
    demand: tuple[Demand, ...]
    start: State
    pole_rows: Rows
    left: Rows
    right: Rows
    need: Mask
    low: Rows
    high: Rows
    no_short: Mask
    district_count: int
    apart: bool
    changes: tuple[PartChange, ...]
    pairs: tuple[tuple[int, int], ...] = ()

    def add(self, state: State, change: PartChange) -> State:
        """The state with one more change made."""
        labels, home, mixed = state.labels.copy(), state.home.copy(), state.mixed
        for join in change.joins:
            join_in_place(labels, join.a, join.b, join.where)
            mixed |= self.mixes(home, join.home_a, join.home_b, join.home_where)
            join_in_place(home, join.home_a, join.home_b, join.home_where)
        return State(labels, home, mixed)

    def mixes(self, home: Labels, a: int, b: int, where: Mask | None) -> bool:
        """Whether joining two rows would join rails of two districts anywhere."""
        both = (home[a] != home[b]) & (home[a] < self.district_count)
        both &= home[b] < self.district_count
        if where is not None:
            both &= where
        return bool(both.any())

    def bad_wires(self, wires: Sequence[PartChange]) -> list[bool]:
        """For each wire alone: does it short in a state that is asked, or mix districts?"""
        if not wires:
            return []
        joins = [wire.joins[0] for wire in wires]
        labels, home = self.start.labels, self.start.home
        a, b = (labels[[getattr(j, side) for j in joins]] for side in ("a", "b"))
        bad = (shorting(labels[self.pole_rows], a, b, self.sources) & self.no_short).any(axis=1)
        if self.apart:
            a, b = (home[[getattr(j, side) for j in joins]] for side in ("home_a", "home_b"))
            bad |= ((a != b) & (np.maximum(a, b) < self.district_count)).any(axis=1)
        return [bool(no) for no in np.atleast_1d(bad)]

    def look(self, state: State) -> Look:
        """Judge a state."""
        left, right = state.labels[self.left], state.labels[self.right]
        codes, short = worth(state.labels[self.pole_rows], left, right, self.sources)
        low, high = np.minimum(left, right) // 2, np.maximum(left, right) // 2
        across = (codes == NO_RETURN) & (low == self.low[:, None])
        across &= high == self.high[:, None]
        unmet = self.need & (codes != LIVE) & ~across
        bad = None
        if bool((short & self.no_short).any()):
            bad = "shorts"
        elif state.mixed and self.apart:
            bad = "joins two loops"
        elif bool((unmet & (codes == NEVER)).any()):
            bad = "leaves a place that no wire can cure"
        return Look(bad, unmet, codes)

    def shorted(self, state: State) -> Mask:
        """States in which a supply is shorted, asked about or not."""
        none = np.zeros((0, len(self.columns)), dtype=np.int32)
        return worth(state.labels[self.pole_rows], none, none, self.sources)[1]


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
