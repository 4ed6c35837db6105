"""Trace many settings at once: one bit per setting.

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
from typing import Protocol, Self, TypeVar


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
