"""Walking over joined track: what can be reached, and where it leads back on itself.

Track that leads back on itself: return loops and wyes, where left meets right.

Walk over joined track: what can be reached, and what a standing train covers.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Sequence
from dataclasses import dataclass

from sim.layout.model import NOWHERE, End, Lever, Route


def reversing_loop(routes: Iterable[Route], ends: Sequence[End]) -> tuple[int, ...]:
    """Ends along a way that brings a train back facing the other way; () when there is none.

    Going over a route, or over a joint, each end is left the other way round from
    how it was come to.  Where no such round is of odd length every end can be given
    a side, say east or west; where one is, the rails change sides in it.  The ends
    are those of one odd round, in order of their numbers.
    """
    near: list[set[int]] = [set() for _ in ends]
    joints = ((n, end.joined) for n, end in enumerate(ends) if end.joined != NOWHERE)
    for one, other in (*((r.start, r.finish) for r in routes), *joints):
        near[one].add(other)
        near[other].add(one)
    side: dict[int, int] = {}
    for start in range(len(ends)):
        found = () if start in side else _odd_round(near, start, side)
        if found:
            return found
    return ()


def _odd_round(
    near: Sequence[Collection[int]], start: int, side: dict[int, int]
) -> tuple[int, ...]:
    """Ends of an odd round among those that ``start`` leads to; () for none.

    Every end that it comes to is given its ``side``.
    """
    before: dict[int, int | None] = {start: None}
    side[start] = 0
    todo = [start]
    for here in todo:
        for other in sorted(near[here]):
            if other not in side:
                side[other], before[other] = 1 - side[here], here
                todo.append(other)
            elif side[other] == side[here]:
                ways = [_way(before, here), _way(before, other)]
                shared = set(ways[0]) & set(ways[1])
                own = [n for way in ways for n in way if n not in shared]
                return tuple(sorted(own))
    return ()


def _way(before: dict[int, int | None], node: int) -> list[int]:
    way: list[int] = []
    here: int | None = node
    while here is not None:
        way.append(here)
        here = before[here]
    return way


@dataclass(frozen=True, slots=True)
class Stand:
    """A stretch of a route under a train, in micrometres from the route's start."""

    route: int
    from_um: int
    to_um: int


@dataclass(frozen=True, slots=True)
class Standing:
    """What a train covers; ``off_um`` of it hang beyond the end of the track."""

    stands: tuple[Stand, ...]
    off_um: int


def routes_by_end(routes: Sequence[Route], ends: int) -> list[list[tuple[int, bool]]]:
    """By end, ``ends`` in all: numbers of the routes that begin or finish there.

    With each whether it is run toward its finish by whoever comes in by that end.
    """
    found: list[list[tuple[int, bool]]] = [[] for _ in range(ends)]
    for number, route in enumerate(routes):
        found[route.start].append((number, True))
        found[route.finish].append((number, False))
    return found


class Tracks:
    """Routes by the ends that they leave from."""

    def __init__(
        self, routes: Sequence[Route], ends: Sequence[End], levers: Sequence[Lever]
    ) -> None:
        self._routes, self._ends, self._levers = routes, ends, levers
        self._from = routes_by_end(routes, len(ends))

    def pieces_reached(self, route: int) -> set[int]:
        """Numbers of all pieces that joined track leads to from ``route``."""
        todo = [self._routes[route].start, self._routes[route].finish]
        seen = set(todo)
        while todo:
            end = todo.pop()
            nexts = [self._ends[end].joined]
            for number, _ in self._from[end]:
                nexts += [self._routes[number].start, self._routes[number].finish]
            for other in nexts:
                if other >= 0 and other not in seen:
                    seen.add(other)
                    todo.append(other)
        return {self._ends[end].piece for end in seen}

    def standing(
        self, route: int, place_um: int, toward_finish: bool, length_um: int
    ) -> Standing:
        """What a train of that length covers, its front there, all levers at rest."""
        stands: list[Stand] = []
        left = length_um
        while True:
            here = self._routes[route]
            behind = place_um if toward_finish else here.length_um - place_um
            cover = min(left, behind)
            tail = place_um - cover if toward_finish else place_um + cover
            stands.append(Stand(route, min(tail, place_um), max(tail, place_um)))
            left -= cover
            if left == 0:
                return Standing(tuple(stands), 0)
            joined = self._ends[here.start if toward_finish else here.finish].joined
            before = self._set_from(joined)
            if before is None:
                return Standing(tuple(stands), left)
            route = before
            # the train came through that route and left it by the end just met
            toward_finish = self._routes[route].finish == joined
            place_um = self._routes[route].length_um if toward_finish else 0

    def _set_from(self, end: int) -> int | None:
        """The route from ``end`` that the levers at rest give, else any from there."""
        choices = [] if end == NOWHERE else [number for number, _ in self._from[end]]
        for number in choices:
            if all(self.at_rest(p.lever, p.position) for p in self._routes[number].points):
                return number
        return choices[0] if choices else None

    def at_rest(self, lever: int, position: int) -> bool:
        """True when ``lever`` lies at ``position`` before anything is thrown."""
        return self._levers[lever].rest == position

    def wrong_points(self, standing: Standing) -> int | None:
        """A lever under the train that is not set for the way it stands, if any."""
        for stand in standing.stands:
            for point in self._routes[stand.route].points:
                low, high = sorted((point.tip_um, point.heel_um))
                under = stand.from_um < high and low < stand.to_um
                if under and not self.at_rest(point.lever, point.position):
                    return point.lever
        return None

    def overlap(self, one: Standing, other: Standing) -> int | None:
        """A route on which the two trains stand in the same place, if any."""
        return next(
            (a.route for a in one.stands for b in other.stands if self._meet(a, b)), None
        )

    def overlaps_itself(self, standing: Standing) -> bool:
        """True when the train is longer than the ring that it stands on."""
        return any(
            self._meet(a, b)
            for n, a in enumerate(standing.stands)
            for b in standing.stands[n + 1 :]
        )

    def _meet(self, a: Stand, b: Stand) -> bool:
        if a.from_um == a.to_um or b.from_um == b.to_um:
            return False
        if a.route == b.route:
            return a.from_um < b.to_um and b.from_um < a.to_um
        if b.route not in self._routes[a.route].conflicts:
            return False
        one, other = self._routes[a.route], self._routes[b.route]
        shared = {one.start, one.finish} & {other.start, other.finish}
        return any(self._meet_at(end, a, b) for end in shared)

    def _meet_at(self, end: int, a: Stand, b: Stand) -> bool:
        """Two routes part at their blades: up to the heel they are one track."""
        spans = []
        for stand in (a, b):
            route = self._routes[stand.route]
            from_start = route.start == end
            low = stand.from_um if from_start else route.length_um - stand.to_um
            high = stand.to_um if from_start else route.length_um - stand.from_um
            heels = [p.heel_um if from_start else route.length_um - p.heel_um
                     for p in route.points]  # fmt: skip
            spans.append((low, min(high, min(heels, default=high))))
        return spans[0][0] < spans[1][1] and spans[1][0] < spans[0][1]
