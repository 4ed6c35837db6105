"""A sheet: all lines of a layout on the ground, ready to be drawn again and again."""

from __future__ import annotations

from dataclasses import dataclass, replace

from sim.layout.model import Layout
from viewer.place.ground import Box, Break, Ground
from viewer.place.lines import Line, Point

#: What is written beside a thing reaches this many gauges from it.
REACH = 4.0
#: The gauge of a sheet on which nothing lies, mm.
NO_GAUGE_MM = 9.0


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

    @property
    def gauge_mm(self) -> float:
        """The gauge that sizes are given in: that of the first piece."""
        return self.pieces[0].gauge_mm if self.pieces else NO_GAUGE_MM

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
