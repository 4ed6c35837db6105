"""The shape of one piece in its own drawing: every rail once, and where things sit."""

from __future__ import annotations

import itertools
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from functools import cache
from math import hypot

from sim.pieces.geometry import Pose, walk
from sim.pieces.model import Piece, Points, Route
from viewer.place.blades import Blade, blade_of, open_line
from viewer.place.lines import (
    Line,
    Point,
    beside,
    length_of,
    middle,
    nearest_pair,
    rail_line,
    start_pose,
)

LEFT, RIGHT = 1.0, -1.0
#: Two rails that meet at less than 2 degrees (sine squared) run beside each other.
FLATTEST = 0.0012
#: Two crossings nearer than this are one frog.
SAME_FROG_MM = 0.5


@dataclass(frozen=True, slots=True)
class RailLine:
    """A stretch of rail; ``section`` None is plastic.

    A moving blade has two lines: as it lies while its route is set, and open.
    """

    section: str | None
    line: Line
    lever: str = ""
    position: str = ""
    opened: Line = ()


@dataclass(frozen=True, slots=True)
class Cut:
    """A gap: its place, and the direction of the rail there in degrees."""

    name: str
    at: Point
    heading_deg: float


@dataclass(frozen=True, slots=True)
class Link:
    """A bond or contact: between which two places of its sections."""

    name: str
    a: Point
    b: Point


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

    def middle_of(self, section: str) -> Point | None:
        """A place on the section, half way along its longest line."""
        lines = self.lines_of(section)
        return middle(lines[0]) if lines else None


@cache
def _shape_by_id(_: int, held: _Held) -> Shape:
    return _Maker(held.piece).shape()


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


@dataclass(slots=True)
class _Laid:
    """One stretch of one route's rail before it is cut into lines."""

    route: Route
    side: float
    section: str | None
    from_mm: float
    to_mm: float
    blade: Blade | None = None


class _Maker:
    """Lays the rails of one piece, each place once."""

    def __init__(self, piece: Piece) -> None:
        self.piece = piece
        self.half = piece.gauge_mm / 2.0
        self.starts = {r.name: start_pose(piece, r) for r in piece.routes}
        self.covered: dict[tuple[str | None, int, int], list[Point]] = {}
        self.begun: set[str | None] = set()  #: sections that something covers

    def shape(self) -> Shape:
        piece = self.piece
        laid = [s for r in piece.routes for s in self._route(r)]
        rails = tuple(self._rails(laid))
        lines = self._by_section(rails)
        beds = tuple((r.name, self._line(r, 0.0, r.length_mm, 0.0)) for r in piece.routes)
        cuts = self._boundaries()
        points = [p for r in rails for p in r.line] or [(0.0, 0.0)]
        xs, ys = [p[0] for p in points], [p[1] for p in points]
        return Shape(
            rails,
            beds,
            tuple(_cut(g.name, g.a, g.b, cuts, lines) for g in piece.gaps),
            tuple(_apart([_link(c.name, c.a, c.b, cuts, lines) for c in piece.contacts])),
            tuple(_link(b.name, b.a, b.b, {}, lines) for b in piece.bonds),
            tuple(self._handles()),
            tuple(self._frogs()),
            (min(xs), min(ys), max(xs), max(ys)),
        )

    def _line(self, route: Route, from_mm: float, to_mm: float, left_mm: float) -> Line:
        return rail_line(route.course, self.starts[route.name], from_mm, to_mm, left_mm)

    def _route(self, route: Route) -> Iterator[_Laid]:
        """Stretches of both rails, cut where a blade begins or ends."""
        blades = [(p, blade_of(self.piece, route, p)) for p in route.points]
        for side in (LEFT, RIGHT):
            moving = [(p, b) for p, b in blades if b is not None and b.side == side]
            for section, low, high in _merged(route, side):
                yield from _with_blades(route, side, section, low, high, moving)

    def _rails(self, laid: Sequence[_Laid]) -> Iterator[RailLine]:
        single = len(self.piece.routes) == 1
        for s in laid:
            if s.blade is not None:
                closed = self._line(s.route, s.from_mm, s.to_mm, s.side * self.half)
                yield RailLine(
                    s.section,
                    closed,
                    s.blade.points.lever,
                    s.blade.points.position,
                    open_line(closed, s, self.starts[s.route.name], self.half),
                )
            elif single:
                yield RailLine(
                    s.section, self._line(s.route, s.from_mm, s.to_mm, s.side * self.half)
                )
            else:
                for low, high in self._uncovered(s):
                    line = self._line(s.route, low, high, s.side * self.half)
                    yield RailLine(s.section, line)

    def _uncovered(self, s: _Laid) -> list[tuple[float, float]]:
        """What of a stretch is not drawn already as part of another route."""
        first = s.section not in self.begun
        steps = max(1, round(s.to_mm - s.from_mm))
        start, runs = self.starts[s.route.name], list[tuple[float, float]]()
        new: list[Point] = []
        width = (s.to_mm - s.from_mm) / steps
        for k in range(steps):
            low = s.from_mm + k * width
            pose = walk(s.route.course, start, low + width / 2.0)
            x, y = beside(pose, s.side * self.half)
            new.append((x, y))
            if not first and self._is_covered(s.section, x, y):
                continue
            if runs and abs(runs[-1][1] - low) < 1e-9:
                runs[-1] = runs[-1][0], low + width
            else:
                runs.append((low, low + width))
        self.begun.add(s.section)
        for x, y in new:
            self.covered.setdefault((s.section, round(x), round(y)), []).append((x, y))
        return runs

    def _is_covered(self, section: str | None, x: float, y: float) -> bool:
        column, row = round(x), round(y)
        for i in (column - 1, column, column + 1):
            for j in (row - 1, row, row + 1):
                for px, py in self.covered.get((section, i, j), ()):
                    if (px - x) ** 2 + (py - y) ** 2 < 0.4:
                        return True
        return False

    def _by_section(self, rails: Iterable[RailLine]) -> dict[str, list[Line]]:
        lines: dict[str, list[Line]] = {}
        for r in rails:
            if r.section is not None:
                lines.setdefault(r.section, []).append(r.line)
        return lines

    def _boundaries(self) -> dict[frozenset[str], tuple[Point, float]]:
        """Where along a rail one section ends and another begins, plastic between or not."""
        found: dict[frozenset[str], tuple[Point, float]] = {}
        for route in self.piece.routes:
            for side in (LEFT, RIGHT):
                last: tuple[str, float] | None = None
                for section, low, high in _merged(route, side):
                    if section is None:
                        continue
                    if last is not None and last[0] != section:
                        at = walk(route.course, self.starts[route.name], (last[1] + low) / 2.0)
                        place = beside(at, side * self.half)
                        pair = frozenset((last[0], section))
                        found.setdefault(pair, (place, at.heading_deg))
                    last = section, high
        return found

    def _handles(self) -> Iterator[tuple[str, Point]]:
        """A lever's handle stands beside the tip of its blades, off the track."""
        seen: set[str] = set()
        for route in self.piece.routes:
            for p in route.points:
                if p.lever in seen:
                    continue
                seen.add(p.lever)
                pose = walk(route.course, self.starts[route.name], p.tip_mm)
                yield p.lever, self._outside(pose)
        for number, lever in enumerate(x.name for x in self.piece.levers):
            if lever not in seen:
                yield lever, (self.piece.gauge_mm * (1.0 + number), self.piece.gauge_mm * 2.0)

    def _outside(self, pose: Pose) -> Point:
        """The side of a place on which the rest of the piece does not lie."""
        ys = [e.y_mm for e in self.piece.ends]
        inner = sum(ys) / len(ys) if ys else 0.0
        up = pose.y_mm > inner or (pose.y_mm == inner and max(ys) <= pose.y_mm)
        facing = 1.0 if abs((pose.heading_deg + 180.0) % 360.0 - 180.0) < 90.0 else -1.0
        return beside(pose, (1.0 if up else -1.0) * facing * self.piece.gauge_mm * 1.5)

    def _frogs(self) -> Iterator[tuple[str, Point]]:
        """Where the rail of one route crosses that of another behind its blades."""
        seen: set[frozenset[str]] = set()
        for a in self.piece.routes:
            for b in self.piece.routes:
                pair = frozenset((a.name, b.name))
                if a is b or pair in seen:
                    continue
                seen.add(pair)
                for number, place in enumerate(self._crossings(a, b)):
                    more = f" {number + 1}" if number else ""
                    yield f"{a.name} x {b.name}{more}", place

    def _crossings(self, a: Route, b: Route) -> list[Point]:
        found: list[Point] = []
        for one in (LEFT, RIGHT):
            first = self._line(a, 0.0, a.length_mm, one * self.half)
            for other in (LEFT, RIGHT):
                second = self._line(b, 0.0, b.length_mm, other * self.half)
                met = _meet(first, second)
                if met is not None and all(hypot(met[0] - x, met[1] - y) > SAME_FROG_MM
                                           for x, y in found):  # fmt: skip
                    found.append(met)
        return found


def _merged(route: Route, side: float) -> list[tuple[str | None, float, float]]:
    """(section, from, to) of one rail of a route, neighbours of one section made one."""
    made: list[tuple[str | None, float, float]] = []
    for span in route.spans:
        section = span.left if side == LEFT else span.right
        if made and made[-1][0] == section:
            made[-1] = section, made[-1][1], span.to_mm
        else:
            made.append((section, span.from_mm, span.to_mm))
    return made


def _with_blades(
    route: Route,
    side: float,
    section: str | None,
    low: float,
    high: float,
    moving: Sequence[tuple[Points, Blade | None]],
) -> Iterator[_Laid]:
    places = {low, high}
    for p, _ in moving:
        places |= {x for x in (p.tip_mm, p.heel_mm) if low < x < high}
    cuts = sorted(places)
    for a, b in itertools.pairwise(cuts):
        centre = (a + b) / 2.0
        blade = next(
            (
                found
                for p, found in moving
                if min(p.tip_mm, p.heel_mm) < centre < max(p.tip_mm, p.heel_mm)
            ),
            None,
        )
        yield _Laid(route, side, section, a, b, blade)


Cuts = dict[frozenset[str], tuple[Point, float]]


def _cut(name: str, a: str, b: str, cuts: Cuts, lines: dict[str, list[Line]]) -> Cut:
    known = cuts.get(frozenset((a, b)))
    if known is not None:
        return Cut(name, *known)
    pair = nearest_pair(lines.get(a, []), lines.get(b, [])) or ((0.0, 0.0), (0.0, 0.0))
    (ax, ay), (bx, by) = pair
    return Cut(name, ((ax + bx) / 2.0, (ay + by) / 2.0), 0.0)


def _link(name: str, a: str, b: str, cuts: Cuts, lines: dict[str, list[Line]]) -> Link:
    known = cuts.get(frozenset((a, b)))
    if known is not None:
        return Link(name, known[0], known[0])
    pair = nearest_pair(lines.get(a, []), lines.get(b, [])) or ((0.0, 0.0), (0.0, 0.0))
    return Link(name, *pair)


def _apart(links: list[Link]) -> list[Link]:
    """Contacts at one place set side by side, so that each can be seen and touched."""
    made: list[Link] = []
    for link in links:
        shift = 0
        while any(_near(link, other, 4.0 * shift) for other in made):
            shift += 1
        move = 4.0 * shift
        made.append(
            Link(link.name, (link.a[0] + move, link.a[1]), (link.b[0] + move, link.b[1]))
        )
    return made


def _near(one: Link, other: Link, shift: float) -> bool:
    x, y = (one.a[0] + one.b[0]) / 2.0 + shift, (one.a[1] + one.b[1]) / 2.0
    ox, oy = (other.a[0] + other.b[0]) / 2.0, (other.a[1] + other.b[1]) / 2.0
    return (x - ox) ** 2 + (y - oy) ** 2 < 9.0


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
