"""Every fault set traced in every setting at once: a bit for each of these states.

A survey goes through the faults that a run can bring about and tracing can tell: a tired
contact or joiner still conducts, so the circuit has to say what it does.

State number ``q * stride + k`` is setting *k* with fault set *q*; the stride is
the number of settings, filled up to whole bytes, so that what comes out can be
counted by bytes.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from sim.faults.effects import change, loosened, stand
from sim.faults.possible import Fault, is_traced
from sim.faults.possible import faults_of as faults_among
from sim.layout.model import Layout
from sim.power.trace import Positions, Traced, closed_bits, literal_bits, trace_closed
from sim.power.wiring import Wiring, is_permanent, wire


def faults_of(layout: Layout) -> tuple[Fault, ...]:
    """Every fault that a run can bring about and tracing can tell, in the layout's order."""
    return tuple(faults_among(layout, is_traced))


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
        opened = loosened(faults)
        self.loose = frozenset(i for i in opened if is_permanent(layout.elements[i]))
        self._positions = {i: len(x.positions) for i, x in enumerate(layout.levers)}
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
        off = change(when.items(), closed).off
        return trace_closed(self.layout, self.wiring, closed, every, off=off)

    def _literal(self, states: Grid, when: dict[Fault, int]) -> dict[tuple[int, int], int]:
        """When each (lever, position) holds, levers that do not follow counted."""
        asked = literal_bits(self.layout, states.settings)
        literal = {key: states.spread(bits) for key, bits in asked.items()}
        stand(when.items(), literal, self._positions, 0)
        return literal
