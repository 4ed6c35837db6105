"""Places where a reading can be taken, and stretches that every train reaches past.

Places where a reading can be taken, and what it takes to get there.

Stretches that every train reaches past, so that what it did tells nothing of them.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from typing import Literal

from sim.bench.readings.model import Positions
from sim.layout.model import PLASTIC, Layout, Route
from sim.power.trace import trace

#: ``end``: a rail at an end; ``top``: a rail's top between the ends; ``opened``: only
#: when the piece is opened.
Reach = Literal["end", "top", "opened"]
REACHES: tuple[Reach, ...] = ("end", "top", "opened")


@dataclass(frozen=True, slots=True)
class Place:
    """A place on a rail section: what files call it, its node, and how it is reached."""

    ref: str
    node: int
    reach: Reach
    piece: str


def places_of(layout: Layout, pieces: Iterable[int]) -> tuple[Place, ...]:
    """One place for each section of ``pieces`` that can be reached: the easiest."""
    node = {name: k for k, name in enumerate(layout.nodes)}
    found: dict[int, Place] = {}
    for number in pieces:
        for place in _of_piece(layout, number, node):
            found.setdefault(place.node, place)
    return tuple(sorted(found.values(), key=lambda p: REACHES.index(p.reach)))


def _of_piece(layout: Layout, number: int, node: dict[str, int]) -> Iterator[Place]:
    placed = layout.pieces[number]
    piece, at = placed.piece, placed.id
    for end in piece.ends:
        for side, section in (("north", end.north), ("south", end.south)):
            yield Place(f"{at}/{end.name}/{side}", node[f"{at}/{section}"], "end", at)
    for route in piece.routes:
        for span in route.spans:
            for name in (span.left, span.right):
                if name is not None:
                    yield Place(f"{at}/{name}", node[f"{at}/{name}"], "top", at)
    for pad in piece.pads:
        hidden = piece.cover != "none" and pad.face == "underside"
        reach: Reach = "opened" if hidden else "top"
        yield Place(f"{at}/{pad.name}", node[f"{at}/{pad.section}"], reach, at)


def node_of(layout: Layout, ref: str) -> int | None:
    """Node of a section, of a pad, or of a rail at an end (``module/piece/end/north``)."""
    if ref in layout.nodes:
        return layout.nodes.index(ref)
    for name, node in layout.pads:
        if name == ref:
            return node
    head, _, side = ref.rpartition("/")
    owner, _, name = head.rpartition("/")
    if side in ("north", "south"):
        for placed in layout.pieces:
            if placed.id == owner:
                for end in placed.piece.ends:
                    if end.name == name:
                        section = end.north if side == "north" else end.south
                        return layout.nodes.index(f"{owner}/{section}")
    return None


def known_refs(layout: Layout) -> list[str]:
    """Everything that :func:`node_of` understands, for hints."""
    ends = [
        f"{p.id}/{end.name}/{side}"
        for p in layout.pieces
        for end in p.piece.ends
        for side in ("north", "south")
    ]
    return [*layout.nodes, *(name for name, _ in layout.pads), *ends]


def pieces_at(layout: Layout, nodes: Iterable[int]) -> list[int]:
    """Pieces that ``nodes`` belong to, in order of pieces."""
    names = {layout.nodes[n].rpartition("/")[0] for n in nodes}
    return [k for k, placed in enumerate(layout.pieces) if placed.id in names]


#: A stretch as long as so many gauges is reached past by pickups (our assumption).
GAUGES = 3.0


def passed_over(layout: Layout, route: Route, positions: Positions) -> set[tuple[int, int]]:
    """Pairs of rails of ``route`` that have no return in good order and are short.

    Between the gaps of a crossing from loop to loop one rail is of each: no supply lies
    across them, and yet trains run, because they reach past.
    """
    traced = trace(layout, [positions])
    spans = [
        s
        for s in route.spans
        if PLASTIC not in (s.left, s.right) and "no return" in traced.verdicts(s.left, s.right)
    ]
    if not spans:
        return set()
    long_um = max(s.to_um for s in spans) - min(s.from_um for s in spans)
    if long_um > GAUGES * layout.pieces[route.piece].piece.gauge_mm * 1000.0:
        return set()
    return {(s.left, s.right) for s in spans}
