"""What paths need to know of a layout, looked up once and kept."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from sim.layout.model import Layout


@dataclass(slots=True, eq=False)
class Segment:
    """One route on a path, run from its start to its finish or the other way."""

    route: int
    forward: bool
    begin_um: int
    end_um: int


@dataclass(frozen=True, slots=True)
class Stretch:
    """A span as met in the direction of travel: ``begin_um`` from where it is entered."""

    begin_um: int
    left: int
    right: int


class Tracks:
    """The routes of a layout by the ends that they lead in from."""

    def __init__(self, layout: Layout) -> None:
        self.layout = layout
        self.routes_at: list[list[tuple[int, bool]]] = [[] for _ in layout.ends]
        for i, r in enumerate(layout.routes):
            self.routes_at[r.start].append((i, True))
            self.routes_at[r.finish].append((i, False))
        self._stretches: dict[tuple[int, bool], tuple[Stretch, ...]] = {}

    def stretches(self, route: int, forward: bool) -> tuple[Stretch, ...]:
        """Spans of ``route`` in the order met, left and right as met."""
        known = self._stretches.get((route, forward))
        if known is None:
            r = self.layout.routes[route]
            if forward:
                known = tuple(Stretch(s.from_um, s.left, s.right) for s in r.spans)
            else:
                known = tuple(
                    Stretch(r.length_um - s.to_um, s.right, s.left) for s in reversed(r.spans)
                )
            self._stretches[route, forward] = known
        return known

    def exit_end(self, route: int, forward: bool) -> int:
        """The end by which a train leaves ``route``."""
        r = self.layout.routes[route]
        return r.finish if forward else r.start

    def entry_end(self, route: int, forward: bool) -> int:
        """The end by which a train comes onto ``route``."""
        return self.exit_end(route, not forward)

    def choose(self, end: int, position_of: Callable[[int], int]) -> tuple[int, bool] | None:
        """The route a train takes that comes in by ``end``, or None.

        Only facing points decide; trailing ones set against it are run through.
        """
        for route, forward in self.routes_at[end]:
            points = self.layout.routes[route].points
            if all(
                position_of(p.lever) == p.position
                for p in points
                if (p.tip_um < p.heel_um) == forward
            ):
                return route, forward
        return None

    def next_entry(self, segment: Segment) -> int:
        """The end joined to where ``segment`` leads, or NOWHERE."""
        return self.layout.ends[self.exit_end(segment.route, segment.forward)].joined

    def last_entry(self, segment: Segment) -> int:
        """The end joined to where ``segment`` comes from, or NOWHERE."""
        return self.layout.ends[self.entry_end(segment.route, segment.forward)].joined

    def piece(self, segment: Segment) -> int:
        """The piece that ``segment`` lies in."""
        return self.layout.routes[segment.route].piece

    def blades(self, segment: Segment, number: int) -> tuple[int, int]:
        """Path places where the blades of points ``number`` begin and end."""
        points = self.layout.routes[segment.route].points[number]
        low, high = sorted((points.tip_um, points.heel_um))
        if segment.forward:
            return segment.begin_um + low, segment.begin_um + high
        return segment.end_um - high, segment.end_um - low

    def is_facing(self, segment: Segment, number: int) -> bool:
        """Whether a train meets the tip of points ``number`` first."""
        points = self.layout.routes[segment.route].points[number]
        return (points.tip_um < points.heel_um) == segment.forward
