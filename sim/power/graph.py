"""The layout as a multigraph whose keys lead back to components.

Nodes are node indices; each edge's key is the element's index, so parallel
elements stay apart and every answer can be traced to what makes it.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Callable, Collection, Iterable, Sequence
from typing import TYPE_CHECKING

from sim.layout.model import Element, Layout
from sim.power.wiring import Forest

if TYPE_CHECKING:
    import networkx as nx

#: Whether the element of that index conducts.
Conducts = Callable[[int], bool]


def always(_: int) -> bool:
    """Every element conducts."""
    return True


def is_closed(element: Element, positions: Sequence[int]) -> bool:
    """Whether ``element``, in good order, conducts with the levers at ``positions``.

    ``positions`` has a position index per lever, -1 while it moves.
    """
    if element.kind == "gap":
        return False
    if element.kind != "contact":
        return True
    return any(all(positions[lever] == p for lever, p in clause) for clause in element.when)


def could_conduct(layout: Layout) -> list[int]:
    """Indices of the elements that conduct in some setting: all but the gaps."""
    return [i for i, e in enumerate(layout.elements) if e.kind != "gap"]


def closed_elements(
    layout: Layout, positions: Sequence[int], failed: Collection[int] = ()
) -> list[int]:
    """Indices of the elements that conduct in one setting."""
    return [
        i for i, e in enumerate(layout.elements) if i not in failed and is_closed(e, positions)
    ]


def power_graph(layout: Layout, closed: Iterable[int]) -> nx.MultiGraph[int]:
    """The multigraph of the elements in ``closed``, every node present."""
    import networkx as nx  # slow to load, and a window opens without it

    graph: nx.MultiGraph[int] = nx.MultiGraph()
    graph.add_nodes_from(range(len(layout.nodes)))
    for i in closed:
        e = layout.elements[i]
        graph.add_edge(e.a, e.b, key=i)
    return graph


def path_elements(
    graph: nx.MultiGraph[int], a: int, b: int, conducts: Conducts = always
) -> list[int]:
    """Element indices along a shortest path from ``a`` to ``b``; [] when apart.

    Only elements that ``conducts`` tells True of are used, so that one graph of
    everything that could conduct serves many settings.  Among parallel elements
    the first in the file is named.
    """
    came_by: dict[int, tuple[int, int]] = {a: (a, -1)}
    todo = deque([a])
    while todo and b not in came_by:
        here = todo.popleft()
        for there, parallel in graph.adj[here].items():
            if there not in came_by:
                by = min((int(e) for e in parallel if conducts(int(e))), default=-1)
                if by >= 0:
                    came_by[there] = here, by
                    todo.append(there)
    return _walk_back(came_by, b) if b in came_by else []


def _walk_back(came_by: dict[int, tuple[int, int]], node: int) -> list[int]:
    found = []
    before, element = came_by[node]
    while element >= 0:
        found.append(element)
        before, element = came_by[before]
    return found[::-1]


def critical_elements(graph: nx.MultiGraph[int], a: int, b: int) -> list[int]:
    """Elements whose loss would part ``a`` from ``b``; none of two parallel ones is.

    Shape: element indices in the order met from ``a``.
    """
    path = path_elements(graph, a, b)
    own, stops, here = set(path), [a], a
    ends = {int(e): (int(u), int(v)) for u, v, e in graph.edges(keys=True)}
    for e in path:
        u, v = ends[e]
        here = v if here == u else u
        stops.append(here)
    rest = Forest(len(graph))
    for e, (u, v) in ends.items():
        if e not in own:
            rest.join(u, v)
    # What joins two stops beside the path spares every element between them.
    last = {rest.find(stop): place for place, stop in enumerate(stops)}
    found, spared = [], 0
    for place, e in enumerate(path):
        spared = max(spared, last[rest.find(stops[place])])
        if spared <= place:
            found.append(e)
    return found
