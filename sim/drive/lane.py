"""The way that a drive takes: one route with what lies before and after it.

A train comes from a place where all its wheels are on the neighbours, and goes to
one where they are again.  Where the track ends, or points lie against it, it
begins or ends with its end there.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property

from sim.layout.model import NOWHERE, Layout


@dataclass(frozen=True, slots=True)
class Lane:
    """Routes in the order of travel, each with whether it is run toward its finish.

    ``over`` is the place among them of the route that is driven over.  The front
    begins ``begin_um`` from where that route is entered, and goes ``way_um``.
    """

    segments: tuple[tuple[int, bool], ...]
    over: int
    begin_um: int
    way_um: int
    levers: frozenset[int]  #: that decide on the lane, lying as they do


class Projections:
    """Some settings, as seen by a few levers at a time."""

    def __init__(self, settings: Iterable[Sequence[int]]) -> None:
        self._settings = list(settings)
        self._known: dict[frozenset[int], list[dict[int, int]]] = {}

    def of(self, levers: frozenset[int]) -> list[dict[int, int]]:
        """The different positions of ``levers``, by lever."""
        known = self._known.get(levers)
        if known is None:
            order = sorted(levers)
            seen = dict.fromkeys(tuple(s[n] for n in order) for s in self._settings)
            known = [dict(zip(order, some, strict=True)) for some in seen]
            self._known[levers] = known
        return known


#: Position index by lever: of all levers, or of those that are asked for.
Lying = Sequence[int] | Mapping[int, int]


class Lanes:
    """Finds lanes over one layout."""

    def __init__(self, layout: Layout) -> None:
        self._layout = layout
        self._leading_in: list[list[tuple[int, bool]]] = [[] for _ in layout.ends]
        for number, route in enumerate(layout.routes):
            self._leading_in[route.start].append((number, True))
            self._leading_in[route.finish].append((number, False))
        #: by end: levers that decide what a train comes onto there
        self._deciding = [
            frozenset(p.lever for r, _ in there for p in layout.routes[r].points)
            for there in self._leading_in
        ]
        self._far: dict[int, tuple[tuple[int, ...], int]] = {}
        self._pointed = [n for n, route in enumerate(layout.routes) if route.points]

    def is_set(self, route: int, positions: Lying) -> bool:
        """Whether all points of ``route`` lie for it."""
        return all(positions[p.lever] == p.position for p in self._layout.routes[route].points)

    def after(
        self, route: int, forward: bool, positions: Sequence[int]
    ) -> tuple[int, bool] | None:
        """The route that follows, and its direction; None where the way ends."""
        joined = self._layout.ends[self._exit(route, forward)].joined
        if joined == NOWHERE:
            return None
        set_ones = (r for r in self._leading_in[joined] if self.is_set(r[0], positions))
        return next(set_ones, None)

    def comes_onto(
        self, route: int, forward: bool, positions: Sequence[int]
    ) -> tuple[int, bool] | None:
        """What a train that is to go over ``route`` comes onto, points against it or not.

        Only the points that it meets by their tips decide.
        """
        it = self._layout.routes[route]
        for number, way in self._leading_in[it.start if forward else it.finish]:
            points = self._layout.routes[number].points
            if all(
                positions[p.lever] == p.position
                for p in points
                if (p.tip_um < p.heel_um) == way
            ):
                return number, way
        return None

    def over(
        self,
        route: int,
        forward: bool,
        positions: Sequence[int],
        length_um: int,
        front_um: int | None = None,
    ) -> Lane | None:
        """The lane of a train of that length; None where the track is too short for it.

        With ``front_um`` it begins with its front so far in, if there is room.  Where
        points of ``route`` itself lie against the train it ends at their blades.
        """
        lane = self.find(route, forward, positions, length_um, front_um)
        return lane if lane.segments else None

    def find(
        self,
        route: int,
        forward: bool,
        positions: Sequence[int],
        length_um: int,
        front_um: int | None = None,
    ) -> Lane:
        """The same, or a lane without segments that tells which levers decided so."""
        it = self._layout.routes[route]
        own, levers = it.length_um, {p.lever for p in it.points}
        ahead: list[tuple[int, bool]] = []
        room_ahead = 0
        against = self._blades_against(route, forward, positions)
        if against is not None:
            own = against
        else:
            ahead, room_ahead = self._walk(route, forward, positions, length_um, levers)
        back, room_behind = self._walk(route, not forward, positions, length_um, levers)
        begin = length_um - room_behind if front_um is None else front_um
        if begin > own + room_ahead or begin + room_behind < length_um:
            return Lane((), 0, 0, 0, frozenset(levers))
        behind = [(r, not f) for r, f in reversed(back)]
        segments = (*behind, (route, forward), *ahead)
        way_um = own + room_ahead - begin
        return Lane(segments, len(behind), begin, way_um, frozenset(levers))

    def _blades_against(
        self, route: int, forward: bool, positions: Sequence[int]
    ) -> int | None:
        """How far into ``route`` the first blades are that lie against a train on it."""
        it = self._layout.routes[route]
        blades = [
            min(p.tip_um, p.heel_um) if forward else it.length_um - max(p.tip_um, p.heel_um)
            for p in it.points
            if positions[p.lever] != p.position
        ]
        return min(blades, default=None)

    def leads_to(self, route: int, forward: bool) -> Sequence[tuple[int, bool]]:
        """What may follow ``route``, however the levers lie."""
        joined = self._layout.ends[self._exit(route, forward)].joined
        return () if joined == NOWHERE else self._leading_in[joined]

    def onward(
        self, route: int, forward: bool, settings: Projections
    ) -> Iterator[tuple[int, bool]]:
        """What may follow ``route`` in any of some settings in which it is set."""
        joined = self._layout.ends[self._exit(route, forward)].joined
        if joined == NOWHERE:
            return
        own = {p.lever for p in self._layout.routes[route].points}
        seen: set[tuple[int, bool]] = set()
        for positions in settings.of(self._deciding[joined] | own):
            if self.is_set(route, positions):
                for there in self._leading_in[joined]:
                    if there not in seen and self.is_set(there[0], positions):
                        seen.add(there)
                        yield there

    def shut_in(self, positions: Sequence[int]) -> set[int]:
        """Routes that are set, but that points shut in: no train is asked to run there.

        A siding whose points lie for the main line, or a yard behind them. A way on
        which both ends are closed counts as shut in when points close it that are on
        no part of the way itself; those of a crossover, which the way runs over, do
        not: somebody set them for it.
        """
        layout, found, seen = self._layout, set[int](), set[int]()
        pointed = [r for r in self._pointed if self.is_set(r, positions)]
        enters = {}
        for r in pointed:
            enters[layout.routes[r].start] = r, True
            enters[layout.routes[r].finish] = r, False
        for route in pointed:
            if route in seen:
                continue
            on, ends = {route}, []
            for way in (True, False):
                here: tuple[int, bool] | None = (route, way)
                while here is not None:
                    plain, end = self._plain_beyond(self._exit(*here))
                    on.update(plain)
                    here = enters.get(end)
                    if here is None:
                        ends.append(end)
                    elif here[0] in on:
                        break  # round once, or back over a loop
                    else:
                        on.add(here[0])
            seen |= on
            if len(ends) == 2 and self._is_shut(ends, on):
                found |= on
        for plain, both in self._plain_ways:
            if plain and plain[0] not in seen and self._is_shut(both, set(plain)):
                found.update(plain)
        return found

    def _is_shut(self, ends: Sequence[int], on: set[int]) -> bool:
        """Whether points at these ends of a way close it that are on no part of it."""
        layout = self._layout
        shut = {layout.ends[e].piece for e in ends if e != NOWHERE}
        return bool(shut) and shut.isdisjoint(layout.routes[r].piece for r in on)

    def _plain_beyond(self, end: int) -> tuple[tuple[int, ...], int]:
        """Routes beyond an end up to the next points, and the end that leads in there.

        NOWHERE where the track ends, or comes back to where it began.
        """
        known = self._far.get(end)
        if known is None:
            layout, passed = self._layout, list[int]()
            there = layout.ends[end].joined
            while there != NOWHERE and not self._deciding[there]:
                leading = self._leading_in[there]
                if not leading or leading[0][0] in passed:
                    there = NOWHERE
                    break
                passed.append(leading[0][0])
                there = layout.ends[self._exit(*leading[0])].joined
            known = self._far[end] = tuple(passed), there
        return known

    @cached_property
    def _plain_ways(self) -> list[tuple[tuple[int, ...], tuple[int, int]]]:
        """Ways without points from one set of points to the next, or to the end of track."""
        layout = self._layout
        found = []
        for route in self._pointed:
            for end in (layout.routes[route].start, layout.routes[route].finish):
                plain, there = self._plain_beyond(end)
                found.append((plain, (end, there)))
        return found

    def _exit(self, route: int, forward: bool) -> int:
        it = self._layout.routes[route]
        return it.finish if forward else it.start

    def _walk(
        self,
        route: int,
        forward: bool,
        positions: Sequence[int],
        need_um: int,
        levers: set[int],
    ) -> tuple[list[tuple[int, bool]], int]:
        """Routes beyond ``route`` until ``need_um`` are there, and how much there is.

        What decides on them is added to ``levers``.
        """
        found: list[tuple[int, bool]] = []
        here, room = (route, forward), 0
        while room < need_um:
            joined = self._layout.ends[self._exit(*here)].joined
            if joined != NOWHERE:
                levers |= self._deciding[joined]
            following = self.after(*here, positions)
            if following is None:
                return found, room
            found.append(following)
            room += self._layout.routes[following[0]].length_um
            here = following
        return found, need_um
