"""The layout as a multigraph whose keys lead back to components.

Nodes are node indices; each edge's key is the element's index, so parallel
elements stay apart and every answer can be traced to what makes it.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Sequence
from itertools import pairwise

import networkx as nx

from sim.layout.model import Element, Layout


def is_closed(element: Element, positions: Sequence[int]) -> bool:
    """Whether ``element``, in good order, conducts with the levers at ``positions``.

    ``positions`` has a position index per lever, -1 while it moves.
    """
    if element.kind == "gap":
        return False
    if element.kind != "contact":
        return True
    return any(all(positions[lever] == p for lever, p in clause) for clause in element.when)


def closed_elements(
    layout: Layout, positions: Sequence[int], failed: Collection[int] = ()
) -> list[int]:
    """Indices of the elements that conduct in one setting."""
    return [
        i for i, e in enumerate(layout.elements) if i not in failed and is_closed(e, positions)
    ]


def power_graph(layout: Layout, closed: Iterable[int]) -> nx.MultiGraph[int]:
    """The multigraph of the closed elements, every node present."""
    graph: nx.MultiGraph[int] = nx.MultiGraph()
    graph.add_nodes_from(range(len(layout.nodes)))
    for i in closed:
        e = layout.elements[i]
        graph.add_edge(e.a, e.b, key=i)
    return graph


def path_elements(graph: nx.MultiGraph[int], a: int, b: int) -> list[int]:
    """Element indices along a shortest path from ``a`` to ``b``; [] when apart.

    Among parallel elements the first in the file is named.
    """
    return [min(_keys(graph, u, v)) for u, v in _path(graph, a, b)]


def critical_elements(graph: nx.MultiGraph[int], a: int, b: int) -> list[int]:
    """Elements whose loss would part ``a`` from ``b``; none of two parallel ones is.

    Shape: element indices in the order met from ``a``.
    """
    found = []
    for u, v in _path(graph, a, b):
        keys = _keys(graph, u, v)
        if len(keys) > 1:
            continue
        without = nx.restricted_view(graph, [], [(u, v, keys[0])])
        if not nx.has_path(without, a, b):
            found.append(keys[0])
    return found


def _keys(graph: nx.MultiGraph[int], u: int, v: int) -> list[int]:
    return [int(k) for k in graph[u][v]]


def _path(graph: nx.MultiGraph[int], a: int, b: int) -> list[tuple[int, int]]:
    try:
        return list(pairwise(nx.shortest_path(graph, a, b)))
    except nx.NetworkXNoPath:
        return []
