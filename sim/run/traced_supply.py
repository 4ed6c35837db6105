"""The supply by tracing alone: ideal voltages, no loads.

Nets that become one: labels that are joined, and supplies that are.

The supply by tracing alone: ideal voltages, no loads.

Each side of each unit is a node of the trace: a unit whose pickups of one side
stand on two nets joins them.  As long as no unit does, a crossing costs one
look at a table.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterable, Mapping, Sequence
from math import inf
from typing import TYPE_CHECKING

from sim.layout.model import Layout
from sim.power.poles import Pattern, PoleState, Source, pole_state, sources_of
from sim.power.wiring import Wiring, wire
from sim.run.supply import NOTHING, Doing, Reading, Spot

if TYPE_CHECKING:
    from sim.circuit.voltage_drop import LostIn

Joins = Mapping[int, int]  #: label to the label it now counts as


def merged(groups: Iterable[Sequence[int]]) -> Joins:
    """Every label of a group counts as the lowest of all that it is joined to.

    Labels of terminals are the lowest, so a net with a pole keeps that pole's.
    """
    parent: dict[int, int] = {}

    def find(x: int) -> int:
        while parent.get(x, x) != x:
            x = parent[x]
        return x

    for group in groups:
        for other in group[1:]:
            a, b = find(group[0]), find(other)
            if a != b:
                parent[max(a, b)] = min(a, b)
    return {x: find(x) for x in parent}


def joins_supplies(before: Pattern, after: Pattern) -> bool:
    """Whether poles of two supplies share a net in ``after`` that did not ``before``."""
    return any(
        after[p] == after[q] and before[p] != before[q]
        for p in range(len(after))
        for q in range(p)
        if p // 2 != q // 2
    )


NO_METAL = -1  #: label of a side all of whose pickups are on plastic


class TracedSupply:
    """See :class:`sim.run.supply.SupplyModel`, which this implements."""

    band_um: float = inf

    def __init__(
        self,
        layout: Layout,
        slots: Sequence[int],
        closed: Iterable[int],
        switched: Iterable[int] = (),
    ) -> None:
        """Start with no pickup on metal.

        ``slots`` gives the number of pickups by side; ``closed`` the contacts
        that are closed at the start, and whatever of ``switched`` is: permanent
        elements whose two sides are told apart all the same.
        """
        self.wiring: Wiring = wire(layout, switched=switched)
        self._cluster_of = [*self.wiring.cluster_of, len(layout.nodes)]
        self._net = self._first_nets(len(layout.nodes))
        self._closed: list[frozenset[int]] = [frozenset() for _ in self.wiring.patches]
        self._patch_joins: dict[int, tuple[tuple[int, int], ...]] = {}
        self._pole_of_terminal = self._first_poles()
        nominal = sources_of(layout.supplies)
        self._volts = [s.volts for s in nominal]
        self._signs = [1] * len(nominal)
        self._on = [True] * len(nominal)
        self._under = [[len(layout.nodes)] * n for n in slots]
        self._labels: list[tuple[int, ...]] = [() for _ in slots]
        self._dirty: set[int] = set(range(len(slots)))
        self._bridging: set[int] = set()
        self._readings: list[Reading] = [NOTHING] * (len(slots) // 2)
        self._pairs: dict[tuple[int, int], Reading] = {}
        self._everything = True  # poles, throttle signs or bridges have changed
        self._joins: Joins = {}
        self._key: tuple[Pattern, tuple[Source, ...], tuple[tuple[int, int], ...]] | None = None
        self.set_contacts(closed, ())
        self._refresh_poles()

    def _first_nets(self, clusters: int) -> list[int]:
        """By cluster: its terminal, or a label of its own."""
        own = self.wiring.terminals
        # The extra last entry answers for PLASTIC, which is index -1.
        nets = [*range(own, own + clusters), NO_METAL]
        for t, c in enumerate(self.wiring.terminal_clusters):
            nets[c] = t
        return nets

    def _first_poles(self) -> list[int]:
        found: dict[int, int] = {}
        for pole, terminal in enumerate(self.wiring.terminal_of):
            found.setdefault(terminal, pole)
        return [found[t] for t in range(self.wiring.terminals)]

    # -- what changes -----------------------------------------------------------

    def same_metal(self, a: int, b: int) -> bool:
        """Whether ``a`` and ``b`` are one cluster (or both plastic)."""
        return self._cluster_of[a] == self._cluster_of[b]

    def set_contacts(self, closed: Iterable[int], opened: Iterable[int]) -> None:
        """Relabel the patches that the given contacts belong to."""
        patch_of = self.wiring.patches_of_element
        changed: dict[int, set[int]] = {}
        for e in closed:
            if e in patch_of:
                number = patch_of[e]
                changed.setdefault(number, set(self._closed[number])).add(e)
        for e in opened:
            if e in patch_of:
                number = patch_of[e]
                changed.setdefault(number, set(self._closed[number])).discard(e)
        for number, now in changed.items():
            self._relabel(number, frozenset(now))

    def _relabel(self, number: int, closed: frozenset[int]) -> None:
        if closed == self._closed[number]:
            return
        before = self.wiring.label_patch(number, self._closed[number])
        after = self.wiring.label_patch(number, closed)
        self._closed[number] = closed
        members = self.wiring.patches[number].members
        for cluster, label in zip(members, after.labels, strict=True):
            self._net[cluster] = label
        if before.joins != after.joins:
            self._everything = True
            self._patch_joins = {**self._patch_joins, number: after.joins}
            if not after.joins:
                del self._patch_joins[number]
        touched = set(members)
        for side, under in enumerate(self._under):
            if not touched.isdisjoint(under):
                self._dirty.add(side)

    def tire(self, element: int, ohm: float | None) -> None:
        """What an element has got makes no difference to what it joins."""

    def move(self, side: int, slot: int, node: int) -> bool:
        """Put a pickup on ``node``; True when its net is another one now."""
        under = self._under[side]
        before = under[slot]
        under[slot] = after = self._cluster_of[node]
        if self._net[before] == self._net[after]:
            return False
        self._dirty.add(side)
        return True

    def switch(self, supply: int, on: bool) -> None:
        """Trip ``supply`` or switch it on."""
        self._on[supply] = on
        self._everything = True

    def turn(self, supply: int, sign: int) -> None:
        """Turn the direction of a DC supply."""
        if self._signs[supply] != sign:
            self._signs[supply] = sign
            self._everything = True

    # -- what only a solved circuit asks for --------------------------------------

    def locate(self, where: Callable[[int, int], Spot]) -> None:
        """Sections are all that tracing needs to know of places."""

    def drive(self, supply: int, volts: float) -> bool:
        """Tracing takes what throttles say when it is asked for volts."""
        return False

    def load(self, unit: int, doing: Doing, share: float) -> bool:
        """Tracing knows no loads."""
        return False

    def drift(self, units: Iterable[int]) -> None:
        """Tracing needs no places within a section."""

    def amps(self, supply: int) -> float | None:
        """Tracing knows no currents."""
        return None

    def is_shorted(self, supply: int) -> bool:
        """Whether the supply is shorted, as last solved."""
        return supply in TracedSupply.shorted(self)

    def losses(self, unit: int) -> tuple[tuple[LostIn, float], ...]:
        """Tracing loses no volts."""
        return ()

    # -- the solution -----------------------------------------------------------

    def solve(self) -> Sequence[int]:
        """Relabel the sides that changed; everything if nets were joined or parted."""
        dirty, self._dirty = self._dirty, set()
        bridged = bool(self._bridging)
        for side in dirty:
            labels = self._labels[side] = self._labels_under(side)
            if len(labels) > 1:
                self._bridging.add(side)
            else:
                self._bridging.discard(side)
        if self._everything or bridged or self._bridging:
            self._refresh_poles()
            units: Iterable[int] = range(len(self._readings))
        else:
            units = sorted({side >> 1 for side in dirty})
        changed = []
        for unit in units:
            reading = self._read(unit)
            if reading != self._readings[unit]:
                self._readings[unit] = reading
                changed.append(unit)
        return changed

    def reading(self, unit: int) -> Reading:
        """The reading of ``unit`` as last solved."""
        return self._readings[unit]

    def shorted(self) -> frozenset[int]:
        """Supplies in a short, those that are off left out."""
        return frozenset(s for short in self._now.shorts for s in short)

    def bridging_units(self) -> tuple[int, ...]:
        """Units that join nets at the moment."""
        return tuple(sorted({side >> 1 for side in self._bridging}))

    def shorted_without(self, units: Collection[int]) -> frozenset[int]:
        """Supplies that would still be shorted if ``units`` were lifted."""
        joins = self._join(s for s in self._bridging if s >> 1 not in units)
        state = pole_state(self._pattern(joins), self._sources())
        return frozenset(s for short in state.shorts for s in short)

    def labels(self, side: int) -> tuple[int, ...]:
        """Labels of the nets under the pickups of ``side``."""
        return self._labels[side]

    def label_of(self, node: int) -> int:
        """Label of the net that ``node`` is in, trains counted."""
        label = self._net[self._cluster_of[node]]
        return self._joins.get(label, label)

    def pole_at(self, node: int) -> int | None:
        """A pole in the net of ``node``, trains counted; None when floating."""
        label = self.label_of(node)
        return self._pole_of_terminal[label] if 0 <= label < self.wiring.terminals else None

    def changeable(self, node: int) -> bool:
        """Whether contacts decide what ``node`` is joined to."""
        return self._cluster_of[node] not in self.wiring.terminal_clusters

    # -- what if ----------------------------------------------------------------

    def verdict_if(
        self,
        unit: int,
        closed: Iterable[int] = (),
        opened: Iterable[int] = (),
        bridged: Iterable[tuple[int, int]] = (),
        restored: Iterable[int] = (),
        mended: Iterable[int] = (),
    ) -> Reading:
        """The reading of ``unit`` after a change that is only imagined."""
        number = self.wiring.patches_of_element.get
        patches = {number(e) for e in (*closed, *opened)} - {None}
        was = {n: self._closed[n] for n in patches if n is not None}
        before = set(self._dirty), self._everything, self._patch_joins, list(self._on)
        for supply in restored:
            self._on[supply] = True
        self.set_contacts(closed, opened)
        extra = [
            (self._net[self._cluster_of[a]], self._net[self._cluster_of[b]]) for a, b in bridged
        ]
        reading = self._imagine(unit, extra)
        for n, contacts in was.items():
            self._relabel(n, contacts)
        self._dirty, self._everything, self._patch_joins, self._on = before
        return reading

    def _imagine(self, unit: int, extra: list[tuple[int, int]]) -> Reading:
        """The reading of ``unit`` as contacts and supplies stand, ``extra`` labels joined."""
        labels = [self._labels_under(s) for s in range(len(self._under))]
        joins = self._join_labels([*labels, *extra])
        pattern = self._pattern(joins)
        state = pole_state(pattern, self._sources())
        if state.shorts or joins_supplies(self._now.pattern, pattern):
            return Reading("short")
        left, right = labels[2 * unit], labels[2 * unit + 1]
        if not left or not right:
            return NOTHING
        a, b = self._pole(joins, left[0]), self._pole(joins, right[0])
        return Reading(state.kind(a, b), (), (a, b))

    # -- inside -----------------------------------------------------------------

    def _labels_under(self, side: int) -> tuple[int, ...]:
        net = self._net
        under = self._under[side]
        first = net[under[0]] if under else NO_METAL
        for cluster in under:
            if net[cluster] != first:
                return tuple(sorted({net[c] for c in under} - {NO_METAL}))
        return () if first == NO_METAL else (first,)

    def _join(self, sides: Iterable[int]) -> Joins:
        return self._join_labels([self._labels[s] for s in sorted(sides)])

    def _join_labels(self, groups: Iterable[Sequence[int]]) -> Joins:
        """Make one net of every group of labels; of all terminals that patches join too."""
        pairs = [pair for joins in self._patch_joins.values() for pair in joins]
        return merged([*pairs, *groups])

    def _pattern(self, joins: Joins) -> Pattern:
        lowest: dict[int, int] = {}
        return tuple(
            lowest.setdefault(joins.get(t, t), pole)
            for pole, t in enumerate(self.wiring.terminal_of)
        )

    def _sources(self) -> tuple[Source, ...]:
        rows = zip(self._volts, self._signs, self._on, strict=True)
        return tuple(Source(v * sign, on) for v, sign, on in rows)

    def _refresh_poles(self) -> None:
        joins = self._join(self._bridging)
        pattern, sources = self._pattern(joins), self._sources()
        key = pattern, sources, tuple(sorted(joins.items()))
        if self._key != key:
            self._key = key
            self._joins = joins
            self._now: PoleState = pole_state(pattern, sources)
            self._pairs = {}
        self._everything = False

    def _pole(self, joins: Joins, label: int) -> int | None:
        label = joins.get(label, label)
        return self._pole_of_terminal[label] if label < self.wiring.terminals else None

    def _read(self, unit: int) -> Reading:
        left, right = self._labels[2 * unit], self._labels[2 * unit + 1]
        if not left or not right:
            return NOTHING
        pair = left[0], right[0]
        known = self._pairs.get(pair)
        if known is None:
            known = self._pairs[pair] = self._judge(*pair)
        return known

    def _judge(self, left: int, right: int) -> Reading:
        a, b = self._pole(self._joins, left), self._pole(self._joins, right)
        verdict = self._now.kind(a, b)
        if verdict is None and a is not None and b is not None:
            return Reading(None, self._now.steps(a, b), (a, b))
        return Reading(verdict, (), (a, b))
