"""How much of a board's length its pieces take."""

from __future__ import annotations

from collections.abc import Iterable

from sim.layout.ground import Board, Ground
from sim.layout.joints import Joint
from sim.layout.report import Report
from sim.layout.rounds import longest_mm
from sim.pieces.model import End, Piece, Route


def along_mm(piece: Piece, route: Route) -> float:
    """Length of board that a route takes, mm.

    Where its two ends lead out opposite ways it is measured along that line, so
    that a crossover takes no more than its straight; elsewhere along the track.
    """
    ends: dict[str, End] = {end.name: end for end in piece.ends}
    one, other = ends[route.start], ends[route.finish]
    if round(one.heading_deg - other.heading_deg, 6) % 360 == 180:
        if round(one.heading_deg, 6) % 180 == 0:
            return abs(other.x_mm - one.x_mm)
        if round(one.heading_deg, 6) % 180 == 90:
            return abs(other.y_mm - one.y_mm)
    return route.length_mm


def taken_mm(ground: Ground, board: Board, joints: Iterable[Joint]) -> float:
    """Longest run of pieces from a west-facing to an east-facing end of ``board``, mm.

    ``joints`` are those between its own pieces.
    On a board whose track closes on itself the longest run is not defined, and
    its longest piece is taken.
    """
    before: dict[int, dict[int, float]] = {}
    for number in board.pieces:
        placed = ground.pieces[number]
        names = {end.name: placed.first_end + n for n, end in enumerate(placed.piece.ends)}
        for route in placed.piece.routes:
            one, other = names[route.start], names[route.finish]
            if ground.ends[one].end.outward == "east":
                one, other = other, one
            if ground.ends[one].end.outward == "west" and one != other:
                length = along_mm(placed.piece, route)
                ways = before.setdefault(other, {})
                ways[one] = max(length, ways.get(one, 0.0))
    piece = max((mm for ways in before.values() for mm in ways.values()), default=0.0)
    for joint in joints:
        pair = (joint.first, joint.second)
        east, west = sorted(pair, key=lambda end: ground.ends[end].end.outward)
        before.setdefault(west, {})[east] = 0.0
    longest = longest_mm(before)
    return round(piece if longest is None else longest, 3)


def warn_of_fit(board: Board, taken: float, where: str, report: Report) -> None:
    """Say so when the pieces of ``board`` are longer than it is."""
    length = board.table.length_mm
    if length is not None and taken > length:
        over = round(taken - length, 3)
        expected = f"pieces that fit the {length:g} mm of {board.name!r}"
        report.warn(where, expected, f"{taken:g} mm, {over:g} mm over")
