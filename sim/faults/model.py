"""The faults that a layout can have, one by one.

A fault is one part in one bad state.  Only faults that tracing can tell are here:
a tired contact or joiner still conducts, so the circuit has to say what it does.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from typing import Literal

from sim.layout.model import Element, ElementKind, Layout

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
