"""A layout set out on a sheet: everything of it that does not change from moment to moment."""

from __future__ import annotations

from collections.abc import Iterator
from math import cos, hypot, radians, sin

from sim.layout.model import PLASTIC, UM_PER_MM, Element, Layout
from sim.pieces.model import End
from viewer.draw.sheet import PadSpot, PieceSheet, Rail, Sheet, Stretch, Thing
from viewer.place.fittings import Link
from viewer.place.ground import Box, Ground, lay_out
from viewer.place.lines import Line, Point, middle, places_along, rail_line, start_pose

#: What is written beside a piece reaches so many gauges beyond its rails.
BESIDE_GAUGES = 2.5
#: Of the track every place in so many gauges is one that notes keep off, and so many in all.
SPOT_GAUGES, SPOTS_AT_MOST = 8.0, 200


def sheet_of(layout: Layout, ground: Ground | None = None) -> Sheet:
    """Work out the lines of ``layout``."""
    return _SetOut(layout, ground or lay_out(layout)).sheet()


class _SetOut:
    """One layout on its way onto a sheet, piece by piece."""

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
        placed, frame = self.layout.pieces[k], self.ground.frames[k]
        shape, at = self.ground.shapes[k], frame.point
        return PieceSheet(
            k,
            placed.piece.gauge_mm,
            self._box(k),
            tuple(frame.line(line) for _, line in shape.beds),
            tuple(self._rails(k)),
            tuple(self._stretches(k)),
            tuple(self._gaps(k)),
            tuple(self._links(k, shape.contacts)),
            tuple(self._links(k, shape.bonds)),
            tuple(self._levers(k)),
            tuple(self._pads(k)),
            tuple((f"{placed.id}/{name}", at(p)) for name, p in shape.frogs),
            tuple(self._names(k)),
        )

    def _box(self, k: int) -> Box:
        """What a piece takes of the ground, with what is written beside it."""
        at = self.ground.frames[k].point
        corners = [at(p) for p in _corners(self.ground.shapes[k].bounds)]
        margin = self.layout.pieces[k].piece.gauge_mm * BESIDE_GAUGES
        return (
            min(p[0] for p in corners) - margin,
            min(p[1] for p in corners) - margin,
            max(p[0] for p in corners) + margin,
            max(p[1] for p in corners) + margin,
        )

    def _gaps(self, k: int) -> Iterator[Thing]:
        frame = self.ground.frames[k]
        for cut in self.ground.shapes[k].gaps:
            number = self._number(k, cut.name)
            if number >= 0:
                at, heading = frame.point(cut.at), cut.heading_deg + frame.turn_deg
                yield Thing(number, f"{self.layout.pieces[k].id}/{cut.name}", at, at, heading)

    def _levers(self, k: int) -> Iterator[Thing]:
        for name, place in self.ground.shapes[k].levers:
            lever = f"{self.layout.pieces[k].id}/{name}"
            at = self.ground.frames[k].point(place)
            yield Thing(self.lever[lever], lever, at, at)

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

    def _links(self, k: int, links: tuple[Link, ...]) -> Iterator[Thing]:
        at = self.ground.frames[k].point
        for link in links:
            number = self._number(k, link.name)
            if number >= 0:
                yield Thing(number, self.layout.elements[number].id, at(link.a), at(link.b))

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
        placed, frame = self.layout.pieces[k], self.ground.frames[k]
        shape = self.ground.shapes[k]
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
                        if number >= 0:
                            yield self._joint(k, end, number, side)

    def _joint(self, k: int, end: End, number: int, side: float) -> Thing:
        """Element ``number`` on one rail of an end: ``side`` is 1 for north, -1 for south."""
        # North of an end that looks west lies on its right.
        left = side if end.outward == "east" else -side
        half = self.layout.pieces[k].piece.gauge_mm / 2.0 * left
        turn = radians(end.heading_deg + 90.0)
        local = (end.x_mm + half * cos(turn), end.y_mm + half * sin(turn))
        at = self.ground.frames[k].point(local)
        heading = end.heading_deg + self.ground.frames[k].turn_deg
        return Thing(number, self.layout.elements[number].id, at, at, heading)

    def _tap(
        self, element: Element, number: int, node: int, near: Point | None
    ) -> Point | None:
        """Where a wire is soldered: the pad or section it names, else the nearest pad."""
        named = element.taps[number]
        if named in self.pads:
            return self.pads[named].at
        pads = [p for p in self.by_node.get(node, []) if not p.slides]
        if not pads:
            return self.middles.get(node)
        if near is None:
            return pads[0].at
        return min((p.at for p in pads), key=lambda p: hypot(p[0] - near[0], p[1] - near[1]))

    def _feeders(self) -> Iterator[Thing]:
        """Each wire of a feeder; ``far`` is where the other wire of the pair is soldered."""
        found: dict[str, tuple[int, Point]] = {}
        for number, e in enumerate(self.layout.elements):
            if e.kind == "feeder":
                at = self._tap(e, 1, e.b, None) or self._tap(e, 0, e.a, None)
                if at is not None:
                    found[e.id] = number, at
        for name, (number, at) in found.items():
            other = name[:-1] + ("-" if name.endswith("+") else "+")
            yield Thing(number, name, at, found.get(other, (number, at))[1])

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


def _corners(box: Box) -> Line:
    return ((box[0], box[1]), (box[2], box[1]), (box[2], box[3]), (box[0], box[3]))
