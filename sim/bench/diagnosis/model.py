"""What can be wrong with a layout or a piece on the bench, and how likely it is.

What can be wrong with a layout, and how likely it is before anything is read.

A piece on the bench, by itself: a layout of one piece and no supply.
"""

from __future__ import annotations

from collections.abc import Mapping

from sim.faults.possible import Fault, Standing, can_be_found
from sim.faults.possible import faults_of as faults_among
from sim.layout.model import PLASTIC, Control, Element, Layout, Lever, PlacedPiece, Route, Span
from sim.pieces.model import Condition, Piece


def faults_of(
    layout: Layout,
    odds: Mapping[str, float] | None = None,
    powered: bool = True,
    standing: Standing | None = None,
) -> tuple[Fault, ...]:
    """Every fault of ``layout`` that readings can name, in its order.

    ``odds`` are the user's own, by kind of fault or by id of a part; the id
    outweighs; see :func:`sim.faults.possible.faults_of`.  Without ``powered`` supplies are
    left out: a meter cannot tell.
    """
    found = faults_among(layout, can_be_found, odds, standing)
    return tuple(f for f in found if f.odds > 0.0 and (powered or f.of != "supply"))


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
