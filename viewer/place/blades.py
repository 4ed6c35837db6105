"""Moving blades: on which rail of a route they lie, and how they stand while open."""

from __future__ import annotations

from dataclasses import dataclass
from math import cos, hypot, radians, sin
from typing import Protocol

from sim.pieces.geometry import Pose, walk
from sim.pieces.model import Piece, Points, Route
from viewer.place.lines import Line, start_pose, stops

#: How far an open blade's tip stands off its stock rail, as a share of the gauge.
#: Wider than any real blade, so that it can be seen (our choice).
OPEN_SHARE = 0.22
#: Two routes whose blade tips lie nearer than this part there.
SAME_TIP_MM = 0.5


@dataclass(frozen=True, slots=True)
class Blade:
    """The blade of one route: ``side`` is 1 on the left rail, -1 on the right."""

    points: Points
    side: float


class Stretch(Protocol):
    """What is asked of a stretch of rail."""

    @property
    def route(self) -> Route:
        """Its route."""

    @property
    def side(self) -> float:
        """Its side."""

    @property
    def from_mm(self) -> float:
        """Where it begins."""

    @property
    def to_mm(self) -> float:
        """Where it ends."""

    @property
    def blade(self) -> Blade | None:
        """Its blade."""


def blade_of(piece: Piece, route: Route, points: Points) -> Blade | None:
    """The blade that ``route`` runs over at ``points``.

    It lies on the side on which the other route parts from this one.  A lever may
    move blades of several tracks: what parts here has its tips here.
    """
    start = start_pose(piece, route)
    tip, heel = (walk(route.course, start, at) for at in (points.tip_mm, points.heel_mm))
    found: list[tuple[bool, float]] = []
    for other in piece.routes:
        for p in other.points:
            if p.lever != points.lever or p.position == points.position:
                continue
            begin = start_pose(piece, other)
            there = walk(other.course, begin, p.tip_mm)
            elsewhere = hypot(there.x_mm - tip.x_mm, there.y_mm - tip.y_mm) > SAME_TIP_MM
            left = _left_of(heel, walk(other.course, begin, p.heel_mm))
            if abs(left) > 1e-6:
                found.append((elsewhere, left))
    if not found:
        return None
    _, left = min(found, key=lambda one: one[0])  # the first of those that part here
    return Blade(points, 1.0 if left > 0.0 else -1.0)


def _left_of(pose: Pose, other: Pose) -> float:
    """How far ``other`` lies to the left of ``pose``, mm."""
    direction = radians(pose.heading_deg + 90.0)
    dx, dy = other.x_mm - pose.x_mm, other.y_mm - pose.y_mm
    return dx * cos(direction) + dy * sin(direction)


def open_line(closed: Line, stretch: Stretch, start: Pose, half_mm: float) -> Line:
    """The same blade while another route is set: its tip stands off the stock rail."""
    if stretch.blade is None:
        return closed
    points = stretch.blade.points
    whole = points.heel_mm - points.tip_mm
    moved = []
    places = stops(stretch.route.course, stretch.from_mm, stretch.to_mm)
    for at, (x, y) in zip(places, closed, strict=True):
        share = 1.0 - (at - points.tip_mm) / whole if whole else 0.0
        off = 2.0 * half_mm * OPEN_SHARE * max(0.0, min(1.0, share))
        heading = walk(stretch.route.course, start, at).heading_deg
        inward = radians(heading - 90.0 * stretch.side)
        moved.append((x + off * cos(inward), y + off * sin(inward)))
    return tuple(moved)
