"""The rails of one piece: every stretch once, though several routes run over it."""

from __future__ import annotations

import itertools
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from sim.pieces.geometry import walk
from sim.pieces.model import Piece, Points, Route
from viewer.place.blades import Blade, blade_of, open_line
from viewer.place.lines import Line, Point, beside, rail_line, start_pose

LEFT, RIGHT = 1.0, -1.0
#: Rail of the same section nearer than this (squared) is the same rail.
SAME_RAIL_MM2 = 0.4


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


def rails_of(piece: Piece) -> tuple[RailLine, ...]:
    """All rails of ``piece``."""
    return tuple(_RailLayer(piece).rails())


def route_line(piece: Piece, route: Route, left_mm: float = 0.0) -> Line:
    """The line ``left_mm`` to the left of the middle of a whole route."""
    return rail_line(route.course, start_pose(piece, route), 0.0, route.length_mm, left_mm)


def merged(route: Route, side: float) -> list[tuple[str | None, float, float]]:
    """(section, from, to) of one rail of a route, neighbours of one section made one."""
    made: list[tuple[str | None, float, float]] = []
    for span in route.spans:
        section = span.left if side == LEFT else span.right
        if made and made[-1][0] == section:
            made[-1] = section, made[-1][1], span.to_mm
        else:
            made.append((section, span.from_mm, span.to_mm))
    return made


@dataclass(slots=True)
class _Laid:
    """One stretch of one route's rail before it is cut into lines."""

    route: Route
    side: float
    section: str | None
    from_mm: float
    to_mm: float
    blade: Blade | None = None


class _RailLayer:
    """Lays the rails of one piece, each place once."""

    def __init__(self, piece: Piece) -> None:
        self.piece = piece
        self.half = piece.gauge_mm / 2.0
        self.starts = {r.name: start_pose(piece, r) for r in piece.routes}
        self.covered: dict[tuple[str | None, int, int], list[Point]] = {}
        self.begun: set[str | None] = set()  #: sections that something covers

    def rails(self) -> Iterator[RailLine]:
        """Route by route; what one has laid the next ones leave out."""
        single = len(self.piece.routes) == 1
        for s in itertools.chain.from_iterable(map(self._route, self.piece.routes)):
            if s.blade is not None:
                yield self._blade(s, s.blade)
            elif single:
                yield RailLine(s.section, self._line(s, s.from_mm, s.to_mm))
            else:
                for low, high in self._uncovered(s):
                    yield RailLine(s.section, self._line(s, low, high))

    def _line(self, s: _Laid, from_mm: float, to_mm: float) -> Line:
        start = self.starts[s.route.name]
        return rail_line(s.route.course, start, from_mm, to_mm, s.side * self.half)

    def _blade(self, s: _Laid, blade: Blade) -> RailLine:
        closed = self._line(s, s.from_mm, s.to_mm)
        opened = open_line(closed, s, self.starts[s.route.name], self.half)
        return RailLine(s.section, closed, blade.points.lever, blade.points.position, opened)

    def _route(self, route: Route) -> Iterator[_Laid]:
        """Stretches of both rails, cut where a blade begins or ends."""
        blades = [(p, blade_of(self.piece, route, p)) for p in route.points]
        for side in (LEFT, RIGHT):
            moving = [(p, b) for p, b in blades if b is not None and b.side == side]
            for section, low, high in merged(route, side):
                yield from _with_blades(route, side, section, low, high, moving)

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
                    if (px - x) ** 2 + (py - y) ** 2 < SAME_RAIL_MM2:
                        return True
        return False


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
