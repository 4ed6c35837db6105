"""The circuit of one run, kept up to date as contacts, supplies and trains change.

A state of contacts, supplies and ohms has a number.  For each the network as seen from
the places where pickups stand is remembered, and for a state of the trains on top of
that what each of them gets: trains that go round and round meet the same states again,
and so do other runs of the same layout.
"""

from __future__ import annotations

from collections import OrderedDict
from collections.abc import Iterable, Iterator, Mapping, Sequence

from sim.circuit.network import build_network
from sim.circuit.operating_point import (
    Group,
    Load,
    OperatingPoint,
    grouped,
    operating_point,
    unloaded_a,
)
from sim.circuit.reduction import Ports, Reduction, remember
from sim.layout.model import Layout

#: Past so many states of contacts and supplies all that is known is forgotten.
STATES_REMEMBERED = 50_000
#: Layouts whose work is kept; a campaign runs as built and all fixes in turn, again and again.
LAYOUTS_REMEMBERED = 8


class Memory:
    """What is known of one layout, shared by all its runs in this process.

    All of it is what follows from its key alone, so who worked it out first does
    not show.
    """

    def __init__(self, layout: Layout) -> None:
        self.layout = layout
        self.network = build_network(layout)
        self.reduction = Reduction(self.network)
        self.applied = -1  #: number of the state that the reduction is in
        self.numbers: dict[object, int] = {}
        self.last = -1
        self.ports: OrderedDict[object, Ports] = OrderedDict()
        self.points: OrderedDict[object, OperatingPoint] = OrderedDict()
        self.groups: OrderedDict[object, list[Group]] = OrderedDict()
        self.unloaded: OrderedDict[object, list[float]] = OrderedDict()

    def number(self, key: object) -> int:
        """The number of a state; the same for the same state as long as it is known."""
        if key not in self.numbers and len(self.numbers) >= STATES_REMEMBERED:
            # Numbers go on, so that a run that has an old one never takes a new one for it.
            for memo in (self.ports, self.points, self.groups, self.unloaded):
                memo.clear()
            self.numbers = {}
        if key not in self.numbers:
            self.numbers[key] = self.last = self.last + 1
        return self.numbers[key]


_MEMORIES: list[Memory] = []


def memory_of(layout: Layout) -> Memory:
    """What is known of ``layout``; of those used last some are kept."""
    for memory in _MEMORIES:
        if memory.layout is layout:
            return memory
    memory = Memory(layout)
    _MEMORIES.append(memory)
    del _MEMORIES[:-LAYOUTS_REMEMBERED]
    return memory


#: With up to this many places for pickups a state is worked out for all of them at once.
ALL_AT_ONCE = 160
PORTS_REMEMBERED = 48
POINTS_REMEMBERED = 20_000

Under = Sequence[tuple[int, ...]]  #: by side: the nodes that its pickups join


class LiveCircuit:
    """One run's circuit: contacts closed or open, supplies on or off."""

    def __init__(self, layout: Layout, closed: Iterable[int]) -> None:
        self._memory = memory_of(layout)
        self.network = self._memory.network
        elements = layout.elements
        self._contacts = {
            e: b for e, b in self.network.branch_of.items() if elements[e].kind == "contact"
        }
        self._closed = frozenset(closed)
        self._on = (True,) * len(layout.supplies)
        self._other: dict[int, float | None] = {}
        stations = list(dict.fromkeys(self.network.stations()))
        self._all = stations if len(stations) <= ALL_AT_ONCE else None
        self._row_of = {n: row for row, n in enumerate(stations)}
        self._state = self._number()

    def set_contacts(self, closed: Iterable[int]) -> None:
        """All contacts (element indices) that are closed now."""
        self._closed = frozenset(closed)
        self._state = self._number()

    def set_ohms(self, ohms: Mapping[int, float | None]) -> None:
        """Give elements other ohms than the layout's; None opens one that is no contact."""
        self._other = dict(ohms)
        self._state = self._number()

    def switch(self, on: Sequence[bool]) -> None:
        """Which supplies are on."""
        self._on = tuple(on)
        self._state = self._number()

    def _number(self) -> int:
        key = self._closed, self._on, tuple(sorted(self._other.items()))
        return self._memory.number(key)

    def settle(
        self, under: Under, loads: Sequence[Load], volts: Sequence[float]
    ) -> tuple[list[float | None], list[float]]:
        """Volts by unit, amps by supply.

        ``under`` gives by side the nodes that its pickups join, sides ``2u`` and
        ``2u + 1`` being unit ``u``'s; sides beyond those of the units only join.
        Units that stand on islands of their own do not touch each other, so each
        island is solved, and remembered, by itself.
        """
        told: list[float | None] = [None] * len(loads)
        amps = self._unloaded(tuple(volts))
        for group, _, found in self._parts(under, loads, volts):
            for u, v in zip(group.units, found.volts, strict=True):
                told[u] = v
            for s in group.fed:
                amps[s] += found.added_a[s]
        return told, amps

    def drawn(
        self, under: Under, loads: Sequence[Load], volts: Sequence[float]
    ) -> dict[int, float]:
        """Amps drawn by node, in the state that :meth:`settle` tells of."""
        amps: dict[int, float] = {}
        for _, own, found in self._parts(under, loads, volts):
            nodes = list(dict.fromkeys(n for side in own for n in side))
            for n, row in zip(nodes, self.rows(nodes), strict=True):
                if row in found.port_a:
                    amps[n] = found.port_a[row]
        return amps

    def _parts(
        self, under: Under, loads: Sequence[Load], volts: Sequence[float]
    ) -> Iterator[tuple[Group, Under, OperatingPoint]]:
        """Each group with the nodes under its sides, and what it comes to."""
        for group in self._grouped(under, len(loads)):
            own = tuple([under[side] for side in group.sides])
            part = tuple([loads[u] for u in group.units])
            yield group, own, self._of_group(own, part, [volts[s] for s in group.fed], volts)

    def _unloaded(self, volts: tuple[float, ...]) -> list[float]:
        key = self._state, volts
        known = self._memory.unloaded.get(key)
        if known is None:
            known = unloaded_a(self._ports_at([]), volts)
            remember(self._memory.unloaded, key, known, POINTS_REMEMBERED)
        return list(known)

    def _of_group(
        self,
        own: tuple[tuple[int, ...], ...],
        loads: tuple[Load, ...],
        fed: Sequence[float],
        volts: Sequence[float],
    ) -> OperatingPoint:
        key = self._state, own, loads, tuple(fed)
        found = self._memory.points.get(key)
        if found is None:
            ports, row = self._ports_under(own)
            sides = [[row[n] for n in side] for side in own]
            found = operating_point(ports, sides, loads, volts, self.network.layout.pickup_ohm)
            remember(self._memory.points, key, found, POINTS_REMEMBERED)
        return found

    def _ports_under(self, under: Under) -> tuple[Ports, Mapping[int, int]]:
        """The network seen from the nodes under ``under``, and the row of each."""
        if self._all is not None:
            return self._ports_at(self._all), self._row_of
        nodes = list(dict.fromkeys(n for side in under for n in side))
        return self._ports_at(nodes), {n: row for row, n in enumerate(nodes)}

    def _grouped(self, under: Under, units: int) -> list[Group]:
        """Who touches whom: that depends on islands only, not on where on them one stands."""
        ports, row = self._ports_under(under)
        island = ports.island
        sides = tuple([tuple([island[row[n]] for n in side]) for side in under])
        key = self._state, sides, units
        known = self._memory.groups.get(key) if self._all is not None else None
        if known is None:
            known = grouped(ports, sides, units)
            if self._all is not None:
                remember(self._memory.groups, key, known, POINTS_REMEMBERED)
        return known

    def rows(self, nodes: list[int]) -> list[int]:
        """For each of the nodes that trains stand on, its number among the ports."""
        if self._all is None:
            return list(range(len(nodes)))
        return [self._row_of[n] for n in nodes]

    def _ports_at(self, nodes: list[int]) -> Ports:
        wanted = nodes if self._all is None else self._all
        key = self._state, (tuple(nodes) if self._all is None else None)
        ports = self._memory.ports.get(key)
        if ports is None:
            self._apply()
            ports = self._memory.reduction.ports(wanted)
            remember(self._memory.ports, key, ports, PORTS_REMEMBERED)
        else:
            self._memory.ports.move_to_end(key)
        return ports

    def _apply(self) -> None:
        """Bring the reduction to the present state."""
        if self._memory.applied == self._state:
            return
        self._memory.applied = self._state
        network = self.network
        worth: dict[int, float | None] = {
            b: network.branches[b].ohm if e in self._closed else None
            for e, b in self._contacts.items()
        }
        for e, b in network.branch_of.items():
            if e not in self._contacts:
                worth[b] = self._other.get(e, network.branches[b].ohm)
            elif e in self._other and e in self._closed:
                worth[b] = self._other[e]
        self._memory.reduction.set(worth)
        for s, on in enumerate(self._on):
            self._memory.reduction.switch(s, on)
