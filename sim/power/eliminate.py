"""Reach by elimination: as :func:`sim.power.batch.spread_all`, node by node.

A node is taken out and its neighbours are joined through it, as one solves linear
equations, with OR for plus and AND for times.  Every function is then made once,
of few others near it, where spreading makes the same one again and again; that is
what decision diagrams need.
"""

from __future__ import annotations

from collections.abc import Sequence
from heapq import heapify, heappop, heappush

from sim.power.batch import Edge, T


def reach_all(
    nodes: int, edges: Sequence[Edge[T]], sources: Sequence[int], always: T
) -> list[list[T]]:
    """When each node is joined to each of ``sources``; shape (sources, nodes)."""
    never = always & ~always
    near = _neighbours(nodes, edges)
    keep = sorted(set(sources))
    taken = _take_out(near, keep)
    between = _closure(near, keep)
    found = []
    for source in sources:
        row = [never] * nodes
        row[source] = always
        for other in keep:
            row[other] = row[other] | between.get((source, other), never)
        for node, ways in reversed(taken):
            for other, way in ways:
                row[node] = row[node] | (way & row[other])
        found.append(row)
    return found


def _neighbours(nodes: int, edges: Sequence[Edge[T]]) -> list[dict[int, T]]:
    near: list[dict[int, T]] = [{} for _ in range(nodes)]
    for a, b, closed in edges:
        if a != b and closed:
            for one, other in ((a, b), (b, a)):
                known = near[one].get(other)
                near[one][other] = closed if known is None else known | closed
    return near


def _take_out(
    near: list[dict[int, T]], keep: Sequence[int]
) -> list[tuple[int, list[tuple[int, T]]]]:
    """Take all nodes out but ``keep``, those with the fewest neighbours first.

    Of equal ones the nearest to ``keep`` goes first.  Gives each with its ways to
    the neighbours that it had when its turn came.
    """
    steps, stay = _steps(near, keep), set(keep)
    queue = [(len(ways), steps[n], n) for n, ways in enumerate(near) if n not in stay]
    heapify(queue)
    gone: set[int] = set()
    taken = []
    while queue:
        degree, _, node = heappop(queue)
        if node in gone or degree != len(near[node]):
            continue
        gone.add(node)
        ways = sorted(near[node].items(), key=lambda way: way[0])
        taken.append((node, ways))
        for number, (a, to_a) in enumerate(ways):
            del near[a][node]
            for b, to_b in ways[number + 1 :]:
                through = to_a & to_b
                known = near[a].get(b)
                near[a][b] = near[b][a] = through if known is None else known | through
        for a, _ in ways:
            if a not in stay:
                heappush(queue, (len(near[a]), steps[a], a))
    return taken


def _steps(near: list[dict[int, T]], keep: Sequence[int]) -> list[int]:
    """Steps from each node to the nearest of ``keep``; what is cut off comes last."""
    steps = [len(near)] * len(near)
    front = list(keep)
    done = 0
    while front:
        for n in front:
            steps[n] = done
        done += 1
        front = [n for n in dict.fromkeys(b for a in front for b in near[a])
                 if steps[n] == len(near)]  # fmt: skip
    return steps


def _closure(near: list[dict[int, T]], keep: Sequence[int]) -> dict[tuple[int, int], T]:
    """When any two of ``keep`` are joined through others of them."""
    found = {(a, b): near[a][b] for a in keep for b in keep if b in near[a]}
    for middle in keep:
        ways = [(b, found[middle, b]) for b in keep if (middle, b) in found]
        for number, (a, to_a) in enumerate(ways):
            for b, to_b in ways[number + 1 :]:
                through = to_a & to_b
                known = found.get((a, b))
                found[a, b] = found[b, a] = through if known is None else known | through
    return found
