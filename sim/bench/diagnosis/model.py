"""What can be wrong with a layout or a piece on the bench, and how likely it is.

What can be wrong with a layout, and how likely it is before anything is read.

A piece on the bench, by itself: a layout of one piece and no supply.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Literal, get_args

from sim.layout.model import PLASTIC, Control, Element, Layout, Lever, PlacedPiece, Route, Span
from sim.pieces.model import Condition, Piece

FaultKind = Literal[
    "contact open",
    "contact tired",
    "contact never opens",
    "bond open",
    "gap bridged",
    "joiner open",
    "joiner tired",
    "feeder off",
    "bus off",
    "jumper off",
    "supply off",
    "lever does not follow",
]
KINDS: tuple[FaultKind, ...] = get_args(FaultKind)

#: How likely each fault is in a part that nobody has looked at.  No published rate
#: exists.  Contacts together make the "10 % not good in an old or untested piece" of
#: common practice (no source); the others are our starting values, no source.
ODDS: Mapping[FaultKind, float] = {
    "contact open": 0.06,
    "contact tired": 0.04,
    "contact never opens": 0.004,
    "bond open": 0.003,
    "gap bridged": 0.003,
    "joiner open": 0.02,
    "joiner tired": 0.02,
    "feeder off": 0.01,
    "bus off": 0.003,
    "jumper off": 0.01,
    "supply off": 0.01,
    "lever does not follow": 0.005,
}
ODDS_WHOSE = "our starting value, no source"

_OF_ELEMENT: Mapping[str, tuple[FaultKind, ...]] = {
    "contact": ("contact open", "contact tired", "contact never opens"),
    "bond": ("bond open",),
    "gap": ("gap bridged",),
    "joiner": ("joiner open", "joiner tired"),
    "feeder": ("feeder off",),
    "bus": ("bus off",),
    "jumper": ("jumper off",),
}


@dataclass(frozen=True, slots=True)
class Fault:
    """One part in one bad state.

    ``index`` is the part's place among the layout's elements, levers or supplies.  A
    lever that does not follow stands ``turn`` positions on from where it should be.
    ``odds`` is the probability of it before anything is read.
    """

    kind: FaultKind
    part: str
    index: int
    turn: int = 0
    odds: float = 0.01

    @property
    def weight(self) -> float:
        """Odds for against: what a diagnosis is worth is the product over its faults."""
        share = min(max(self.odds, 1e-12), 1.0 - 1e-12)
        return share / (1.0 - share)

    @property
    def words(self) -> str:
        """The fault as a person says it."""
        return f"{self.part}: {self.kind}" + (f" ({self.turn} on)" if self.turn > 1 else "")


def faults_of(
    layout: Layout, odds: Mapping[str, float] | None = None, powered: bool = True
) -> tuple[Fault, ...]:
    """Every fault of ``layout``, in its order.

    ``odds`` are the user's own, by kind of fault or by id of a part; the id
    outweighs.  Without ``powered`` supplies are left out: a meter cannot tell.
    """
    own = odds or {}
    found = [*_of_elements(layout, own), *_of_levers(layout, own)]
    if powered:
        for i, supply in enumerate(layout.supplies):
            found.append(_fault("supply off", supply.name, i, own))
    return tuple(f for f in found if f.odds > 0.0)


def _of_elements(layout: Layout, own: Mapping[str, float]) -> Iterator[Fault]:
    for i, element in enumerate(layout.elements):
        for kind in _OF_ELEMENT.get(element.kind, ()):
            yield _fault(kind, element.id, i, own, element)


def _of_levers(layout: Layout, own: Mapping[str, float]) -> Iterator[Fault]:
    for i, lever in enumerate(layout.levers):
        for turn in range(1, len(lever.positions)):
            fault = _fault("lever does not follow", lever.id, i, own)
            yield Fault(fault.kind, fault.part, i, turn, fault.odds)


def _fault(
    kind: FaultKind, part: str, index: int, own: Mapping[str, float],
    element: Element | None = None,
) -> Fault:  # fmt: skip
    share = own.get(part, own.get(kind))
    if share is None:
        share = ODDS[kind]
        if element is not None and kind == "contact open" and element.found_open > 0.0:
            share = element.found_open  # what the scenario says of this very contact
    return Fault(kind, part, index, odds=share)


FaultSet = tuple[int, ...]  #: places in a list of faults, ascending


def weight_of(faults: tuple[Fault, ...], chosen: FaultSet) -> float:
    """How likely a set of faults is, against no fault at all."""
    weight = 1.0
    for i in chosen:
        weight *= faults[i].weight
    return weight


def may_be_together(faults: tuple[Fault, ...], chosen: FaultSet) -> bool:
    """No part twice."""
    parts = [faults[i].part for i in chosen]
    return len(set(parts)) == len(parts)


BENCH = "bench"


def layout_of(piece: Piece, name: str = "piece") -> Layout:
    """``piece`` as a layout; its id is ``bench/name``. Gangs move together."""
    at = f"{BENCH}/{name}"
    node = {section.name: k for k, section in enumerate(piece.sections)}
    placed = PlacedPiece(
        at, BENCH, piece, tuple(range(len(piece.routes))), (), tuple(range(len(piece.levers)))
    )
    return Layout(
        nodes=tuple(f"{at}/{section.name}" for section in piece.sections),
        elements=tuple(_elements(piece, at, node)),
        supplies=(),
        districts=(),
        levers=tuple(_levers(piece, at)),
        controls=tuple(_controls(piece, at)),
        routes=tuple(_routes(piece, at, node)),
        ends=(),
        pieces=(placed,),
        modules=(),
        pads=tuple((f"{at}/{pad.name}", node[pad.section]) for pad in piece.pads),
    )


def _elements(piece: Piece, at: str, node: dict[str, int]) -> list[Element]:
    lever = {x.name: k for k, x in enumerate(piece.levers)}
    positions = [x.positions for x in piece.levers]

    def when(condition: Condition) -> tuple[tuple[tuple[int, int], ...], ...]:
        return tuple(
            tuple((lever[x], positions[lever[x]].index(p)) for x, p in clause)
            for clause in condition
        )

    return [
        *(
            Element(f"{at}/{b.name}", "bond", node[b.a], node[b.b], piece=0)
            for b in piece.bonds
        ),
        *(
            Element(f"{at}/{c.name}", "contact", node[c.a], node[c.b], when(c.when), piece=0)
            for c in piece.contacts
        ),
        *(Element(f"{at}/{g.name}", "gap", node[g.a], node[g.b], piece=0) for g in piece.gaps),
    ]


def _levers(piece: Piece, at: str) -> list[Lever]:
    return [
        Lever(f"{at}/{x.name}", x.positions, x.positions.index(x.rest), x.run_through, 0.0, 0)
        for x in piece.levers
    ]


def _routes(piece: Piece, at: str, node: dict[str, int]) -> list[Route]:
    def metal(name: str | None) -> int:
        return PLASTIC if name is None else node[name]

    return [
        Route(
            f"{at}/{route.name}", 0, -1, -1, round(route.length_mm * 1000),
            tuple(
                Span(round(s.from_mm * 1000), round(s.to_mm * 1000), metal(s.left),
                     metal(s.right))
                for s in route.spans
            ),
            (),
        )
        for route in piece.routes
    ]  # fmt: skip


def _controls(piece: Piece, at: str) -> list[Control]:
    lever = {x.name: k for k, x in enumerate(piece.levers)}
    found, ganged = [], set[str]()
    for gang in piece.gangs:
        ganged |= set(gang.levers)
        sets = [piece.levers[lever[x]].positions for x in gang.levers]
        both = tuple(p for p in sets[0] if all(p in other for other in sets))
        found.append(Control(f"{at}/{gang.name}", tuple(lever[x] for x in gang.levers), both))
    found += [
        Control(f"{at}/{x.name}", (lever[x.name],), x.positions)
        for x in piece.levers
        if x.name not in ganged
    ]
    return found
