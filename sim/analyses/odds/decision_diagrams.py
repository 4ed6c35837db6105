"""Ordered binary decision diagrams, and when two nodes of a network are joined.

Ordered binary decision diagrams: when something holds, as a function of what fails.

A node asks whether one element has failed; its ``low`` child is the answer while
the element is good, its ``high`` child once it has failed.  Equal functions are
one node, so comparing costs nothing, and probability is one walk over the nodes.

R. E. Bryant, IEEE Transactions on Computers C-35 (1986), from memory.  A library
exists; this one does only what is needed and, having neither reference counts
nor reordering, is about twice as fast in plain Python.

Two-terminal networks: when one node is joined to another.
"""

from __future__ import annotations

import sys
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Self

from sim.power.bit_reach import Edge, reach_all, spread_all

NEVER = 0
ALWAYS = 1
#: Level of the two ends of every walk: below all variables.
BOTTOM = 1 << 60
#: Nodes at most: a few hundred megabytes.
NODES_AT_MOST = 2_000_000


class TooLargeError(Exception):
    """A function needs more nodes than there may be."""


@dataclass(frozen=True, slots=True)
class When:
    """A function of what has failed; combines with ``&``, ``|`` and ``~``."""

    diagrams: Diagrams
    node: int

    def __and__(self, other: Self) -> When:
        return self.diagrams.when(self.diagrams.both(self.node, other.node))

    def __or__(self, other: Self) -> When:
        return self.diagrams.when(self.diagrams.either(self.node, other.node))

    def __invert__(self) -> When:
        return self.diagrams.when(self.diagrams.opposite(self.node))

    def __bool__(self) -> bool:
        return self.node != NEVER

    def __eq__(self, other: object) -> bool:
        return isinstance(other, When) and self.node == other.node

    def __hash__(self) -> int:
        return self.node


class Diagrams:
    """All diagrams over ``variables`` elements, asked about in the order of their numbers."""

    def __init__(self, variables: int, nodes_at_most: int = NODES_AT_MOST) -> None:
        self.variables = variables
        self.level = [BOTTOM, BOTTOM]
        self.low = [NEVER, ALWAYS]
        self.high = [NEVER, ALWAYS]
        self._at_most = nodes_at_most
        self._unique: dict[tuple[int, int, int], int] = {}
        self._both: dict[tuple[int, int], int] = {}
        self._either: dict[tuple[int, int], int] = {}
        self._opposite: dict[int, int] = {NEVER: ALWAYS, ALWAYS: NEVER}
        # A walk goes one level down with each call; frames of Python are cheap.
        sys.setrecursionlimit(max(sys.getrecursionlimit(), 4 * variables + 2000))

    def when(self, node: int) -> When:
        """A handle on ``node``."""
        return When(self, node)

    @property
    def always(self) -> When:
        """Whatever fails."""
        return self.when(ALWAYS)

    def failed(self, variable: int) -> When:
        """When element ``variable`` has failed."""
        return self.when(self.node(variable, NEVER, ALWAYS))

    def node(self, level: int, low: int, high: int) -> int:
        """The node that asks about ``level``. Raises :class:`TooLargeError`."""
        if low == high:
            return low
        key = (level, low, high)
        known = self._unique.get(key)
        if known is None:
            known = self._unique[key] = len(self.level)
            if known >= self._at_most:
                raise TooLargeError(f"more than {self._at_most} nodes")
            self.level.append(level)
            self.low.append(low)
            self.high.append(high)
        return known

    def both(self, a: int, b: int) -> int:
        """Conjunction."""
        if a == b or b == ALWAYS:
            return a
        if a == ALWAYS:
            return b
        if a == NEVER or b == NEVER:
            return NEVER
        key = (a, b) if a < b else (b, a)
        known = self._both.get(key)
        if known is None:
            level, (a0, a1), (b0, b1) = self._split(a, b)
            known = self.node(level, self.both(a0, b0), self.both(a1, b1))
            self._both[key] = known
        return known

    def either(self, a: int, b: int) -> int:
        """Disjunction."""
        if a == b or b == NEVER:
            return a
        if a == NEVER:
            return b
        if a == ALWAYS or b == ALWAYS:
            return ALWAYS
        key = (a, b) if a < b else (b, a)
        known = self._either.get(key)
        if known is None:
            level, (a0, a1), (b0, b1) = self._split(a, b)
            known = self.node(level, self.either(a0, b0), self.either(a1, b1))
            self._either[key] = known
        return known

    def opposite(self, a: int) -> int:
        """Negation."""
        known = self._opposite.get(a)
        if known is None:
            low, high = self.opposite(self.low[a]), self.opposite(self.high[a])
            known = self._opposite[a] = self.node(self.level[a], low, high)
            self._opposite[known] = a
        return known

    def _split(self, a: int, b: int) -> tuple[int, tuple[int, int], tuple[int, int]]:
        """The first level of the two, and the children of both there."""
        level_a, level_b = self.level[a], self.level[b]
        level = min(level_a, level_b)
        of_a = (self.low[a], self.high[a]) if level_a == level else (a, a)
        of_b = (self.low[b], self.high[b]) if level_b == level else (b, b)
        return level, of_a, of_b

    # -- numbers ----------------------------------------------------------------

    def nodes_of(self, root: int) -> list[int]:
        """Nodes below and at ``root``, ends left out, every parent before its children."""
        seen: set[int] = set()
        todo = [root]
        while todo:
            node = todo.pop()
            if node > ALWAYS and node not in seen:
                seen.add(node)
                todo += (self.low[node], self.high[node])
        return sorted(seen, key=lambda n: self.level[n])

    def probability(self, root: int, chances: Sequence[float]) -> float:
        """Probability that ``root`` holds; ``chances`` are those of failing, by variable."""
        return self._probabilities(self.nodes_of(root), chances)[root]

    def _probabilities(
        self, nodes: Sequence[int], chances: Sequence[float]
    ) -> dict[int, float]:
        found = {NEVER: 0.0, ALWAYS: 1.0}
        for n in reversed(nodes):
            q = chances[self.level[n]]
            found[n] = (1.0 - q) * found[self.low[n]] + q * found[self.high[n]]
        return found

    def slopes(self, root: int, chances: Sequence[float]) -> dict[int, float]:
        """By variable: probability once it has failed less that while it is good.

        This is Birnbaum's importance, the slope of the probability over the
        variable's own chance.
        """
        nodes = self.nodes_of(root)
        holds = self._probabilities(nodes, chances)
        reached = dict.fromkeys(nodes, 0.0)
        reached[root] = 1.0
        found: dict[int, float] = {}
        for n in nodes:
            level, low, high = self.level[n], self.low[n], self.high[n]
            q = chances[level]
            found[level] = found.get(level, 0.0) + reached[n] * (holds[high] - holds[low])
            for child, share in ((low, 1.0 - q), (high, q)):
                if child > ALWAYS:
                    reached[child] += reached[n] * share
        return found

    def holds(self, root: int, failed: Sequence[bool]) -> bool:
        """Whether ``root`` holds in one state, ``failed`` by variable."""
        while root > ALWAYS:
            root = self.high[root] if failed[self.level[root]] else self.low[root]
        return root == ALWAYS


@dataclass(frozen=True, slots=True)
class Link:
    """A link between two nodes that fails with variable ``variable``."""

    a: int
    b: int
    variable: int
    one_way: bool = False  #: passed from ``a`` to ``b`` only


def joined(diagrams: Diagrams, nodes: int, links: Sequence[Link], start: int, end: int) -> When:
    """When good links join ``start`` to ``end``, the nodes being 0 … ``nodes`` - 1."""
    edges: tuple[list[Edge[When]], list[Edge[When]]] = [], []
    for link in links:
        edges[link.one_way].append((link.a, link.b, ~diagrams.failed(link.variable)))
    both_ways, one_way = edges
    if not one_way:
        return reach_all(nodes, both_ways, (start,), diagrams.always)[0][end]
    return spread_all(nodes, both_ways, (start,), diagrams.always, one_way)[0][end]
