"""Lines beside a course: how a rail runs from here to there."""

from __future__ import annotations

import itertools
from collections.abc import Sequence
from math import ceil, cos, hypot, radians, sin

from sim.pieces.geometry import Pose, walk
from sim.pieces.model import End, Piece, Route, Stroke

Point = tuple[float, float]
Line = tuple[Point, ...]

#: An arc is drawn as chords that turn this much at most.
CHORD_DEG = 3.0


def start_pose(piece: Piece, route: Route) -> Pose:
    """The pose of a train that comes onto ``route`` at its start."""
    end = end_named(piece, route.start)
    return Pose(end.x_mm, end.y_mm, end.heading_deg + 180.0)


def end_named(piece: Piece, name: str) -> End:
    """The end of that name."""
    return next(e for e in piece.ends if e.name == name)


def beside(pose: Pose, left_mm: float) -> Point:
    """The place ``left_mm`` to the left of ``pose``, unrounded."""
    direction = radians(pose.heading_deg + 90.0)
    return pose.x_mm + left_mm * cos(direction), pose.y_mm + left_mm * sin(direction)


def stops(course: Sequence[Stroke], from_mm: float, to_mm: float) -> list[float]:
    """Places along a course between which a straight chord is near enough."""
    found = [from_mm]
    begin = 0.0
    for stroke in course:
        end = begin + stroke.length_mm
        low, high = max(begin, from_mm), min(end, to_mm)
        if high > low:
            turn = abs(stroke.turn_deg) * (high - low) / stroke.length_mm
            chords = max(1, ceil(turn / CHORD_DEG))
            found += [low + (high - low) * k / chords for k in range(1, chords + 1)]
        begin = end
    if found[-1] < to_mm:  # a course may be a hair shorter than its route
        found.append(to_mm)
    return found


def rail_line(
    course: Sequence[Stroke], start: Pose, from_mm: float, to_mm: float, left_mm: float
) -> Line:
    """The line ``left_mm`` to the left of a course, from one place to another."""
    return tuple(
        beside(walk(course, start, at), left_mm) for at in stops(course, from_mm, to_mm)
    )


def nearest_on(line: Line, x: float, y: float) -> tuple[float, Point]:
    """(distance, place) of the point of ``line`` that lies nearest to (x, y)."""
    best = (hypot(line[0][0] - x, line[0][1] - y), line[0])
    for (ax, ay), (bx, by) in itertools.pairwise(line):
        dx, dy = bx - ax, by - ay
        square = dx * dx + dy * dy
        share = 0.0 if square == 0.0 else ((x - ax) * dx + (y - ay) * dy) / square
        share = min(1.0, max(0.0, share))
        px, py = ax + share * dx, ay + share * dy
        distance = hypot(px - x, py - y)
        if distance < best[0]:
            best = distance, (px, py)
    return best


def nearest_pair(ones: Sequence[Line], others: Sequence[Line]) -> tuple[Point, Point] | None:
    """Where two sets of lines come nearest to each other; None where one is empty."""
    best: tuple[float, Point, Point] | None = None
    for lines, targets, swapped in ((ones, others, False), (others, ones, True)):
        for line in lines:
            for x, y in line:
                for target in targets:
                    distance, (px, py) = nearest_on(target, x, y)
                    if best is None or distance < best[0] - 1e-6:
                        pair = ((px, py), (x, y)) if swapped else ((x, y), (px, py))
                        best = distance, *pair
    return None if best is None else (best[1], best[2])


def middle(line: Line) -> Point:
    """The place half way along a line."""
    lengths = [hypot(bx - ax, by - ay) for (ax, ay), (bx, by) in itertools.pairwise(line)]
    left = sum(lengths) / 2.0
    for (a, b), length in zip(itertools.pairwise(line), lengths, strict=True):
        if left <= length and length > 0.0:
            share = left / length
            return a[0] + (b[0] - a[0]) * share, a[1] + (b[1] - a[1]) * share
        left -= length
    return line[0]


def length_of(line: Line) -> float:
    """How long a line is."""
    return sum(hypot(bx - ax, by - ay) for (ax, ay), (bx, by) in itertools.pairwise(line))


def places_along(line: Line, step: float) -> list[Point]:
    """Places on a line, about ``step`` apart, from its beginning on."""
    found: list[Point] = []
    ahead = 0.0  # how far it still is to the next place
    for (ax, ay), (bx, by) in itertools.pairwise(line):
        long = hypot(bx - ax, by - ay)
        while ahead < long:
            found.append((ax + (bx - ax) * ahead / long, ay + (by - ay) * ahead / long))
            ahead += step
        ahead -= long
    return found
