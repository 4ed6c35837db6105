"""The faults that a layout can have, and every one of them traced in every setting.

The faults that a layout can have, one by one.

A fault is one part in one bad state.  Only faults that tracing can tell are here:
a tired contact or joiner still conducts, so the circuit has to say what it does.

Trace every fault set in every setting at once: a bit for each of these states.

State number ``q * stride + k`` is setting *k* with fault set *q*; the stride is
the number of settings, filled up to whole bytes, so that what comes out can be
counted by bytes.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from sim.layout.model import Element, ElementKind, Layout
from sim.power.trace import Positions, Traced, closed_bits, literal_bits, trace_closed
from sim.power.wiring import Wiring, behind, is_permanent, wire

FaultKind = Literal[
    "contact open",
    "contact never opens",
    "lever does not follow",
    "joiner open",
    "feeder off",
    "bus off",
    "jumper off",
    "supply off",
]

_OFF: dict[ElementKind, FaultKind] = {
    "joiner": "joiner open",
    "feeder": "feeder off",
    "bus": "bus off",
    "jumper": "jumper off",
}


@dataclass(frozen=True, slots=True)
class Fault:
    """One part in one bad state.

    ``part`` is the id of the element or lever, or the name of the supply;
    ``index`` its place among the layout's elements, levers or supplies.  A lever
    that does not follow stands ``turn`` positions on from where it should be: 1
    for the usual two positions.
    """

    kind: FaultKind
    part: str
    index: int
    turn: int = 0

    @property
    def id(self) -> str:
        """Names the fault among all of its layout, the same with every fix."""
        more = f" ({self.turn} on)" if self.turn > 1 else ""
        return f"{self.part}: {self.kind}{more}"


def faults_of(layout: Layout) -> tuple[Fault, ...]:
    """Every fault that tracing can tell, in the order of the layout."""
    return (*_of_elements(layout.elements), *_of_levers(layout), *_of_supplies(layout))


def _of_elements(elements: Iterable[Element]) -> Iterator[Fault]:
    for i, e in enumerate(elements):
        if e.kind == "contact":
            yield Fault("contact open", e.id, i)
            yield Fault("contact never opens", e.id, i)
        elif e.kind in _OFF:
            yield Fault(_OFF[e.kind], e.id, i)


def _of_levers(layout: Layout) -> Iterator[Fault]:
    for i, lever in enumerate(layout.levers):
        for turn in range(1, len(lever.positions)):
            yield Fault("lever does not follow", lever.id, i, turn)


def _of_supplies(layout: Layout) -> Iterator[Fault]:
    for i, supply in enumerate(layout.supplies):
        yield Fault("supply off", supply.name, i)


FaultSet = tuple[Fault, ...]


def fault_sets(faults: Iterable[Fault], depth: int) -> list[FaultSet]:
    """No fault, every single one and, with ``depth`` 2, every two of different parts."""
    single = tuple(faults)
    sets: list[FaultSet] = [(), *((f,) for f in single)]
    if depth >= 2:
        sets += [
            (f, g) for i, f in enumerate(single) for g in single[i + 1 :] if f.part != g.part
        ]
    return sets


Blocks = NDArray[np.uint8]

BITS_PER_BYTE = 8


@dataclass(frozen=True, slots=True)
class Grid:
    """Settings by fault sets, as bits of one whole number."""

    settings: tuple[Positions, ...]
    sets: tuple[FaultSet, ...]
    width: int  #: bytes that the settings of one fault set take
    #: the lowest bit of every fault set's block
    lows: int

    @property
    def every(self) -> int:
        """All settings of all fault sets."""
        return self.spread(self.all_settings)

    @property
    def all_settings(self) -> int:
        """All settings of one fault set."""
        return (1 << len(self.settings)) - 1

    def spread(self, settings: int) -> int:
        """The same ``settings`` for every fault set."""
        return settings * self.lows

    def where(self, numbers: Iterable[int]) -> int:
        """All settings of the fault sets in ``numbers``."""
        block = self.all_settings.to_bytes(self.width, "little")
        buffer = bytearray(self.width * len(self.sets))
        for q in numbers:
            buffer[q * self.width : (q + 1) * self.width] = block
        return int.from_bytes(buffer, "little")

    def blocks(self, bits: int) -> Blocks:
        """``bits`` as bytes; shape (fault sets, width)."""
        raw = bits.to_bytes(self.width * len(self.sets), "little")
        return np.frombuffer(raw, np.uint8).reshape(len(self.sets), self.width)


def grid(settings: Sequence[Positions], sets: Sequence[FaultSet]) -> Grid:
    """Lay out the states of ``settings`` under ``sets``."""
    width = -(-len(settings) // BITS_PER_BYTE)
    one = (1).to_bytes(width, "little")
    return Grid(tuple(settings), tuple(sets), width, int.from_bytes(one * len(sets), "little"))


class FaultTracer:
    """Traces fault sets on one layout; the wiring is contracted once.

    ``faults`` are all that may occur: what none of them concerns stays joined.
    """

    def __init__(self, layout: Layout, faults: Iterable[Fault]) -> None:
        self.layout = layout
        self.loose = _loose(layout, faults)
        self.wiring: Wiring = wire(layout, switched=self.loose)
        changing = [
            i
            for i, e in enumerate(layout.elements)
            if e.kind == "contact" or (is_permanent(e) and i in self.loose)
        ]
        at = self.wiring.cluster_of
        elements = layout.elements
        # What joins metal that is joined anyway can neither harm nor help.
        self._changing = [i for i in changing if at[elements[i].a] != at[elements[i].b]]

    def trace(self, states: Grid, without: Sequence[str] = ()) -> Traced[int]:
        """Trace all states, elements whose kind is in ``without`` left out."""
        members: dict[Fault, list[int]] = {}
        for q, faults in enumerate(states.sets):
            for fault in faults:
                members.setdefault(fault, []).append(q)
        when = {fault: states.where(numbers) for fault, numbers in members.items()}
        literal = self._literal(states, when)
        every = states.every
        closed = {
            i: closed_bits(self.layout.elements[i].when, literal, every)
            if self.layout.elements[i].kind == "contact"
            else every
            for i in self._changing
            if self.layout.elements[i].kind not in without
        }
        for fault, bits in when.items():
            self._apply(fault, bits, closed)
        return trace_closed(self.layout, self.wiring, closed, every)

    def _literal(self, states: Grid, when: dict[Fault, int]) -> dict[tuple[int, int], int]:
        """When each (lever, position) holds, levers that do not follow counted."""
        asked = literal_bits(self.layout, states.settings)
        literal = {key: states.spread(bits) for key, bits in asked.items()}
        for fault, bits in when.items():
            if fault.kind != "lever does not follow":
                continue
            lever, count = fault.index, len(self.layout.levers[fault.index].positions)
            moved = {
                (lever, (p + fault.turn) % count): literal.get((lever, p), 0) & bits
                for p in range(count)
            }
            for key, there in moved.items():
                literal[key] = literal.get(key, 0) & ~bits | there
        return literal

    def _apply(self, fault: Fault, bits: int, closed: dict[int, int]) -> None:
        """Open or close what ``fault`` concerns, in the states ``bits``."""
        if fault.kind == "contact never opens":
            if fault.index in closed:
                closed[fault.index] |= bits
        elif fault.kind == "supply off":
            for i in behind(self.layout, fault.index):
                if i in closed:
                    closed[i] &= ~bits
        elif fault.kind != "lever does not follow" and fault.index in closed:
            closed[fault.index] &= ~bits


def _loose(layout: Layout, faults: Iterable[Fault]) -> frozenset[int]:
    """Permanent elements that some fault opens."""
    found: set[int] = set()
    for f in faults:
        if f.kind == "supply off":
            found.update(behind(layout, f.index))
        elif f.kind != "lever does not follow" and is_permanent(layout.elements[f.index]):
            found.add(f.index)
    return frozenset(found)
