"""The shape of one piece in its own drawing: every rail once, and where things sit."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from functools import cache

from sim.pieces.geometry import Pose, walk
from sim.pieces.model import Piece
from viewer.place.fittings import Cut, Fittings, Link
from viewer.place.frogs import frogs_of
from viewer.place.lines import Line, Point, beside, length_of, start_pose
from viewer.place.rails import RailLine, rails_of, route_line


@dataclass(frozen=True, slots=True)
class Shape:
    """Everything of a piece that can be drawn, in the piece's own mm."""

    rails: tuple[RailLine, ...]
    beds: tuple[tuple[str, Line], ...]  #: centre lines by route name
    gaps: tuple[Cut, ...]
    contacts: tuple[Link, ...]
    bonds: tuple[Link, ...]
    levers: tuple[tuple[str, Point], ...]  #: where the lever's handle is drawn
    frogs: tuple[tuple[str, Point], ...]
    bounds: tuple[float, float, float, float]

    def lines_of(self, section: str) -> list[Line]:
        """All lines of one section, the longest first."""
        lines = [r.line for r in self.rails if r.section == section]
        return sorted(lines, key=length_of, reverse=True)


@cache
def _shape_by_id(_: int, held: _Held) -> Shape:
    return _made(held.piece)


@dataclass(frozen=True, slots=True, eq=False)
class _Held:
    piece: Piece


_held: dict[int, _Held] = {}


def shape_of(piece: Piece) -> Shape:
    """The shape of ``piece``; worked out once for each piece there is."""
    # Pieces are compared by identity here: hashing one costs as much as drawing it.
    held = _held.get(id(piece))
    if held is None or held.piece is not piece:
        held = _held[id(piece)] = _Held(piece)
    return _shape_by_id(id(piece), held)


def _made(piece: Piece) -> Shape:
    rails = rails_of(piece)
    fittings = Fittings(piece, rails)
    points = [p for r in rails for p in r.line] or [(0.0, 0.0)]
    xs, ys = [p[0] for p in points], [p[1] for p in points]
    return Shape(
        rails,
        tuple((r.name, route_line(piece, r)) for r in piece.routes),
        fittings.gaps(),
        fittings.contacts(),
        fittings.bonds(),
        tuple(_handles(piece)),
        tuple(frogs_of(piece)),
        (min(xs), min(ys), max(xs), max(ys)),
    )


def _handles(piece: Piece) -> Iterator[tuple[str, Point]]:
    """A lever's handle stands beside the tip of its blades, off the track."""
    tips: dict[str, list[Pose]] = {}
    for route in piece.routes:
        for p in route.points:
            pose = walk(route.course, start_pose(piece, route), p.tip_mm)
            tips.setdefault(p.lever, []).append(pose)
    for lever, poses in tips.items():
        yield lever, _outside(piece, poses)
    for number, lever in enumerate(x.name for x in piece.levers):
        if lever not in tips:
            yield lever, (piece.gauge_mm * (1.0 + number), piece.gauge_mm * 2.0)


def _outside(piece: Piece, poses: list[Pose]) -> Point:
    """Beside the tips of one lever, on the side on which the rest of the piece does not lie."""
    pose = poses[0]
    ys = [e.y_mm for e in piece.ends]
    inner = sum(ys) / len(ys) if ys else 0.0
    up = pose.y_mm > inner or (pose.y_mm == inner and max(ys) <= pose.y_mm)
    # a lever may move the blades of two tracks
    pose = (max if up else min)(poses, key=lambda tip: round(tip.y_mm, 3))
    facing = 1.0 if abs((pose.heading_deg + 180.0) % 360.0 - 180.0) < 90.0 else -1.0
    return beside(pose, (1.0 if up else -1.0) * facing * piece.gauge_mm * 1.5)
