"""What each pole reaches in many settings at once: one bit per setting.

Reach by elimination: as :func:`sim.power.bit_reach.spread_all`, node by node.

A node is taken out and its neighbours are joined through it, as one solves linear
equations, with OR for plus and AND for times.  Every function is then made once,
of few others near it, where spreading makes the same one again and again; that is
what decision diagrams need.

Trace many settings at once: one bit per setting.

A contact is a whole number whose bit *k* is set when it is closed in setting
*k*.  What a pole reaches spreads along elements by AND and OR, so ten thousand
settings cost hardly more than one.  The tests' twin makes a union-find pass per
setting instead.

Nothing here needs more of a whole number than AND, OR, NOT and whether it is 0,
so anything that has these, a :class:`Truth`, is traced alike: a decision diagram
over what may fail gives exact odds.
"""

from __future__ import annotations

from collections.abc import Sequence
from heapq import heapify, heappop, heappush
from typing import Protocol, Self, TypeVar


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


class Truth(Protocol):
    """When something holds: bits of a whole number, or a function of what may fail."""

    def __and__(self, other: Self, /) -> Self: ...

    def __or__(self, other: Self, /) -> Self: ...

    def __invert__(self) -> Self: ...

    def __bool__(self) -> bool: ...


T = TypeVar("T", bound=Truth)
Edge = tuple[int, int, T]  #: (node, node, when it is closed)


def spread(nodes: int, edges: Sequence[Edge[T]], source: int, all_bits: T) -> list[T]:
    """Bits in which each node is joined to ``source``; shape (nodes,).

    ``all_bits`` has a bit for every setting asked about.
    """
    return spread_all(nodes, edges, (source,), all_bits)[0]


def spread_all(
    nodes: int,
    edges: Sequence[Edge[T]],
    sources: Sequence[int],
    all_bits: T,
    one_way: Sequence[Edge[T]] = (),
) -> list[list[T]]:
    """:func:`spread` from each of ``sources``; shape (sources, nodes).

    Edges of ``one_way`` are passed from their first node to their second only.
    """
    touching: list[list[tuple[int, T]]] = [[] for _ in range(nodes)]
    for a, b, bits in edges:
        if bits:
            touching[a].append((b, bits))
            touching[b].append((a, bits))
    for a, b, bits in one_way:
        touching[a].append((b, bits))
    return [_spread(touching, s, all_bits) for s in sources]


def _spread(touching: list[list[tuple[int, T]]], source: int, all_bits: T) -> list[T]:
    reached = [all_bits & ~all_bits] * len(touching)
    reached[source] = all_bits
    todo = [source]
    waiting = {source}
    while todo:
        here = todo.pop()
        waiting.discard(here)
        bits = reached[here]
        for there, closed in touching[here]:
            new = reached[there] | (bits & closed)
            if new != reached[there]:
                reached[there] = new
                if there not in waiting:
                    waiting.add(there)
                    todo.append(there)
    return reached


def bits_of(flags: Sequence[bool]) -> int:
    """Pack booleans into a whole number, ``flags[k]`` at bit *k*."""
    # int(text, 2) packs in C; the first flag must end up in the lowest bit.
    return int("".join("1" if f else "0" for f in reversed(flags)) or "0", 2)


def each_bit(bits: int) -> list[int]:
    """The positions of the bits that are set, lowest first."""
    found = []
    while bits:
        low = bits & -bits
        found.append(low.bit_length() - 1)
        bits ^= low
    return found
