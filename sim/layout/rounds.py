"""Which places of a directed graph lie on a round that leads back to them.

Written out plainly: every command assembles a layout, and to load a library of graphs
for two small questions took a fifth of the time in which a window opens.
"""

from __future__ import annotations

from collections.abc import Hashable, Iterable, Mapping
from graphlib import CycleError, TopologicalSorter
from typing import TypeVar

Place = TypeVar("Place", bound=Hashable)


def on_rounds(after: Mapping[Place, Iterable[Place]]) -> set[Place]:
    """The places from which one comes back to the same place, in time linear in the graph.

    ``after`` has every place as a key and what it leads on to.  (Strongly connected
    parts by two searches: places in the order in which they were done with, then back
    along the graph from the last; Cormen et al., Introduction to Algorithms, from memory.)
    """
    before: dict[Place, list[Place]] = {place: [] for place in after}
    for place, others in after.items():
        for other in others:
            before[other].append(place)
    found: set[Place] = set()
    parted: set[Place] = set()
    for start in reversed(_done_with(after)):
        if start in parted:
            continue
        part, todo = {start}, [start]
        while todo:
            for other in before[todo.pop()]:
                if other not in parted and other not in part:
                    part.add(other)
                    todo.append(other)
        parted |= part
        if len(part) > 1 or start in before[start]:
            found |= part
    return found


def _done_with(after: Mapping[Place, Iterable[Place]]) -> list[Place]:
    """Every place, each when all that it leads on to has been seen."""
    order: list[Place] = []
    seen: set[Place] = set()
    for start in after:
        if start in seen:
            continue
        seen.add(start)
        stack = [(start, iter(after[start]))]
        while stack:
            place, rest = stack[-1]
            other = next((x for x in rest if x not in seen), None)
            if other is None:
                order.append(place)
                stack.pop()
            else:
                seen.add(other)
                stack.append((other, iter(after[other])))
    return order


def longest_mm(before: Mapping[int, Mapping[int, float]]) -> float | None:
    """Length of the longest way, mm; None where some way leads back on itself.

    ``before`` gives for a place the places that lead on to it and how far each is.
    """
    far: dict[int, float] = {}
    try:
        for place in TopologicalSorter(before).static_order():
            ways = (far[p] + mm for p, mm in before.get(place, {}).items())
            far[place] = max(ways, default=0.0)
    except CycleError:
        return None
    return max(far.values(), default=0.0)
