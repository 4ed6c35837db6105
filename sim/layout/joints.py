"""Which end of which piece meets which, and how much of a board the pieces take.

Which end of which piece meets which: within modules, along lines, and by name.

How much of a board's length its pieces take.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from sim.layout.assembly_log import Report
from sim.layout.ground import Board, Ground
from sim.layout.order_check import longest_mm
from sim.pieces.model import End, Piece, Route
from sim.scenario.document import Scenario
from sim.scenario.problems import shown
from sim.scenario.tracks import LineTable

_END = "an end, 'module/piece/end'"
_OWN_END = "an end of the module, 'piece/end'"


@dataclass(frozen=True, slots=True)
class Joint:
    """Two ends that meet, by number. Its joiners take their name from the first.

    ``outer`` where a line joins one module to another, or to its own other edge.
    """

    first: int
    second: int
    outer: bool = False


class Joints:
    """The joints of a layout, in order, and the mate of each end."""

    def __init__(self, ground: Ground, report: Report) -> None:
        self._ground = ground
        self._report = report
        self.all: list[Joint] = []
        self.mate: dict[int, int] = {}

    def join(self, a: int, b: int, where: str, outer: bool = False) -> None:
        """Join end ``a`` to end ``b``, unless something forbids it."""
        if self._may(a, b, where):
            self._set(len(self.all), Joint(a, b, outer))

    def _may(self, a: int, b: int, where: str) -> bool:
        ends, before = self._ground.ends, len(self._report.problems)
        if a == b:
            self._report.error(where, "two different ends", f"{shown(ends[a].id)} twice")
            return False
        for end in (a, b):
            if not ends[end].end.joinable:
                expected = "an end that track can be joined to"
                self._report.error(where, expected, f"{shown(ends[end].id)}, a buffer stop")
            elif end in self.mate:
                found = f"{ends[end].id!r}, joined to {ends[self.mate[end]].id!r}"
                self._report.error(where, "an end that is not joined yet", found)
        gauges = [self._ground.pieces[ends[end].piece].piece.gauge_mm for end in (a, b)]
        if gauges[0] != gauges[1]:
            found = f"{gauges[0]:g} mm at {ends[a].id!r}, {gauges[1]:g} mm at {ends[b].id!r}"
            self._report.error(where, "the same gauge on both sides of a joint", found)
        return len(self._report.problems) == before

    def _set(self, place: int, joint: Joint) -> None:
        self.all.insert(place, joint)
        self.mate[joint.first], self.mate[joint.second] = joint.second, joint.first

    def insert(self, end: int, near: int, far: int) -> None:
        """Put a piece with ends ``near`` and ``far`` between ``end`` and its mate."""
        mate = self.mate.get(end)
        if mate is None:
            self._set(len(self.all), Joint(end, near))
            return
        place = next(
            n for n, joint in enumerate(self.all) if end in (joint.first, joint.second)
        )
        old = self.all.pop(place)
        if old.first == end:
            self._set(place, Joint(end, near))
            self._set(place + 1, Joint(far, mate, old.outer))
        else:
            self._set(place, Joint(mate, far, old.outer))
            self._set(place + 1, Joint(end, near))

    def within_boards(self) -> list[list[Joint]]:
        """For each board the joints between its own pieces."""
        found: list[list[Joint]] = [[] for _ in self._ground.boards]
        for joint in self.all:
            boards = {self._ground.board_of(end) for end in (joint.first, joint.second)}
            if len(boards) == 1 and not joint.outer:
                found[boards.pop()].append(joint)
        return found


def join_all(scenario: Scenario, ground: Ground, report: Report) -> Joints:
    """Every joint: modules' own first, then those by name, then lines, then added lengths."""
    joints = Joints(ground, report)
    for board in ground.boards:
        for number, pair in enumerate(board.table.joins):
            where = f"{board.where}.joins[{number}]"
            ends = [ground.end_of(f"{board.name}/{e}", report, where, _END) for e in pair]
            if ends[0] is not None and ends[1] is not None:
                joints.join(ends[0], ends[1], where)
    for number, table in enumerate(scenario.join):
        a = ground.end_of(table.a, report, f"join[{number}].a", _END)
        b = ground.end_of(table.b, report, f"join[{number}].b", _END)
        if a is not None and b is not None:
            joints.join(a, b, f"join[{number}]")
    edges = [_edges(ground, joints, board, report) for board in ground.boards]
    for number, line in enumerate(scenario.line):
        _join_line(ground, joints, edges, line, f"line[{number}]", report)
    _insert_added(ground, joints)
    return joints


def edge_ends(scenario: Scenario, ground: Ground, module: str) -> tuple[list[str], list[str]]:
    """Ids of the ends at the west and at the east edge of a module, north to south."""
    report = Report()
    joints = Joints(ground, report)
    board = ground.boards[ground.board_index[module]]
    for pair in board.table.joins:
        ends = [ground.end_index[f"{board.name}/{ref}"] for ref in pair]
        joints.join(ends[0], ends[1], "")
    for table in scenario.join:
        inner = [ground.end_index[ref] for ref in (table.a, table.b)]
        joints.join(inner[0], inner[1], "")
    west, east = _edges(ground, joints, board, report)
    return [ground.ends[n].id for n in west], [ground.ends[n].id for n in east]


Edges = tuple[list[int], list[int]]


def _edges(ground: Ground, joints: Joints, board: Board, report: Report) -> Edges:
    """Ends at the west and at the east edge of a module, each from north to south."""
    given = board.table.ends
    sides: list[list[int]] = []
    for side, refs in (("west", given.west), ("east", given.east)):
        where = f"{board.where}.ends.{side}"
        if refs is None:
            sides.append(_leading_out(ground, joints, board, side))
            continue
        found = [
            ground.end_of(f"{board.name}/{ref}", report, f"{where}[{n}]", _OWN_END)
            for n, ref in enumerate(refs)
        ]
        sides.append([end for end in found if end is not None])
    _check_edges(ground, board, sides, report)
    return sides[0], sides[1]


def _leading_out(ground: Ground, joints: Joints, board: Board, side: str) -> list[int]:
    """Unjoined ends of the module's own pieces that lead out to ``side``."""
    found: list[int] = []
    for piece in board.own:
        placed = ground.pieces[piece]
        for number, end in enumerate(placed.piece.ends, start=placed.first_end):
            if end.outward == side and end.joinable and number not in joints.mate:
                found.append(number)
    return found


def _check_edges(ground: Ground, board: Board, sides: list[list[int]], report: Report) -> None:
    seen: set[int] = set()
    for end in [*sides[0], *sides[1]]:
        name = ground.ends[end].id
        if end in seen:
            report.error(f"{board.where}.ends", "each end once", f"{name!r} twice")
        seen.add(end)


def _join_line(
    ground: Ground,
    joints: Joints,
    edges: list[Edges],
    line: LineTable,
    where: str,
    report: Report,
) -> None:
    numbers: list[int | None] = []
    for place, name in enumerate(line.modules):
        number = ground.board_index.get(name)
        if number is None:
            report.unknown(f"{where}.modules[{place}]", "a module", name, ground.board_index)
        elif number in numbers:
            expected = "each module once in a line"
            report.error(f"{where}.modules[{place}]", expected, f"{name!r} twice")
            number = None
        numbers.append(number)
    for place, name in enumerate(line.turned):
        if name not in line.modules:
            report.unknown(
                f"{where}.turned[{place}]", "a module of this line", name, line.modules
            )
    pairs = list(zip(range(len(numbers)), range(1, len(numbers)), strict=False))
    if line.ring:
        pairs.append((len(numbers) - 1, 0))
    for one, two in pairs:
        at = f"{where}.modules[{two}]"
        a, b = numbers[one], numbers[two]
        if a is None or b is None:
            continue
        _join_edges(ground, joints, (a, _east(edges, a, line, ground)),
                    (b, _west(edges, b, line, ground)), at, report)  # fmt: skip


def _turned(line: LineTable, ground: Ground, number: int) -> bool:
    board = ground.boards[number]
    return board.table.turned or board.name in line.turned


def _east(edges: list[Edges], number: int, line: LineTable, ground: Ground) -> list[int]:
    """Ends at the edge that lies east in the line: turned round, the west one southward."""
    if _turned(line, ground, number):
        return list(reversed(edges[number][0]))
    return edges[number][1]


def _west(edges: list[Edges], number: int, line: LineTable, ground: Ground) -> list[int]:
    if _turned(line, ground, number):
        return list(reversed(edges[number][1]))
    return edges[number][0]


def _join_edges(
    ground: Ground,
    joints: Joints,
    one: tuple[int, list[int]],
    two: tuple[int, list[int]],
    where: str,
    report: Report,
) -> None:
    names = ground.boards[one[0]].name, ground.boards[two[0]].name
    if not (report.is_whole(names[0]) and report.is_whole(names[1])):
        return
    if len(one[1]) != len(two[1]) or not one[1]:
        expected = f"as many tracks, and at least one, as {names[0]!r} has there: {len(one[1])}"
        report.error(where, expected, f"{len(two[1])} at {names[1]!r}")
        return
    for a, b in zip(one[1], two[1], strict=True):
        joints.join(a, b, where, outer=True)


def _insert_added(ground: Ground, joints: Joints) -> None:
    for piece, at in ground.added_at.items():
        end = ground.end_index.get(at)
        if end is None:
            continue  # already reported
        placed = ground.pieces[piece]
        ends = {
            end.outward: number
            for number, end in enumerate(placed.piece.ends, start=placed.first_end)
        }
        faces_east = ground.ends[end].end.outward == "east"
        near, far = ends["west"], ends["east"]
        joints.insert(end, *((near, far) if faces_east else (far, near)))


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
        report.warn(where, expected, f"{taken:g} mm, {over:g} mm over", "does-not-fit")
