"""Through which closed contacts a rail has its pole."""

from __future__ import annotations

from collections import deque
from collections.abc import Collection, Iterable
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from sim.motion.world import World


def contacts_to_pole(
    world: World, nodes: Iterable[int], closed: Collection[int]
) -> tuple[int, ...]:
    """Closed contacts on the shortest way from each of ``nodes`` to a pole, nearest first.

    ``closed`` are the contacts taken to be closed.  A single throw that takes the
    pole away cuts every way to it, so it is among these.  Trains are left out.
    """
    layout = world.layout
    poles = {node for s in layout.supplies for node in (s.plus, s.minus)}
    ways = _ways(world, closed)
    found: dict[int, None] = {}
    for node in nodes:
        for e in _shortest(ways, node, poles):
            if layout.elements[e].kind == "contact":
                found[e] = None
    return tuple(found)


def _ways(world: World, closed: Collection[int]) -> dict[int, list[tuple[int, int]]]:
    """By node: (element, node at its other end) of everything that conducts."""
    ways: dict[int, list[tuple[int, int]]] = {}
    for e, x in enumerate(world.layout.elements):
        conducts = e in closed if x.kind == "contact" else e not in world.faults.broken
        if conducts and x.kind != "gap":
            ways.setdefault(x.a, []).append((e, x.b))
            ways.setdefault(x.b, []).append((e, x.a))
    return ways


def _shortest(
    ways: dict[int, list[tuple[int, int]]], start: int, poles: Collection[int]
) -> list[int]:
    """Elements from ``start`` to the nearest pole; [] where there is none."""
    came: dict[int, tuple[int, int]] = {start: (-1, start)}
    queue = deque([start])
    while queue:
        node = queue.popleft()
        if node in poles:
            way = []
            while node != start:
                e, node = came[node]
                way.append(e)
            return way[::-1]
        for e, other in ways.get(node, ()):
            if other not in came:
                came[other] = (e, node)
                queue.append(other)
    return []
