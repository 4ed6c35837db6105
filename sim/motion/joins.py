"""Nets that become one: labels that are joined, and supplies that are."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence

from sim.power.poles import Pattern

Joins = Mapping[int, int]  #: label to the label it now counts as


def merged(groups: Iterable[Sequence[int]]) -> Joins:
    """Every label of a group counts as the lowest of all that it is joined to.

    Labels of terminals are the lowest, so a net with a pole keeps that pole's.
    """
    parent: dict[int, int] = {}

    def find(x: int) -> int:
        while parent.get(x, x) != x:
            x = parent[x]
        return x

    for group in groups:
        for other in group[1:]:
            a, b = find(group[0]), find(other)
            if a != b:
                parent[max(a, b)] = min(a, b)
    return {x: find(x) for x in parent}


def joins_supplies(before: Pattern, after: Pattern) -> bool:
    """Whether poles of two supplies share a net in ``after`` that did not ``before``."""
    return any(
        after[p] == after[q] and before[p] != before[q]
        for p in range(len(after))
        for q in range(p)
        if p // 2 != q // 2
    )
