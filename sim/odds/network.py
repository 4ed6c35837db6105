"""Two-terminal networks: when one node is joined to another."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from sim.odds.diagrams import Diagrams, When
from sim.power.batch import Edge, spread_all
from sim.power.eliminate import reach_all


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
