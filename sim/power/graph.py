"""The layout as a multigraph, and the elements that make a short or join two supplies.

The layout as a multigraph whose keys lead back to components.

Nodes are node indices; each edge's key is the element's index, so parallel
elements stay apart and every answer can be traced to what makes it.

Name what makes a short, and what joins two supplies, element by element.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Callable, Collection, Iterable, Iterator, Sequence
from dataclasses import dataclass
from itertools import combinations
from typing import TYPE_CHECKING, Literal

from sim.layout.model import Element, Layout, Supply
from sim.power.poles import Pattern
from sim.power.wiring import Forest

if TYPE_CHECKING:
    import networkx as nx


How = Literal["one pole", "common return", "paralleled", "opposed"]


@dataclass(frozen=True, slots=True)
class Short:
    """Poles that are joined though they differ, and the elements that do it."""

    poles: tuple[str, ...]
    elements: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class JoinedSupplies:
    """Two supplies that are no longer independent, how, and through what."""

    poles: tuple[str, ...]
    how: How
    elements: tuple[str, ...]


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

    def steps(here: int) -> Iterator[tuple[int, int]]:
        for there, parallel in graph.adj[here].items():
            by = min((int(e) for e in parallel if conducts(int(e))), default=-1)
            if by >= 0:
                yield by, there

    return shortest_way([a], steps, lambda node: node == b)


def shortest_way(
    starts: Iterable[int],
    steps: Callable[[int], Iterable[tuple[int, int]]],
    arrived: Callable[[int], bool],
) -> list[int]:
    """Elements on a shortest way from one of ``starts`` to where one has ``arrived``.

    ``steps`` are the (element, other node) from a node; the first of equally short
    ways is told.  [] where there is none, or where it begins at its end.
    """
    came_by: dict[int, tuple[int, int]] = {node: (-1, node) for node in starts}
    todo = deque(came_by)
    while todo:
        here = todo.popleft()
        if arrived(here):
            way = []
            element, before = came_by[here]
            while element >= 0:
                way.append(element)
                element, before = came_by[before]
            return way[::-1]
        for element, there in steps(here):
            if there not in came_by:
                came_by[there] = element, here
                todo.append(there)
    return []


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


#: The elements that join two poles, by the poles' numbers; [] when nothing does.
Path = Callable[[int, int], list[int]]


def short_of(layout: Layout, pattern: Pattern, supplies: Sequence[int], path: Path) -> Short:
    """The short of ``supplies``: every two of their poles that share a net, and by what.

    ``path`` finds the elements between two poles in the setting asked about.
    """
    nets = _by_net(pattern, (p for s in supplies for p in (2 * s, 2 * s + 1)))
    joined = [poles for poles in nets if len(poles) > 1]
    elements: dict[int, None] = {}
    for first, *others in joined:
        for other in others:
            elements.update(dict.fromkeys(path(first, other)))
    names = [pole_name(layout, p) for poles in joined for p in poles]
    return Short(tuple(names), tuple(layout.elements[e].id for e in elements))


def joined_supplies(layout: Layout, pattern: Pattern, path: Path) -> tuple[JoinedSupplies, ...]:
    """Every two supplies that rails or wires join.

    ``pattern`` and ``path`` are of the elements without those of a declared
    common: supplies that share a common and nothing else are not joined.
    """
    met: dict[tuple[int, int], list[tuple[int, int]]] = {}
    for poles in _by_net(pattern, range(len(pattern))):
        for p, q in combinations(poles, 2):
            if p // 2 != q // 2:
                met.setdefault((p // 2, q // 2), []).append((p, q))
    return tuple(
        _joined(layout, layout.supplies[a], layout.supplies[b], sorted(pairs), path)
        for (a, b), pairs in sorted(met.items())
    )


def _by_net(pattern: Pattern, poles: Iterable[int]) -> list[list[int]]:
    """The given poles, those of one net together."""
    nets: dict[int, list[int]] = {}
    for pole in poles:
        nets.setdefault(pattern[pole], []).append(pole)
    return list(nets.values())


def pole_node(layout: Layout, pole: int) -> int:
    """Node of pole number ``pole``."""
    supply = layout.supplies[pole // 2]
    return supply.minus if pole % 2 else supply.plus


def pole_name(layout: Layout, pole: int) -> str:
    """Name of pole number ``pole``: ``supply+`` or ``supply-``."""
    return f"{layout.supplies[pole // 2].name}{'-' if pole % 2 else '+'}"


def _joined(
    layout: Layout, a: Supply, b: Supply, pairs: Sequence[tuple[int, int]], path: Path
) -> JoinedSupplies:
    elements: dict[int, None] = {}
    for p, q in pairs:
        elements.update(dict.fromkeys(path(p, q)))
    poles = sorted({p for pair in pairs for p in pair})
    return JoinedSupplies(
        tuple(pole_name(layout, p) for p in poles),
        how_joined(a, b, pairs),
        tuple(layout.elements[e].id for e in elements),
    )


def how_joined(a: Supply, b: Supply, pairs: Sequence[tuple[int, int]]) -> How:
    """One of the four ways in which two supplies can be joined.

    ``pairs`` are a pole of ``a`` and a pole of ``b`` that share a net.  By two
    poles: like to like is in phase unless one supply is turned at its terminals,
    like to unlike the other way round; all four in one net is opposed, being a
    short of both.
    """
    ways = {p % 2 == q % 2 for p, q in pairs}
    if len({p for p, _ in pairs}) == 2 and len({q for _, q in pairs}) == 2:
        return "paralleled" if ways == {a.reversed == b.reversed} else "opposed"
    if a.common is not None and a.common == b.common:
        return "common return"
    return "one pole"
