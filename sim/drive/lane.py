"""The way that a drive takes: one route with what lies before and after it.

A train comes from a place where all its wheels are on the neighbours, and goes to
one where they are again.  Where the track ends, or points lie against it, it
begins or ends with its end there.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

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


class Lanes:
    """Finds lanes over one layout."""

    def __init__(self, layout: Layout) -> None:
        self._layout = layout
        self._leading_in: list[list[tuple[int, bool]]] = [[] for _ in layout.ends]
        for number, route in enumerate(layout.routes):
            self._leading_in[route.start].append((number, True))
            self._leading_in[route.finish].append((number, False))

    def is_set(self, route: int, positions: Sequence[int]) -> bool:
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
        own = self._layout.routes[route].length_um
        ahead, room_ahead = self._walk(route, forward, positions, length_um)
        against = self._blades_against(route, forward, positions)
        if against is not None:
            own, ahead, room_ahead = against, [], 0
        back, room_behind = self._walk(route, not forward, positions, length_um)
        begin = length_um - room_behind
        if front_um is not None:
            if front_um + room_behind < length_um:
                return None
            begin = front_um
        if begin > own + room_ahead:
            return None
        behind = [(r, not f) for r, f in reversed(back)]
        segments = (*behind, (route, forward), *ahead)
        return Lane(segments, len(behind), begin, own + room_ahead - begin)

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

    def shut_in(self, positions: Sequence[int]) -> set[int]:
        """Routes that are set, but that points shut in: no train is asked to run there.

        A siding whose points lie for the main line, or a yard behind them. A way on
        which both ends are closed counts as shut in when points close it that are on
        no part of the way itself; those of a crossover, which the way runs over, do
        not: somebody set them for it.
        """
        found: set[int] = set()
        seen: set[int] = set()
        for route in range(len(self._layout.routes)):
            if route in seen or not self.is_set(route, positions):
                continue
            on, ends = {route}, []
            for forward in (True, False):
                here: tuple[int, bool] | None = (route, forward)
                while here is not None:
                    end = self._exit(*here)
                    here = self.after(*here, positions)
                    if here is not None and here[0] in on:
                        break  # round once, or back over a loop
                    if here is None:
                        ends.append(self._layout.ends[end].joined)
                    else:
                        on.add(here[0])
            seen |= on
            pieces = {self._layout.routes[r].piece for r in on}
            shut = {self._layout.ends[e].piece for e in ends if e != NOWHERE}
            if len(ends) == 2 and shut and not shut & pieces:
                found |= on
        return found

    def _exit(self, route: int, forward: bool) -> int:
        it = self._layout.routes[route]
        return it.finish if forward else it.start

    def _walk(
        self, route: int, forward: bool, positions: Sequence[int], need_um: int
    ) -> tuple[list[tuple[int, bool]], int]:
        """Routes beyond ``route`` until ``need_um`` are there, and how much there is."""
        found: list[tuple[int, bool]] = []
        here, room = (route, forward), 0
        while room < need_um:
            following = self.after(*here, positions)
            if following is None:
                return found, room
            found.append(following)
            room += self._layout.routes[following[0]].length_um
            here = following
        return found, need_um
