"""The frogs of one piece: where rails of two routes cross."""

from __future__ import annotations

import itertools
from collections.abc import Iterator
from math import hypot

from sim.pieces.model import Piece, Route
from viewer.place.lines import Line, Point
from viewer.place.rails import LEFT, RIGHT, route_line

#: Two rails that meet at less than 2 degrees (sine squared) run beside each other.
FLATTEST = 0.0012
#: Two crossings nearer than this are one frog.
SAME_FROG_MM = 0.5


def frogs_of(piece: Piece) -> Iterator[tuple[str, Point]]:
    """Where rails of two routes cross behind their blades, each place once."""
    seen: set[frozenset[str]] = set()
    told: list[Point] = []
    for a in piece.routes:
        for b in piece.routes:
            pair = frozenset((a.name, b.name))
            if a is b or pair in seen:
                continue
            seen.add(pair)
            new = [place for place in _crossings(piece, a, b) if not _near(place, told)]
            told += new
            for number, place in enumerate(new):
                more = f" {number + 1}" if number else ""
                yield f"{a.name} x {b.name}{more}", place


def _crossings(piece: Piece, a: Route, b: Route) -> list[Point]:
    found: list[Point] = []
    half = piece.gauge_mm / 2.0
    for one in (LEFT, RIGHT):
        first = route_line(piece, a, one * half)
        for other in (LEFT, RIGHT):
            met = _meet(first, route_line(piece, b, other * half))
            if met is not None and not _near(met, found):
                found.append(met)
    return found


def _near(place: Point, others: list[Point]) -> bool:
    return any(hypot(place[0] - x, place[1] - y) <= SAME_FROG_MM for x, y in others)


def _meet(first: Line, second: Line) -> Point | None:
    """Where two lines cross at an angle; touching along a shared stretch does not count."""
    for (ax, ay), (bx, by) in itertools.pairwise(first):
        for (cx, cy), (dx, dy) in itertools.pairwise(second):
            cross = (bx - ax) * (dy - cy) - (by - ay) * (dx - cx)
            size = ((bx - ax) ** 2 + (by - ay) ** 2) * ((dx - cx) ** 2 + (dy - cy) ** 2)
            if cross * cross <= FLATTEST * size:
                continue
            t = ((cx - ax) * (dy - cy) - (cy - ay) * (dx - cx)) / cross
            u = ((cx - ax) * (by - ay) - (cy - ay) * (bx - ax)) / cross
            if 0.0 < t <= 1.0 and 0.0 < u <= 1.0:
                return ax + t * (bx - ax), ay + t * (by - ay)
    return None
