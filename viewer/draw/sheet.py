"""All lines of a layout on the ground, ready to be drawn again and again.

Everything that does not change from moment to moment is worked out once here.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from math import cos, hypot, radians, sin

from sim.layout.model import PLASTIC, Element, Layout
from viewer.place.ground import Box, Break, Ground, lay_out
from viewer.place.lines import (
    Line,
    Point,
    end_named,
    middle,
    places_along,
    rail_line,
    start_pose,
)

UM_PER_MM = 1000
#: What is written beside a thing reaches this many gauges from it.
REACH = 4.0
#: Of the track every place in so many gauges is one that notes keep off, and so many in all.
SPOT_GAUGES, SPOTS_AT_MOST = 8.0, 200


@dataclass(frozen=True, slots=True)
class Rail:
    """A stretch of rail: ``node`` is PLASTIC for plastic.

    A blade (``lever`` not -1) lies along ``opened`` unless the lever is at
    ``position``.
    """

    node: int
    line: Line
    lever: int = -1
    position: int = -1
    opened: Line = ()


@dataclass(frozen=True, slots=True)
class Stretch:
    """A span of a route on the ground: the line between its rails."""

    route: int
    left: int
    right: int
    line: Line
    centre: Point


@dataclass(frozen=True, slots=True)
class Thing:
    """An element or lever at its place. ``number`` is its index in the layout.

    ``far`` is the other end where it spans a distance, else the place itself.
    """

    number: int
    id: str
    at: Point
    far: Point
    heading_deg: float = 0.0


@dataclass(frozen=True, slots=True)
class PadSpot:
    """A solder pad at its place."""

    id: str
    node: int
    at: Point
    size_mm: float
    slides: bool


@dataclass(frozen=True, slots=True)
class PieceSheet:
    """All that is drawn of one piece."""

    piece: int
    gauge_mm: float
    box: tuple[float, float, float, float]
    beds: tuple[Line, ...]
    rails: tuple[Rail, ...]
    stretches: tuple[Stretch, ...]
    gaps: tuple[Thing, ...]
    contacts: tuple[Thing, ...]
    bonds: tuple[Thing, ...]
    levers: tuple[Thing, ...]
    pads: tuple[PadSpot, ...]
    frogs: tuple[tuple[str, Point], ...]
    names: tuple[tuple[int, Point, float], ...]  #: node, place and length of its longest line


@dataclass(frozen=True, slots=True)
class Sheet:
    """A layout on the ground, piece by piece, and the wires between."""

    layout: Layout
    ground: Ground
    pieces: tuple[PieceSheet, ...]
    feeders: tuple[Thing, ...]
    jumpers: tuple[Thing, ...]
    joiners: tuple[Thing, ...]
    where: dict[str, Point]  #: of every element, lever and pad that has a place
    boards: tuple[tuple[int, Box], ...]  #: module number and outline
    breaks: tuple[Break, ...]
    spots: tuple[Point, ...] = ()  #: some places along the track, for notes to keep off

    def within(self, box: Box) -> Sheet:
        """The same with only what reaches into ``box``."""
        near = 0.0 if not self.pieces else self.pieces[0].gauge_mm * REACH

        def inside(at: Point, far: Point) -> bool:
            return (
                max(at[0], far[0]) >= box[0] - near
                and min(at[0], far[0]) <= box[2] + near
                and max(at[1], far[1]) >= box[1] - near
                and min(at[1], far[1]) <= box[3] + near
            )

        def some(things: tuple[Thing, ...]) -> tuple[Thing, ...]:
            return tuple(t for t in things if inside(t.at, t.far))

        return replace(
            self,
            pieces=tuple(p for p in self.pieces if overlap(p.box, box)),
            feeders=some(self.feeders),
            jumpers=some(self.jumpers),
            joiners=some(self.joiners),
            boards=tuple(b for b in self.boards if overlap(b[1], box, near)),
            breaks=tuple(
                b
                for b in self.breaks
                if any(inside((p.x_mm, p.y_mm), (p.x_mm, p.y_mm)) for p in (b.one, b.other))
            ),
        )


def overlap(a: Box, b: Box, near: float = 0.0) -> bool:
    """Whether two boxes come within ``near`` of each other."""
    return (
        a[2] >= b[0] - near and a[0] <= b[2] + near
        and a[3] >= b[1] - near and a[1] <= b[3] + near
    )  # fmt: skip


def sheet_of(layout: Layout, ground: Ground | None = None) -> Sheet:
    """Work out the lines of ``layout``."""
    return _Maker(layout, ground or lay_out(layout)).sheet()


class _Maker:
    def __init__(self, layout: Layout, ground: Ground) -> None:
        self.layout, self.ground = layout, ground
        self.node = {name: k for k, name in enumerate(layout.nodes)}
        self.element = {e.id: k for k, e in enumerate(layout.elements)}
        self.lever = {x.id: k for k, x in enumerate(layout.levers)}
        self.pads: dict[str, PadSpot] = {}
        self.by_node: dict[int, list[PadSpot]] = {}
        self.middles: dict[int, Point] = {}

    def sheet(self) -> Sheet:
        pieces = tuple(self._piece(k) for k in range(len(self.layout.pieces)))
        joiners = tuple(self._joints())
        feeders = tuple(self._feeders())
        jumpers = tuple(self._jumpers())
        things = [t for p in pieces for t in (*p.gaps, *p.contacts, *p.bonds, *p.levers)]
        where = {t.id: t.at for t in (*things, *joiners, *feeders, *jumpers)}
        where |= {p.id: p.at for p in self.pads.values()}
        return Sheet(
            self.layout, self.ground, pieces, feeders, jumpers, joiners, where,
            tuple(enumerate(self.ground.boxes)), self.ground.breaks, _spots(pieces),
        )  # fmt: skip

    def _piece(self, k: int) -> PieceSheet:
        placed, frame, shape = (
            self.layout.pieces[k],
            self.ground.frames[k],
            self.ground.shapes[k],
        )
        at = frame.point
        corners = [at(p) for p in _corners(shape.bounds)]
        margin = placed.piece.gauge_mm * 2.5
        return PieceSheet(
            k,
            placed.piece.gauge_mm,
            (
                min(p[0] for p in corners) - margin,
                min(p[1] for p in corners) - margin,
                max(p[0] for p in corners) + margin,
                max(p[1] for p in corners) + margin,
            ),
            tuple(frame.line(line) for _, line in shape.beds),
            tuple(self._rails(k)),
            tuple(self._stretches(k)),
            tuple(
                Thing(self._number(k, c.name), f"{placed.id}/{c.name}", at(c.at), at(c.at),
                      c.heading_deg + frame.turn_deg)
                for c in shape.gaps if self._number(k, c.name) >= 0
            ),
            tuple(self._links(k, shape.contacts)),
            tuple(self._links(k, shape.bonds)),
            tuple(
                Thing(self.lever[f"{placed.id}/{name}"], f"{placed.id}/{name}", at(p), at(p))
                for name, p in shape.levers
            ),
            tuple(self._pads(k)),
            tuple((f"{placed.id}/{name}", at(p)) for name, p in shape.frogs),
            tuple(self._names(k)),
        )  # fmt: skip

    def _number(self, k: int, name: str) -> int:
        return self.element.get(f"{self.layout.pieces[k].id}/{name}", -1)

    def _rails(self, k: int) -> Iterator[Rail]:
        placed, frame = self.layout.pieces[k], self.ground.frames[k]
        for r in self.ground.shapes[k].rails:
            node = PLASTIC if r.section is None else self.node[f"{placed.id}/{r.section}"]
            line = frame.line(r.line)
            if not r.lever:
                yield Rail(node, line)
                continue
            lever = self.lever[f"{placed.id}/{r.lever}"]
            position = self.layout.levers[lever].positions.index(r.position)
            yield Rail(node, line, lever, position, frame.line(r.opened))

    def _stretches(self, k: int) -> Iterator[Stretch]:
        placed, frame = self.layout.pieces[k], self.ground.frames[k]
        for number, local in zip(placed.routes, placed.piece.routes, strict=True):
            start = start_pose(placed.piece, local)
            for span in self.layout.routes[number].spans:
                low, high = span.from_um / UM_PER_MM, span.to_um / UM_PER_MM
                line = frame.line(rail_line(local.course, start, low, high, 0.0))
                yield Stretch(number, span.left, span.right, line, middle(line))

    def _links(self, k: int, links: tuple[object, ...]) -> Iterator[Thing]:
        placed, at = self.layout.pieces[k], self.ground.frames[k].point
        for link in links:
            number = self._number(k, link.name)  # type: ignore[attr-defined]
            if number >= 0:
                yield Thing(
                    number,
                    self.layout.elements[number].id,
                    at(link.a),  # type: ignore[attr-defined]
                    at(link.b),  # type: ignore[attr-defined]
                )
        del placed

    def _pads(self, k: int) -> Iterator[PadSpot]:
        placed, at = self.layout.pieces[k], self.ground.frames[k].point
        for pad in placed.piece.pads:
            node = self.node[f"{placed.id}/{pad.section}"]
            spot = PadSpot(
                f"{placed.id}/{pad.name}",
                node,
                at((pad.x_mm, pad.y_mm)),
                pad.size_mm,
                pad.slides,
            )
            self.pads[spot.id] = spot
            self.by_node.setdefault(node, []).append(spot)
            yield spot

    def _names(self, k: int) -> Iterator[tuple[int, Point, float]]:
        placed, frame, shape = (
            self.layout.pieces[k],
            self.ground.frames[k],
            self.ground.shapes[k],
        )
        for section in placed.piece.sections:
            lines = shape.lines_of(section.name)
            if not lines:
                continue
            node = self.node[f"{placed.id}/{section.name}"]
            long = sum(hypot(b[0] - a[0], b[1] - a[1])
                       for a, b in zip(lines[0], lines[0][1:], strict=False))  # fmt: skip
            place = frame.point(middle(lines[0]))
            self.middles[node] = place
            yield node, place, long

    def _joints(self) -> Iterator[Thing]:
        """Joiners and insulated joints, named after an end and a rail of it."""
        for k, placed in enumerate(self.layout.pieces):
            for end in placed.piece.ends:
                for rail, side in (("north", 1.0), ("south", -1.0)):
                    for word in ("joiner", "gap"):
                        number = self._number(k, f"{word}-{end.name}-{rail}")
                        if number < 0:
                            continue
                        # North of an end that looks west lies on its right.
                        left = side if end.outward == "east" else -side
                        half = placed.piece.gauge_mm / 2.0 * left
                        turn = radians(end.heading_deg + 90.0)
                        local = (end.x_mm + half * cos(turn), end.y_mm + half * sin(turn))
                        at = self.ground.frames[k].point(local)
                        heading = end.heading_deg + self.ground.frames[k].turn_deg
                        yield Thing(number, self.layout.elements[number].id, at, at, heading)

    def _tap(
        self, element: Element, number: int, node: int, near: Point | None
    ) -> Point | None:
        """Where a wire is soldered: the pad or section it names, else the nearest pad."""
        taps: tuple[str, ...] = getattr(element, "taps", ()) or ()
        named = taps[number] if number < len(taps) else ""
        if named in self.pads:
            return self.pads[named].at
        pads = [p for p in self.by_node.get(node, []) if not p.slides]
        if not pads:
            return self.middles.get(node)
        if near is None:
            return pads[0].at
        return min((p.at for p in pads), key=lambda p: hypot(p[0] - near[0], p[1] - near[1]))

    def _feeders(self) -> Iterator[Thing]:
        for number, e in enumerate(self.layout.elements):
            if e.kind == "feeder":
                at = self._tap(e, 1, e.b, None) or self._tap(e, 0, e.a, None)
                if at is not None:
                    yield Thing(number, e.id, at, at)

    def _jumpers(self) -> Iterator[Thing]:
        for number, e in enumerate(self.layout.elements):
            if e.kind != "jumper":
                continue
            far = self._tap(e, 1, e.b, self.middles.get(e.a))
            near = self._tap(e, 0, e.a, far)
            if near is not None and far is not None:
                yield Thing(number, e.id, near, far)


def _spots(pieces: tuple[PieceSheet, ...]) -> tuple[Point, ...]:
    """Places along all track, some gauges apart, thinned where there are very many."""
    found = [
        place
        for piece in pieces
        for bed in piece.beds
        for place in places_along(bed, piece.gauge_mm * SPOT_GAUGES)
    ]
    return tuple(found[:: max(1, len(found) // SPOTS_AT_MOST)])


def _corners(box: tuple[float, float, float, float]) -> Line:
    return ((box[0], box[1]), (box[2], box[1]), (box[2], box[3]), (box[0], box[3]))


__all__ = [
    "PadSpot",
    "PieceSheet",
    "Rail",
    "Sheet",
    "Stretch",
    "Thing",
    "end_named",
    "sheet_of",
]
