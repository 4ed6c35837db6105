"""Track that leads back on itself: return loops and wyes, where left meets right."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Sequence

from sim.layout.model import NOWHERE, End, Route


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
