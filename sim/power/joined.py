"""Name what makes a short, and what joins two supplies, element by element."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from itertools import combinations

import networkx as nx

from sim.layout.model import Layout, Supply
from sim.power.chart_model import How, JoinedSupplies, Short
from sim.power.graph import path_elements, power_graph
from sim.power.poles import PoleState


def shorts(layout: Layout, state: PoleState, closed: Iterable[int]) -> tuple[Short, ...]:
    """The shorts of one setting, each with the poles it joins and by what.

    ``closed`` are the indices of the elements that conduct in that setting.
    """
    if not state.shorts:
        return ()
    graph = power_graph(layout, closed)
    return tuple(_short(layout, state, graph, supplies) for supplies in state.shorts)


def _short(
    layout: Layout, state: PoleState, graph: nx.MultiGraph[int], supplies: Sequence[int]
) -> Short:
    by_net: dict[int, list[int]] = {}
    for s in supplies:
        for pole in (2 * s, 2 * s + 1):
            by_net.setdefault(state.pattern[pole], []).append(pole)
    joined = [poles for poles in by_net.values() if len(poles) > 1]
    elements: dict[int, None] = {}
    for poles in joined:
        for other in poles[1:]:
            path = path_elements(graph, pole_node(layout, poles[0]), pole_node(layout, other))
            elements.update(dict.fromkeys(path))
    names = [pole_name(layout, p) for poles in joined for p in poles]
    return Short(tuple(names), tuple(layout.elements[e].id for e in elements))


def pole_node(layout: Layout, pole: int) -> int:
    """Node of pole number ``pole``."""
    supply = layout.supplies[pole // 2]
    return supply.minus if pole % 2 else supply.plus


def pole_name(layout: Layout, pole: int) -> str:
    """Name of pole number ``pole``: ``supply+`` or ``supply-``."""
    return f"{layout.supplies[pole // 2].name}{'-' if pole % 2 else '+'}"


def joined_supplies(layout: Layout, closed: Iterable[int]) -> tuple[JoinedSupplies, ...]:
    """Every two supplies that rails or wires join, apart from a declared common."""
    if len(layout.supplies) < 2:
        return ()
    metal = [e for e in closed if layout.elements[e].kind != "common"]
    graph = power_graph(layout, metal)
    net: dict[int, int] = {}
    for number, members in enumerate(nx.connected_components(graph)):
        for node in members:
            net[node] = number
    found = []
    for a, b in combinations(range(len(layout.supplies)), 2):
        pairs = [
            (p, q)
            for p in (2 * a, 2 * a + 1)
            for q in (2 * b, 2 * b + 1)
            if net[pole_node(layout, p)] == net[pole_node(layout, q)]
        ]
        if pairs:
            found.append(_joined(layout, graph, layout.supplies[a], layout.supplies[b], pairs))
    return tuple(found)


def _joined(
    layout: Layout,
    graph: nx.MultiGraph[int],
    a: Supply,
    b: Supply,
    pairs: Sequence[tuple[int, int]],
) -> JoinedSupplies:
    elements: dict[int, None] = {}
    for p, q in pairs:
        path = path_elements(graph, pole_node(layout, p), pole_node(layout, q))
        elements.update(dict.fromkeys(path))
    poles = sorted({p for pair in pairs for p in pair})
    return JoinedSupplies(
        tuple(pole_name(layout, p) for p in poles),
        _how(a, b, pairs),
        tuple(layout.elements[e].id for e in elements),
    )


def _how(a: Supply, b: Supply, pairs: Sequence[tuple[int, int]]) -> How:
    """One of the four ways in which two supplies can be joined.

    By two poles: like to like is in phase unless one supply is turned at its
    terminals, like to unlike the other way round.
    """
    if len({p for p, _ in pairs}) == 2 and len({q for _, q in pairs}) == 2:
        like = pairs[0][0] % 2 == pairs[0][1] % 2
        return "paralleled" if like == (a.reversed == b.reversed) else "opposed"
    if a.common is not None and a.common == b.common:
        return "common return"
    return "one pole"
