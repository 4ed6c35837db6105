"""Formulas of track geometry. Lengths in mm, angles in radians unless named otherwise.

Trigonometry differs in its last digit from machine to machine, so every length
leaves the package through :func:`mm` and every angle through :func:`deg`.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from itertools import pairwise
from math import atan, cos, degrees, pi, radians, sin, tan
from typing import Literal

from sim.pieces.model import Stroke

FrogRule = Literal["american", "tangent"]
SideName = Literal["left", "right"]

#: NMRA RP-12.7, 9 mm gauge: frog number -> (toe, heel) in mm from the frog point.
_RP_12_7_FROG: tuple[tuple[float, float, float], ...] = (
    (4.0, 7.5, 13.0),
    (5.0, 8.5, 15.0),
    (6.0, 9.5, 16.5),
    (7.0, 11.0, 17.5),
)
_RP_12_7_GAUGE_MM = 9.0
#: Gauge -> dead length of a plastic frog, mm (common practice, no source).
_PLASTIC_DEAD_MM = ((9.0, 15.0), (12.0, 16.0), (16.5, 18.0), (32.0, 25.0))


def mm(value: float) -> float:
    """Round a length to 1e-3 mm; never returns a negative zero."""
    return round(value, 3) + 0.0


def deg(angle_rad: float) -> float:
    """Turn radians to degrees rounded to 1e-6; never returns a negative zero."""
    return round(degrees(angle_rad), 6) + 0.0


def frog_angle_rad(frog_number: float, rule: FrogRule = "american") -> float:
    """Angle between the two routes at a frog of the given number.

    ``american``: 2·atan(1/(2N)), N counted along the bisector (AREMA practice,
    NMRA RP-12.7).  ``tangent``: atan(1/N), N counted along the through route,
    the European 1:N.
    """
    if rule == "american":
        return 2.0 * atan(1.0 / (2.0 * frog_number))
    return atan(1.0 / frog_number)


def simple_lead_mm(gauge_mm: float, frog_number: float) -> float:
    """Lead (points to frog point) of a simple curve, 2·gauge·N.

    Classic approximation; leads in use are often 0.75 to 0.95 of it.
    """
    return 2.0 * gauge_mm * frog_number


def closure_radius_mm(gauge_mm: float, frog_number: float) -> float:
    """Centre-line radius of the closure curve, 2·gauge·N² (classic approximation)."""
    return 2.0 * gauge_mm * frog_number**2


def intersection_to_frog_mm(gauge_mm: float, angle_rad: float) -> float:
    """From the intersection of the centre lines to the frog point, along either route.

    (gauge/2)/tan(F/2); with the american rule exactly N·gauge (NMRA RP-12.7).
    """
    return gauge_mm / 2.0 / tan(angle_rad / 2.0)


def between_frogs_mm(gauge_mm: float, centres_mm: float, angle_rad: float) -> float:
    """Between the two frog points on one through track of a scissors crossover.

    (s - g)/tan F - g/sin F for track centres ``s`` (from the geometry).
    """
    return (centres_mm - gauge_mm) / tan(angle_rad) - gauge_mm / sin(angle_rad)


def crossover_length_mm(
    gauge_mm: float, centres_mm: float, lead_mm: float, angle_rad: float
) -> float:
    """From blade tips to blade tips of a single or a scissors crossover.

    Two leads and the stretch between the frogs: 2·lead + (s - g)/tan F - g/sin F.
    """
    return 2.0 * lead_mm + between_frogs_mm(gauge_mm, centres_mm, angle_rad)


def crossover_length_rough_mm(gauge_mm: float, centres_mm: float, frog_number: float) -> float:
    """The usual quick estimate of the same length: 2·(2gN) + (s - 2g)/tan F."""
    lead = simple_lead_mm(gauge_mm, frog_number)
    return 2.0 * lead + (centres_mm - 2.0 * gauge_mm) / tan(frog_angle_rad(frog_number))


def frog_parts_mm(gauge_mm: float, frog_number: float) -> tuple[float, float]:
    """(toe, heel) lengths of a frog, both counted from the frog point.

    NMRA RP-12.7 for Nos. 4 to 7 at 9 mm gauge, interpolated between its numbers,
    in proportion to the number outside them and to the gauge elsewhere.
    """
    scale = gauge_mm / _RP_12_7_GAUGE_MM
    first, last = _RP_12_7_FROG[0], _RP_12_7_FROG[-1]
    edge = first if frog_number <= first[0] else last
    if frog_number <= first[0] or frog_number >= last[0]:
        ratio = scale * frog_number / edge[0]
        return edge[1] * ratio, edge[2] * ratio
    for low, high in pairwise(_RP_12_7_FROG):
        if low[0] <= frog_number <= high[0]:
            break
    share = (frog_number - low[0]) / (high[0] - low[0])
    toe = low[1] + share * (high[1] - low[1])
    heel = low[2] + share * (high[2] - low[2])
    return toe * scale, heel * scale


def plastic_dead_mm(gauge_mm: float) -> float:
    """How long a plastic frog is dead under a wheel, along either route.

    Common practice, no source: N 15, TT 16, HO 18, 0 25 mm; interpolated between
    these gauges, in proportion outside them.  It is not the length of a frog
    casting, most of which is rail that carries supply: measure yours.
    """
    (first, short), (last, long) = _PLASTIC_DEAD_MM[0], _PLASTIC_DEAD_MM[-1]
    if gauge_mm <= first:
        return mm(short * gauge_mm / first)
    if gauge_mm >= last:
        return mm(long * gauge_mm / last)
    for low, high in pairwise(_PLASTIC_DEAD_MM):
        if low[0] <= gauge_mm <= high[0]:
            break
    share = (gauge_mm - low[0]) / (high[0] - low[0])
    return mm(low[1] + share * (high[1] - low[1]))


@dataclass(frozen=True, slots=True)
class Corner:
    """One of the four places where the rails of two crossing tracks cross.

    ``first`` and ``second`` are the sides of the two tracks; the places are mm
    from the crossing of the centre lines, along each track.
    """

    name: Literal["north", "south", "west", "east"]
    first: SideName
    second: SideName
    first_mm: float
    second_mm: float


def diamond_corners(gauge_mm: float, angle_rad: float) -> tuple[Corner, ...]:
    """Corners of a diamond whose second track crosses the first going to its left.

    ``angle_rad`` is the angle between the two directions of travel.  The near
    corners lie (g/2)·tan(a/2) from the centre, the far ones (g/2)/tan(a/2).
    """
    near = gauge_mm / 2.0 * tan(angle_rad / 2.0)
    far = gauge_mm / 2.0 / tan(angle_rad / 2.0)
    return (
        Corner("north", "left", "left", -near, near),
        Corner("south", "right", "right", near, -near),
        Corner("west", "right", "left", -far, -far),
        Corner("east", "left", "right", far, far),
    )


@dataclass(frozen=True, slots=True)
class Pose:
    """A place (mm) and a direction of travel (degrees, 0 east, 90 north)."""

    x_mm: float
    y_mm: float
    heading_deg: float


def strokes(parts: Iterable[tuple[float, float]]) -> tuple[Stroke, ...]:
    """Make a course from (length_mm, turn_rad), rounded, without empty strokes."""
    made = (Stroke(mm(length), deg(turn)) for length, turn in parts)
    return tuple(stroke for stroke in made if stroke.length_mm > 0.0)


def course_length_mm(course: Sequence[Stroke]) -> float:
    """Total length of a course in mm, rounded."""
    return mm(sum(stroke.length_mm for stroke in course))


def walk(course: Sequence[Stroke], start: Pose, distance_mm: float | None = None) -> Pose:
    """Pose after going ``distance_mm`` (default: all of it) along a course."""
    left = course_length_mm(course) if distance_mm is None else distance_mm
    pose = start
    for stroke in course:
        part = min(left, stroke.length_mm)
        pose = _go(pose, part, stroke.turn_deg * part / stroke.length_mm)
        left -= part
        if left <= 0.0:
            break
    return pose


def _go(pose: Pose, length_mm: float, turn_deg: float) -> Pose:
    """One straight or arc, exact; the chord of an arc points half its turn away."""
    half = radians(turn_deg) / 2.0
    chord = length_mm if half == 0.0 else length_mm * sin(half) / half
    direction = radians(pose.heading_deg) + half
    return Pose(
        pose.x_mm + chord * cos(direction),
        pose.y_mm + chord * sin(direction),
        pose.heading_deg + turn_deg,
    )


def beside(pose: Pose, left_mm: float) -> tuple[float, float]:
    """(x, y) in mm of the place ``left_mm`` to the left of a pose, rounded."""
    direction = radians(pose.heading_deg) + pi / 2.0
    return (
        mm(pose.x_mm + left_mm * cos(direction)),
        mm(pose.y_mm + left_mm * sin(direction)),
    )


def outward_heading_deg(travel_deg: float) -> float:
    """A direction brought into -180 < h <= 180 degrees, rounded."""
    heading = round((travel_deg + 180.0) % 360.0 - 180.0, 6)
    return 180.0 if heading == -180.0 else heading + 0.0
