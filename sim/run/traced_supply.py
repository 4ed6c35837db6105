"""The supply by tracing alone: ideal voltages, no loads.

Each side of each unit is a node of the trace: a unit whose pickups of one side
stand on two nets joins them.  As long as no unit does, a crossing costs one
look at a table.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass
from math import inf
from typing import TYPE_CHECKING

from sim.layout.model import Layout
from sim.power.poles import Pattern, PoleState, Source, pole_state, sources_of
from sim.power.wiring import Wiring, wire
from sim.run.supply import NOTHING, Doing, SupplyReading

if TYPE_CHECKING:
    from sim.circuit.voltage_drop import LostIn

Joins = Mapping[int, int]  #: label to the label it now counts as
Pairs = tuple[tuple[int, int], ...]


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


class ContactNets:
    """Which metal is joined to which while certain contacts are closed; trains left out.

    ``net`` is the label of each cluster, one more entry standing for plastic.
    """

    def __init__(self, wiring: Wiring) -> None:
        self._wiring = wiring
        self.net = _first_nets(wiring)
        self._closed: list[frozenset[int]] = [frozenset() for _ in wiring.patches]
        self._joins: dict[int, Pairs] = {}
        self.pairs: Pairs = ()  #: labels of terminals that patches join

    def copy(self) -> ContactNets:
        """One that can be changed without changing this one."""
        other = ContactNets.__new__(ContactNets)
        other._wiring = self._wiring
        other.net, other._closed = [*self.net], [*self._closed]
        other._joins, other.pairs = dict(self._joins), self.pairs
        return other

    def set_contacts(
        self, closed: Iterable[int], opened: Iterable[int]
    ) -> tuple[set[int], bool]:
        """Contacts have closed, and opened: clusters touched, and whether poles are."""
        patch_of = self._wiring.patches_of_element
        changed: dict[int, set[int]] = {}
        for e in closed:
            if e in patch_of:
                number = patch_of[e]
                changed.setdefault(number, set(self._closed[number])).add(e)
        for e in opened:
            if e in patch_of:
                number = patch_of[e]
                changed.setdefault(number, set(self._closed[number])).discard(e)
        touched: set[int] = set()
        joins = False
        for number, now in changed.items():
            if now != self._closed[number]:
                touched.update(self._wiring.patches[number].members)
                joins = self._relabel(number, frozenset(now)) or joins
        return touched, joins

    def _relabel(self, number: int, closed: frozenset[int]) -> bool:
        """Label a patch anew; True when it joins other terminals than before."""
        wiring = self._wiring
        before = wiring.label_patch(number, self._closed[number])
        after = wiring.label_patch(number, closed)
        self._closed[number] = closed
        for cluster, label in zip(wiring.patches[number].members, after.labels, strict=True):
            self.net[cluster] = label
        if before.joins == after.joins:
            return False
        if after.joins:
            self._joins[number] = after.joins
        else:
            self._joins.pop(number, None)
        self.pairs = tuple([pair for joins in self._joins.values() for pair in joins])
        return True

    def labels_under(self, under: Sequence[int]) -> tuple[int, ...]:
        """Labels of the clusters ``under`` the pickups of one side; () on plastic alone."""
        net = self.net
        first = net[under[0]] if under else NO_METAL
        for cluster in under:
            if net[cluster] != first:
                return tuple(sorted({net[c] for c in under} - {NO_METAL}))
        return () if first == NO_METAL else (first,)

    def joined(self, groups: Iterable[Sequence[int]]) -> Joins:
        """Make one net of every group of labels; of all terminals that patches join too."""
        return merged([*self.pairs, *groups])


def _first_nets(wiring: Wiring) -> list[int]:
    """By cluster: its terminal, or a label of its own."""
    clusters = len(wiring.layout.nodes)
    # The extra last entry answers for PLASTIC, which is index -1.
    nets = [*range(wiring.terminals, wiring.terminals + clusters), NO_METAL]
    for t, c in enumerate(wiring.terminal_clusters):
        nets[c] = t
    return nets


def clusters_of(wiring: Wiring) -> list[int]:
    """By node: its piece of metal, the extra last entry answering for PLASTIC (-1)."""
    return [*wiring.cluster_of, len(wiring.layout.nodes)]


@dataclass(slots=True)
class Poles:
    """What follows from nets being joined, and from what the supplies give.

    ``readings`` are by the labels under the two sides of a unit, as they are asked for.
    """

    joins: Joins
    state: PoleState
    shorted: frozenset[int]
    readings: dict[tuple[int, int], SupplyReading]


#: So many states of joined nets and of supplies are remembered.
POLES_REMEMBERED = 4096


class TracedSupply:
    """See :class:`sim.run.supply.SupplyModel`, which this implements."""

    band_um: float = inf

    def __init__(
        self,
        layout: Layout,
        slots: Sequence[int],
        closed: Iterable[int],
        wiring: Wiring | None = None,
    ) -> None:
        """Start with no pickup on metal.

        ``slots`` gives the number of pickups by side; ``closed`` the contacts that
        are closed at the start, and whatever else is that ``wiring`` keeps apart.
        """
        self.wiring: Wiring = wiring or wire(layout)
        self.cluster_of: Sequence[int] = clusters_of(self.wiring)
        self._nets = ContactNets(self.wiring)
        self._net = self._nets.net
        self._pole_of_terminal = self._first_poles()
        nominal = sources_of(layout.supplies)
        self._volts = [s.volts for s in nominal]
        self._signs = [1] * len(nominal)
        self.on = [True] * len(nominal)  #: by supply
        #: by side: the cluster under each of its pickups
        self.under = [[len(layout.nodes)] * n for n in slots]
        self._labels: list[tuple[int, ...]] = [() for _ in slots]
        self._dirty: set[int] = set(range(len(slots)))
        self._bridging: set[int] = set()
        self._readings: list[SupplyReading] = [NOTHING] * (len(slots) // 2)
        self._everything = True  # poles, throttle signs or bridges have changed
        self._poles_known: dict[object, Poles] = {}
        self.set_contacts(closed, ())
        self._given = self._what_is_given()
        self._poles = self._present_poles()

    def _first_poles(self) -> list[int]:
        found: dict[int, int] = {}
        for pole, terminal in enumerate(self.wiring.terminal_of):
            found.setdefault(terminal, pole)
        return [found[t] for t in range(self.wiring.terminals)]

    # -- what changes -----------------------------------------------------------

    def same_metal(self, a: int, b: int) -> bool:
        """Whether ``a`` and ``b`` are one cluster (or both plastic)."""
        return self.cluster_of[a] == self.cluster_of[b]

    def set_contacts(self, closed: Iterable[int], opened: Iterable[int]) -> None:
        """Relabel the patches that the given contacts belong to."""
        touched, joins = self._nets.set_contacts(closed, opened)
        self._everything = self._everything or joins
        if touched:
            for side, under in enumerate(self.under):
                if not touched.isdisjoint(under):
                    self._dirty.add(side)

    def tire(self, element: int, ohm: float | None) -> None:
        """What an element has got makes no difference to what it joins."""

    def move(self, side: int, slot: int, node: int) -> bool:
        """Put a pickup on ``node``; True when its net is another one now."""
        under = self.under[side]
        before = under[slot]
        under[slot] = after = self.cluster_of[node]
        if self._net[before] == self._net[after]:
            return False
        self._dirty.add(side)
        return True

    def switch(self, supply: int, on: bool) -> None:
        """Trip ``supply`` or switch it on."""
        self.on[supply] = on
        self._given = self._what_is_given()
        self._everything = True

    def off(self) -> tuple[int, ...]:
        """Supplies that are off at present."""
        return tuple(s for s, on in enumerate(self.on) if not on)

    def turn(self, supply: int, sign: int) -> None:
        """Turn the direction of a DC supply."""
        if self._signs[supply] != sign:
            self._signs[supply] = sign
            self._given = self._what_is_given()
            self._everything = True

    # -- what only a solved circuit asks for --------------------------------------

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
        return supply in self.shorted()

    def losses(self, unit: int) -> tuple[tuple[LostIn, float], ...]:
        """Tracing loses no volts."""
        return ()

    # -- the solution -----------------------------------------------------------

    def solve(self) -> Sequence[int]:
        """Relabel the sides that changed; everything if nets were joined or parted."""
        dirty, self._dirty = self._dirty, set()
        bridged = bool(self._bridging)
        for side in dirty:
            labels = self._labels[side] = self._nets.labels_under(self.under[side])
            if len(labels) > 1:
                self._bridging.add(side)
            else:
                self._bridging.discard(side)
        units: Iterable[int] = sorted({side >> 1 for side in dirty})
        if self._everything or bridged or self._bridging:
            self._everything = False
            poles = self._present_poles()
            if poles is not self._poles:
                self._poles = poles
                units = range(len(self._readings))
        changed = []
        for unit in units:
            reading = self._read(unit)
            if reading is not self._readings[unit] and reading != self._readings[unit]:
                self._readings[unit] = reading
                changed.append(unit)
        return changed

    def reading(self, unit: int) -> SupplyReading:
        """The reading of ``unit`` as last solved."""
        return self._readings[unit]

    def shorted(self) -> frozenset[int]:
        """Supplies in a short, those that are off left out."""
        return self._poles.shorted

    def bridging_units(self) -> tuple[int, ...]:
        """Units that join nets at the moment."""
        return tuple(sorted({side >> 1 for side in self._bridging}))

    def shorted_without(self, units: Collection[int]) -> frozenset[int]:
        """Supplies that would still be shorted if ``units`` were lifted."""
        joins = self._joined(s for s in self._bridging if s >> 1 not in units)
        state = pole_state(self._pattern(joins), self._sources(self.on))
        return frozenset(s for short in state.shorts for s in short)

    def labels(self, side: int) -> tuple[int, ...]:
        """Labels of the nets under the pickups of ``side``."""
        return self._labels[side]

    def label_of(self, node: int) -> int:
        """Label of the net that ``node`` is in, trains counted."""
        label = self._net[self.cluster_of[node]]
        return self._poles.joins.get(label, label)

    def pole_at(self, node: int) -> int | None:
        """A pole in the net of ``node``, trains counted; None when floating."""
        label = self.label_of(node)
        return self._pole_of_terminal[label] if 0 <= label < self.wiring.terminals else None

    def changeable(self, node: int) -> bool:
        """Whether contacts decide what ``node`` is joined to."""
        return self.cluster_of[node] not in self.wiring.terminal_clusters

    # -- what if ----------------------------------------------------------------

    def verdict_if(
        self,
        unit: int,
        closed: Iterable[int] = (),
        opened: Iterable[int] = (),
        bridged: Iterable[tuple[int, int]] = (),
        restored: Iterable[int] = (),
        mended: Iterable[int] = (),
    ) -> SupplyReading:
        """The reading of ``unit`` after a change that is only imagined."""
        nets = self._nets.copy()
        nets.set_contacts(closed, opened)
        back = {*restored}
        on = [now or s in back for s, now in enumerate(self.on)]
        labels = [nets.labels_under(under) for under in self.under]
        extra = [
            (nets.net[self.cluster_of[a]], nets.net[self.cluster_of[b]]) for a, b in bridged
        ]
        joins = nets.joined([*labels, *extra])
        pattern = self._pattern(joins)
        state = pole_state(pattern, self._sources(on))
        if state.shorts or joins_supplies(self._poles.state.pattern, pattern):
            return SupplyReading("short")
        left, right = labels[2 * unit], labels[2 * unit + 1]
        if not left or not right:
            return NOTHING
        a, b = self._pole(joins, left[0]), self._pole(joins, right[0])
        return SupplyReading(state.kind(a, b), (), (a, b))

    # -- inside -----------------------------------------------------------------

    def _joined(self, sides: Iterable[int]) -> Joins:
        return self._nets.joined([self._labels[s] for s in sorted(sides)])

    def _pattern(self, joins: Joins) -> Pattern:
        lowest: dict[int, int] = {}
        return tuple(
            lowest.setdefault(joins.get(t, t), pole)
            for pole, t in enumerate(self.wiring.terminal_of)
        )

    def _sources(self, on: Sequence[bool]) -> tuple[Source, ...]:
        rows = zip(self._volts, self._signs, on, strict=True)
        return tuple(Source(v * sign, is_on) for v, sign, is_on in rows)

    def _what_is_given(self) -> object:
        """A key that is another one when any supply gives something else."""
        return tuple(self._signs), tuple(self.on)

    def _present_poles(self) -> Poles:
        groups = tuple([self._labels[side] for side in sorted(self._bridging)])
        key = self._nets.pairs, groups, self._given
        known = self._poles_known.get(key)
        if known is None:
            if len(self._poles_known) >= POLES_REMEMBERED:
                self._poles_known.clear()
            joins = self._nets.joined(groups)
            state = pole_state(self._pattern(joins), self._sources(self.on))
            shorted = frozenset(s for short in state.shorts for s in short)
            known = self._poles_known[key] = Poles(joins, state, shorted, {})
        return known

    def _pole(self, joins: Joins, label: int) -> int | None:
        label = joins.get(label, label)
        return self._pole_of_terminal[label] if label < self.wiring.terminals else None

    def _read(self, unit: int) -> SupplyReading:
        left, right = self._labels[2 * unit], self._labels[2 * unit + 1]
        if not left or not right:
            return NOTHING
        pair = left[0], right[0]
        readings = self._poles.readings
        known = readings.get(pair)
        if known is None:
            known = readings[pair] = self._judge(*pair)
        return known

    def _judge(self, left: int, right: int) -> SupplyReading:
        poles = self._poles
        a, b = self._pole(poles.joins, left), self._pole(poles.joins, right)
        verdict = poles.state.kind(a, b)
        if verdict is None and a is not None and b is not None:
            return SupplyReading(None, poles.state.steps(a, b), (a, b))
        return SupplyReading(verdict, (), (a, b))
