"""What would be read under each candidate: one bit for each set of faults.

A candidate is a set of faults.  Elements become whole numbers whose bit *k* is set
when the element conducts under candidate *k*; what is joined spreads by AND and OR
(:mod:`sim.power.bit_reach`), twice: through everything that conducts, and only through
what conducts well.  What conducts well under every candidate is joined up first, so
that the size of the layout matters less than the number of candidates.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from functools import cached_property

from sim.bench.diagnosis.model import FaultSet
from sim.bench.readings.model import Positions, Probe
from sim.faults.effects import Effects, change, stand
from sim.faults.possible import Fault
from sim.layout.model import PLASTIC, Element, Layout
from sim.power.bit_reach import spread
from sim.power.trace import Traced, closed_bits, trace_closed
from sim.power.wiring import Forest, is_permanent, wire

LAYOUT = "layout"


class Columns:
    """Candidates side by side. ``when`` gives for each fault the candidates that have it."""

    def __init__(self, faults: Sequence[Fault], sets: Sequence[FaultSet]) -> None:
        self.faults, self.sets = faults, tuple(sets)
        self.every = (1 << len(self.sets)) - 1
        numbers: dict[int, list[int]] = {}
        for k, chosen in enumerate(self.sets):
            for fault in chosen:
                numbers.setdefault(fault, []).append(k)
        self.when = {fault: _bits(found, len(self.sets)) for fault, found in numbers.items()}

    @cached_property
    def by_fault(self) -> list[tuple[Fault, int]]:
        """Faults, with their candidates."""
        return [(self.faults[f], bits) for f, bits in self.when.items()]

    @cached_property
    def of_levers(self) -> list[tuple[Fault, int]]:
        """Faults of levers, with their candidates."""
        return [(fault, bits) for fault, bits in self.by_fault if fault.of == "lever"]


def _bits(numbers: Sequence[int], count: int) -> int:
    buffer = bytearray(count // 8 + 1)
    for k in numbers:
        buffer[k >> 3] |= 1 << (k & 7)
    return int.from_bytes(buffer, "little")


@dataclass(slots=True)
class MeterView:
    """What a meter finds in one setting, at one where, under every candidate."""

    every: int
    cluster_of: list[int]
    any_edges: list[tuple[int, int, int]]
    sound_edges: list[tuple[int, int, int]]
    tired: bool
    _seen: dict[int, tuple[list[int], list[int]]] = field(default_factory=dict)

    def reach(self, node: int) -> tuple[list[int], list[int]]:
        """By cluster: candidates under which ``node`` reaches it, and reaches it well."""
        source = self.cluster_of[node]
        known = self._seen.get(source)
        if known is None:
            count = len(self.cluster_of)
            through = spread(count, self.any_edges, source, self.every)
            well = through
            if self.tired:
                well = spread(count, self.sound_edges, source, self.every)
            known = self._seen[source] = through, well
        return known

    def answers(self, a: int, b: int) -> dict[str, int]:
        """For each outcome, the candidates under which it would be read."""
        through, well = self.reach(a)
        there = self.cluster_of[b]
        joined, conducts = well[there], through[there]
        return {
            "joined": joined,
            "tired": conducts & ~joined,
            "open": self.every & ~conducts,
        }


class States:
    """Answers for any candidates in any setting of one layout."""

    def __init__(self, layout: Layout, faults: Sequence[Fault]) -> None:
        self.layout, self.faults = layout, tuple(faults)
        self._positions = {i: len(x.positions) for i, x in enumerate(layout.levers)}
        self._within: dict[str, list[int]] = {LAYOUT: list(range(len(layout.elements)))}

    def elements_at(self, where: str) -> list[int]:
        """Elements that count there: all, or those within one module or piece."""
        if where not in self._within:
            inside = {
                k for k, name in enumerate(self.layout.nodes) if name.startswith(f"{where}/")
            }
            self._within[where] = [
                i for i, e in enumerate(self.layout.elements) if e.a in inside and e.b in inside
            ]
        return self._within[where]

    def meter(self, columns: Columns, positions: Positions, where: str = LAYOUT) -> MeterView:
        """What a meter finds with the levers asked for ``positions``."""
        conducts, effects = self.conducting(columns, positions, self.elements_at(where))
        tired = effects.tired
        forest = Forest(len(self.layout.nodes))
        loose: list[int] = []
        for i, bits in conducts.items():
            e = self.layout.elements[i]
            if bits == columns.every and not tired.get(i):
                forest.join(e.a, e.b)
            elif bits:
                loose.append(i)
        cluster_of = forest.roots()
        edges, sound = [], []
        for i in loose:
            a, b = (
                cluster_of[n] for n in (self.layout.elements[i].a, self.layout.elements[i].b)
            )
            if a != b:
                edges.append((a, b, conducts[i]))
                sound.append((a, b, conducts[i] & ~tired.get(i, 0)))
        worn = any(tired.values())
        return MeterView(columns.every, cluster_of, edges, sound, worn)

    def powered(self, columns: Columns, positions: Positions) -> PoweredView:
        """What lamps and trains find with the supply on."""
        conducts, effects = self.conducting(columns, positions, self.elements_at(LAYOUT))
        tired = effects.tired
        through = self._traced(columns, conducts, effects.off)
        well = through
        if any(tired.values()):
            sound = {i: bits & ~tired.get(i, 0) for i, bits in conducts.items()}
            well = self._traced(columns, sound, effects.off)
        return PoweredView(columns.every, through, well)

    def _traced(
        self, columns: Columns, conducts: dict[int, int], off: dict[int, int]
    ) -> Traced[int]:
        elements = self.layout.elements
        moving = {
            i: bits
            for i, bits in conducts.items()
            if not is_permanent(elements[i]) or bits != columns.every
        }
        loose = [i for i in moving if is_permanent(elements[i])]
        wiring = wire(self.layout, switched=loose)
        closed = {i: bits for i, bits in moving.items() if bits}
        return trace_closed(self.layout, wiring, closed, columns.every, off=off)

    def conducting(
        self, columns: Columns, positions: Positions, elements: Sequence[int]
    ) -> tuple[dict[int, int], Effects[int]]:
        """By element: candidates under which it conducts; and what faults do besides."""
        every = columns.every
        literal = dict.fromkeys(enumerate(positions), every)
        stand(columns.of_levers, literal, self._positions, 0)
        conducts = {i: _usual(self.layout.elements[i], literal, every) for i in elements}
        return conducts, change(columns.by_fault, conducts)

    def answers(self, columns: Columns, probe: Probe) -> dict[str, int]:
        """For each outcome of ``probe``, the candidates under which it would be read."""
        if probe.what == "meter":
            return self.meter(columns, probe.positions, probe.where).answers(probe.a, probe.b)
        view = self.powered(columns, probe.positions)
        pairs = probe.pairs or ((probe.a, probe.b),)
        return view.answers(pairs)


@dataclass(slots=True)
class PoweredView:
    """What lamps and trains find in one setting under every candidate."""

    every: int
    through: Traced[int]
    well: Traced[int]

    def answers(self, pairs: Sequence[tuple[int, int]]) -> dict[str, int]:
        """For each outcome over all of ``pairs``, the candidates that give it."""
        live = conducts = self.every
        short = 0
        for left, right in pairs:
            if PLASTIC in (left, right):
                continue
            verdicts = self.through.verdicts(left, right)
            short |= verdicts.get("short", 0)
            conducts &= verdicts.get(None, 0)
            live &= self.well.verdicts(left, right).get(None, 0)
        live &= conducts & ~short
        weak = conducts & ~live & ~short
        return {
            "live": live,
            "weak": weak,
            "dead": self.every & ~(live | weak | short),
            "short": short,
        }


def _usual(element: Element, literal: dict[tuple[int, int], int], every: int) -> int:
    """When an element in good order conducts."""
    if element.kind == "gap":
        return 0
    if element.kind == "contact":
        return closed_bits(element.when, literal, every)
    return every
