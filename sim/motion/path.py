"""The line of routes a train stands on and will run over.

Path places are whole micrometres, counted in the direction of travel, and the
front of the train is at one of them.  A pickup ``offset_um`` behind the front
reaches a boundary at ``b`` when the front is at ``b + offset_um``.  Whatever
happens at a known place is an :class:`Entry` in one sorted list, so the next
thing to happen is always the next entry.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from enum import IntEnum
from itertools import pairwise
from operator import itemgetter
from typing import Any

from sim.layout.model import NOWHERE, PLASTIC, Layout
from sim.motion.consist import Consist, Pickup


class Mark(IntEnum):
    """What an entry is about."""

    CROSS = 0  #: pickups reach another section; payload: tuple of (side, slot, node)
    FIRST = 1  #: first wheel enters a piece with levers; payload: the segment
    POINTS = 2  #: first wheel reaches moving blades; payload: (segment, points number)
    CLEAR = 3  #: last wheel is off the blades; payload: (segment, points number)
    LAST = 4  #: last wheel has left a piece with levers; payload: the segment
    TAIL = 5  #: rear coupling has left a piece; payload: the segment
    FRONT = 6  #: front coupling enters a piece; payload: the segment
    PLACE = 7  #: a place the timetable waits for; payload: its own


Entry = tuple[int, Mark, Any]  #: (path place of the front, mark, payload)


@dataclass(slots=True, eq=False)
class Segment:
    """One route on the path, run from its start to its finish or the other way."""

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
    """What paths need to know of a layout, looked up once and kept."""

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


class Path:
    """A train's segments and entries. Grows ahead; what lies behind is dropped."""

    __slots__ = (
        "_templates",
        "_tracks",
        "consist",
        "entries",
        "next",
        "same_metal",
        "segments",
    )

    def __init__(
        self, tracks: Tracks, consist: Consist, same_metal: Callable[[int, int], bool]
    ) -> None:
        self._tracks = tracks
        self.consist = consist
        self.same_metal = same_metal
        self.segments: list[Segment] = []
        self.entries: list[Entry] = []
        self.next = 0
        self._templates: dict[tuple[int, bool, int, bool], list[Entry]] = {}

    @property
    def end_um(self) -> int:
        """How far the path is known."""
        return self.segments[-1].end_um

    def append(self, route: int, forward: bool, front_um: float, watch: bool) -> Segment:
        """Add a route ahead; entries that the front has passed are left out.

        With ``watch`` the front's entry gets an entry of its own.
        """
        begin = self.segments[-1].end_um
        segment = Segment(
            route, forward, begin, begin + self._tracks.layout.routes[route].length_um
        )
        new: list[Entry] = [
            (begin + s, mark, payload)
            for s, mark, payload in self._crossings(self.segments[-1], segment)
        ]
        self.segments.append(segment)
        new += self._passings(segment)
        if watch:
            new.append((begin, Mark.FRONT, segment))
        self.add(e for e in new if e[0] > front_um)
        return segment

    def add(self, entries: Iterable[Entry]) -> None:
        """Sort ``entries`` in among those still to come."""
        merged = self.entries[self.next :]
        merged.extend(entries)
        # Stable: at one place crossings stay ahead of what was added after them.
        merged.sort(key=itemgetter(0))
        self.entries, self.next = merged, 0

    def truncate(self, keep: int, front_um: float) -> list[Segment]:
        """Forget all segments from number ``keep`` on; the ones dropped.

        Crossings of the remaining path are laid anew.
        """
        dropped = self.segments[keep:]
        del self.segments[keep:]
        self.relay(front_um)
        return dropped

    def relay(self, front_um: float) -> None:
        """Lay all entries of the known path ahead of the front anew."""
        wanted = [e for e in self.entries[self.next :] if e[1] is Mark.PLACE]
        end = self.end_um
        new = [e for e in wanted if e[0] <= end]
        before: Segment | None = None
        for segment in self.segments:
            if before is not None:
                new += [
                    (segment.begin_um + s, mark, payload)
                    for s, mark, payload in self._crossings(before, segment)
                ]
            else:
                new += self._inner_crossings(segment)
            new += self._passings(segment)
            before = segment
        self.entries, self.next = [], 0
        self.add(e for e in new if e[0] > front_um)

    def drop_behind(self, rear_um: float) -> list[Segment]:
        """Forget segments wholly behind ``rear_um``; the ones dropped."""
        keep = 0
        while keep < len(self.segments) - 1 and self.segments[keep].end_um < rear_um:
            keep += 1
        dropped = self.segments[:keep]
        del self.segments[:keep]
        return dropped

    def at(self, place_um: float) -> Segment:
        """The segment that ``place_um`` lies in; a boundary belongs to the one ahead."""
        # Two or three segments as a rule: a scan beats a search.
        for segment in self.segments:
            if place_um < segment.end_um:
                return segment
        return self.segments[-1]

    def stretch_at(self, place_um: float) -> Stretch:
        """The span of the path that ``place_um`` lies in."""
        segment = self.at(place_um)
        stretches = self._tracks.stretches(segment.route, segment.forward)
        starts = [s.begin_um for s in stretches]
        return stretches[max(0, bisect_right(starts, place_um - segment.begin_um) - 1)]

    def node_under(self, pickup: Pickup, front_um: float) -> int:
        """The node under ``pickup`` while the front is at ``front_um``."""
        stretch = self.stretch_at(front_um - pickup.offset_um)
        return stretch.left if pickup.left else stretch.right

    def _crossings(self, before: Segment, segment: Segment) -> list[Entry]:
        """Crossings of a segment, relative to its begin, for every pickup."""
        key = before.route, before.forward, segment.route, segment.forward
        known = self._templates.get(key)
        if known is None:
            last = self._tracks.stretches(before.route, before.forward)[-1]
            stretches = self._tracks.stretches(segment.route, segment.forward)
            known = self._templates[key] = self._boundaries((last, *stretches))
        return known

    def _inner_crossings(self, segment: Segment) -> list[Entry]:
        stretches = self._tracks.stretches(segment.route, segment.forward)
        return [
            (segment.begin_um + s, mark, payload)
            for s, mark, payload in self._boundaries(stretches)
        ]

    def _boundaries(self, stretches: tuple[Stretch, ...]) -> list[Entry]:
        found: dict[int, list[tuple[int, int, int]]] = {}
        for before, after in pairwise(stretches):
            for p in self.consist.pickups:
                old, new = (before.left, after.left) if p.left else (before.right, after.right)
                # Metal that nothing can part is one section to the trace: no event.
                if not self.same_metal(old, new):
                    place = after.begin_um + p.offset_um
                    found.setdefault(place, []).append((p.side, p.slot, new))
        return [(s, Mark.CROSS, tuple(moves)) for s, moves in sorted(found.items())]

    def _passings(self, segment: Segment) -> list[Entry]:
        layout = self._tracks.layout
        route = layout.routes[segment.route]
        begin, end, consist = segment.begin_um, segment.end_um, self.consist
        found: list[Entry] = []
        if layout.pieces[route.piece].levers:
            found.append((begin + consist.first_wheel_um, Mark.FIRST, segment))
            found.append((end + consist.last_wheel_um, Mark.LAST, segment))
        for number in range(len(route.points)):
            near, far = self.blades(segment, number)
            found.append((near + consist.first_wheel_um, Mark.POINTS, (segment, number)))
            found.append((far + consist.last_wheel_um, Mark.CLEAR, (segment, number)))
        if route.conflicts:
            found.append((end + consist.length_um, Mark.TAIL, segment))
        return found

    def blades(self, segment: Segment, number: int) -> tuple[int, int]:
        """Path places where the blades of points ``number`` begin and end."""
        points = self._tracks.layout.routes[segment.route].points[number]
        low, high = sorted((points.tip_um, points.heel_um))
        if segment.forward:
            return segment.begin_um + low, segment.begin_um + high
        return segment.end_um - high, segment.end_um - low

    def is_facing(self, segment: Segment, number: int) -> bool:
        """Whether the train meets the tip of points ``number`` first."""
        points = self._tracks.layout.routes[segment.route].points[number]
        return (points.tip_um < points.heel_um) == segment.forward

    def turned(self, front_um: float) -> tuple[Path, float]:
        """The same place with the train's other end leading, and its front there.

        New places count from the old ones' negative, so they stay whole numbers.
        """
        consist = self.consist.turned()
        path = Path(self._tracks, consist, self.same_metal)
        path.segments = [
            Segment(s.route, not s.forward, -s.end_um, -s.begin_um)
            for s in reversed(self.segments)
        ]
        return path, consist.length_um - front_um


__all__ = [
    "NOWHERE",
    "PLASTIC",
    "Entry",
    "Mark",
    "Path",
    "Segment",
    "Stretch",
    "Tracks",
]
