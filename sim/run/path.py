"""The line of routes a train stands on and will run over, and what that needs of a layout.

Path places are whole micrometres, counted in the direction of travel, and the
front of the train is at one of them.  A pickup ``offset_um`` behind the front
reaches a boundary at ``b`` when the front is at ``b + offset_um``.  Whatever
happens at a known place is an :class:`Entry` in one sorted list, so the next
thing to happen is always the next entry.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass
from enum import IntEnum
from itertools import pairwise
from math import inf
from operator import attrgetter, itemgetter

from sim.layout.model import UM_PER_MM, Layout
from sim.layout.track_graph import routes_by_end
from sim.run.consist import Consist, Pickup


@dataclass(slots=True, eq=False)
class Segment:
    """One route on a path, run from its start to its finish or the other way."""

    route: int
    forward: bool
    begin_um: int
    end_um: int

    def on_route_mm(self, place_um: float) -> float:
        """A path place as mm from the start end of the route."""
        along = place_um - self.begin_um
        if not self.forward:
            along = (self.end_um - self.begin_um) - along
        return round(along / UM_PER_MM, 3)


@dataclass(frozen=True, slots=True)
class PathSpan:
    """A span as met in the direction of travel: ``begin_um`` from where it is entered."""

    begin_um: int
    left: int
    right: int


class TrackMap:
    """The routes of a layout by the ends that they lead in from."""

    def __init__(self, layout: Layout) -> None:
        self.layout = layout
        self.routes_at = routes_by_end(layout.routes, len(layout.ends))
        #: by route: the piece that it lies in
        self.piece_of = [r.piece for r in layout.routes]
        self._stretches: dict[tuple[int, bool], tuple[PathSpan, ...]] = {}

    def stretches(self, route: int, forward: bool) -> tuple[PathSpan, ...]:
        """Spans of ``route`` in the order met, left and right as met."""
        known = self._stretches.get((route, forward))
        if known is None:
            r = self.layout.routes[route]
            if forward:
                known = tuple(PathSpan(s.from_um, s.left, s.right) for s in r.spans)
            else:
                known = tuple(
                    PathSpan(r.length_um - s.to_um, s.right, s.left) for s in reversed(r.spans)
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
        return self.piece_of[segment.route]

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


class Mark(IntEnum):
    """What an entry is about, in the order of one place: wheels leave, then arrive."""

    CLEAR = 0  #: last wheel is off the blades of points ``number``
    LAST = 1  #: last wheel has left a piece with levers
    TAIL = 2  #: rear coupling has left a piece on which routes conflict
    CROSS = 3  #: pickups reach another section: ``moves``
    FIRST = 4  #: first wheel enters a piece with levers
    POINTS = 5  #: first wheel reaches the blades of points ``number``
    PLACE = 6  #: a place that order ``number`` of the timetable waits for


#: Pickups that change section: (side, slot, node they come onto).
Moves = tuple[tuple[int, int, int], ...]
#: (path place of the front, mark, moves, segment, number)
Entry = tuple[int, Mark, Moves, Segment, int]
_IN_ORDER = itemgetter(0, 1)
_BEGIN = attrgetter("begin_um")
SameMetal = Callable[[int, int], bool]


class Path:
    """A train's segments and entries. Grows ahead; what lies behind is dropped.

    ``done_um`` is the place up to which entries have been dealt with.
    """

    __slots__ = (
        "_lefts",
        "_rights",
        "_same_metal",
        "_templates",
        "_tracks",
        "consist",
        "done_um",
        "entries",
        "next",
        "segments",
    )

    def __init__(self, tracks: TrackMap, consist: Consist, same_metal: SameMetal) -> None:
        self._tracks = tracks
        self.consist = consist
        self._lefts = [p for p in consist.pickups if p.left]
        self._rights = [p for p in consist.pickups if not p.left]
        self._same_metal = same_metal
        self.segments: list[Segment] = []
        self.entries: list[Entry] = []
        self.next = 0
        self.done_um = -inf
        self._templates: dict[tuple[int, bool, int, bool], list[tuple[int, Moves]]] = {}

    @property
    def end_um(self) -> int:
        """How far the path is known."""
        return self.segments[-1].end_um

    def append(self, route: int, forward: bool) -> Segment:
        """Add a route ahead."""
        before = self.segments[-1]
        begin = before.end_um
        length = self._tracks.layout.routes[route].length_um
        segment = Segment(route, forward, begin, begin + length)
        self.segments.append(segment)
        new = self._crossings(before, segment)
        new += self._passings(segment)
        self.add(new)
        return segment

    def add(self, entries: Iterable[Entry]) -> None:
        """Sort ``entries`` in among those still to come; what is done with is left out."""
        merged = self.entries[self.next :]
        done = self.done_um
        merged += [e for e in entries if e[0] > done]
        merged.sort(key=_IN_ORDER)
        self.entries, self.next = merged, 0

    def forget_places(self) -> None:
        """Drop every place that the timetable waited for."""
        self.entries = [e for e in self.entries[self.next :] if e[1] is not Mark.PLACE]
        self.next = 0

    def is_ahead(self, mark: Mark, segment: Segment, number: int = 0) -> bool:
        """Whether that is still to happen: exact, however near the train is."""
        return any(
            e[1] is mark and e[3] is segment and e[4] == number
            for e in self.entries[self.next :]
        )

    def truncate(self, keep: int) -> list[Segment]:
        """Forget all segments from number ``keep`` on; the ones dropped."""
        dropped = self.segments[keep:]
        del self.segments[keep:]
        self.relay()
        return dropped

    def relay(self) -> None:
        """Lay all entries of the known path that are not done with anew."""
        known = {id(s) for s in self.segments}
        new = [e for e in self.entries[self.next :] if e[1] is Mark.PLACE and id(e[3]) in known]
        new += self._inner_crossings(self.segments[0])
        for before, segment in pairwise(self.segments):
            new += self._crossings(before, segment)
        for segment in self.segments:
            new += self._passings(segment)
        self.entries, self.next = [], 0
        self.add(new)

    def drop_behind(self, rear_um: float) -> list[Segment]:
        """Forget segments that the rear has left; the ones dropped."""
        keep = 0
        while keep < len(self.segments) - 1 and self.segments[keep].end_um <= rear_um:
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

    def under(self, pickup: Pickup, front_um: float) -> tuple[Segment, float, int]:
        """Where ``pickup`` is while the front is at ``front_um``.

        The segment, how far into it (µm), and the node.
        """
        place_um = front_um - pickup.offset_um
        segment = self.at(place_um)
        along_um = place_um - segment.begin_um
        spans = self._tracks.stretches(segment.route, segment.forward)
        span = spans[0]
        if len(spans) > 1:
            span = spans[max(0, bisect_right(spans, along_um, key=_BEGIN) - 1)]
        return segment, along_um, span.left if pickup.left else span.right

    def node_under(self, pickup: Pickup, front_um: float) -> int:
        """The node under ``pickup`` while the front is at ``front_um``."""
        return self.under(pickup, front_um)[2]

    def _crossings(self, before: Segment, segment: Segment) -> list[Entry]:
        """Crossings of a segment's boundaries, that with the one before it included."""
        key = before.route, before.forward, segment.route, segment.forward
        known = self._templates.get(key)
        if known is None:
            last = self._tracks.stretches(before.route, before.forward)[-1]
            stretches = self._tracks.stretches(segment.route, segment.forward)
            known = self._templates[key] = list(self._boundaries((last, *stretches)))
        begin = segment.begin_um
        return [(begin + s, Mark.CROSS, moves, segment, 0) for s, moves in known]

    def _inner_crossings(self, segment: Segment) -> list[Entry]:
        stretches = self._tracks.stretches(segment.route, segment.forward)
        begin = segment.begin_um
        found = self._boundaries(stretches)
        return [(begin + s, Mark.CROSS, moves, segment, 0) for s, moves in found]

    def _boundaries(self, stretches: tuple[PathSpan, ...]) -> Iterator[tuple[int, Moves]]:
        """(place from the segment's begin, moves) for every boundary and pickup."""
        found: dict[int, list[tuple[int, int, int]]] = {}
        for before, after in pairwise(stretches):
            for old, new, pickups in (
                (before.left, after.left, self._lefts),
                (before.right, after.right, self._rights),
            ):
                # Metal that nothing can part is one section to the trace: no event.
                if not self._same_metal(old, new):
                    for p in pickups:
                        place = after.begin_um + p.offset_um
                        found.setdefault(place, []).append((p.side, p.slot, new))
        return ((place, tuple(moves)) for place, moves in sorted(found.items()))

    def _passings(self, segment: Segment) -> list[Entry]:
        """What wheels and couplings reach on ``segment``, besides other sections."""
        layout = self._tracks.layout
        route = layout.routes[segment.route]
        levers = layout.pieces[route.piece].levers
        if not (levers or route.points or route.conflicts):
            return []
        first, last = self.consist.first_wheel_um, self.consist.last_wheel_um
        found: list[Entry] = []
        if levers:
            found.append((segment.begin_um + first, Mark.FIRST, (), segment, 0))
            found.append((segment.end_um + last, Mark.LAST, (), segment, 0))
        for number in range(len(route.points)):
            near, far = self._tracks.blades(segment, number)
            found.append((near + first, Mark.POINTS, (), segment, number))
            found.append((far + last, Mark.CLEAR, (), segment, number))
        if route.conflicts:
            tail = segment.end_um + self.consist.length_um
            found.append((tail, Mark.TAIL, (), segment, 0))
        return found

    def turned(self, front_um: float) -> tuple[Path, float]:
        """The same place with the train's other end leading, and its front there.

        New places count from the old ones' negative, so they stay whole numbers.
        """
        consist = self.consist.turned()
        path = Path(self._tracks, consist, self._same_metal)
        path.segments = [
            Segment(s.route, not s.forward, -s.end_um, -s.begin_um)
            for s in reversed(self.segments)
        ]
        path.done_um = consist.length_um - front_um
        path.relay()
        return path, path.done_um
