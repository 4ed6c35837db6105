"""Where gaps, contacts and bonds sit on the rails of one piece."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from sim.pieces.geometry import walk
from sim.pieces.model import Piece
from viewer.place.lines import Line, Point, beside, nearest_pair, start_pose
from viewer.place.rails import LEFT, RIGHT, RailLine, merged

#: Contacts nearer than the first (squared) are set the second apart.
NEAR_MM2, APART_MM = 9.0, 4.0
#: Where sections without any rail are said to meet.
NOWHERE: tuple[Point, Point] = ((0.0, 0.0), (0.0, 0.0))

Lines = dict[str, list[Line]]
Cuts = dict[frozenset[str], tuple[Point, float]]


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


class Fittings:
    """Finds the places on one piece, given its rails."""

    def __init__(self, piece: Piece, rails: Iterable[RailLine]) -> None:
        self.piece = piece
        self.lines = _by_section(rails)
        self.cuts = _boundaries(piece)

    def gaps(self) -> tuple[Cut, ...]:
        """Every gap where its sections meet."""
        return tuple(self._cut(g.name, g.a, g.b) for g in self.piece.gaps)

    def contacts(self) -> tuple[Link, ...]:
        """Every contact where its sections meet, or where they are nearest to each other."""
        links = []
        for c in self.piece.contacts:
            known = self.cuts.get(frozenset((c.a, c.b)))
            ends = self._nearest(c.a, c.b) if known is None else (known[0], known[0])
            links.append(Link(c.name, *ends))
        return tuple(_apart(links))

    def bonds(self) -> tuple[Link, ...]:
        """Every bond where its sections are nearest to each other."""
        return tuple(Link(b.name, *self._nearest(b.a, b.b)) for b in self.piece.bonds)

    def _cut(self, name: str, a: str, b: str) -> Cut:
        known = self.cuts.get(frozenset((a, b)))
        if known is not None:
            return Cut(name, *known)
        (ax, ay), (bx, by) = self._nearest(a, b)
        return Cut(name, ((ax + bx) / 2.0, (ay + by) / 2.0), 0.0)

    def _nearest(self, a: str, b: str) -> tuple[Point, Point]:
        return nearest_pair(self.lines.get(a, []), self.lines.get(b, [])) or NOWHERE


def _by_section(rails: Iterable[RailLine]) -> Lines:
    lines: Lines = {}
    for r in rails:
        if r.section is not None:
            lines.setdefault(r.section, []).append(r.line)
    return lines


def _boundaries(piece: Piece) -> Cuts:
    """Where along a rail one section ends and another begins, plastic between or not."""
    found: Cuts = {}
    for route in piece.routes:
        start = start_pose(piece, route)
        for side in (LEFT, RIGHT):
            last: tuple[str, float] | None = None
            for section, low, high in merged(route, side):
                if section is None:
                    continue
                if last is not None and last[0] != section:
                    at = walk(route.course, start, (last[1] + low) / 2.0)
                    place = beside(at, side * piece.gauge_mm / 2.0)
                    pair = frozenset((last[0], section))
                    found.setdefault(pair, (place, at.heading_deg))
                last = section, high
    return found


def _apart(links: list[Link]) -> list[Link]:
    """Contacts at one place set side by side, so that each can be seen and touched."""
    made: list[Link] = []
    for link in links:
        shift = 0
        while any(_near(link, other, APART_MM * shift) for other in made):
            shift += 1
        move = APART_MM * shift
        made.append(
            Link(link.name, (link.a[0] + move, link.a[1]), (link.b[0] + move, link.b[1]))
        )
    return made


def _near(one: Link, other: Link, shift: float) -> bool:
    x, y = (one.a[0] + one.b[0]) / 2.0 + shift, (one.a[1] + one.b[1]) / 2.0
    ox, oy = (other.a[0] + other.b[0]) / 2.0, (other.a[1] + other.b[1]) / 2.0
    return (x - ox) ** 2 + (y - oy) ** 2 < NEAR_MM2
