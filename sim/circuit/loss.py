"""Which elements cost a place most of its volts."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from math import inf

from sim.circuit.elements import CircuitError, Drain, Resistance, Solution, Source
from sim.circuit.network import LEAST_OHM, RAIL, Network
from sim.circuit.solve import solve

#: Losses of less than this (V) are not told.
LEAST_V = 0.01


def solve_network(
    network: Network,
    closed: Collection[int],
    volts: Sequence[float],
    on: Sequence[bool],
    drawn: Mapping[int, float],
    extra: Sequence[Resistance] = (),
) -> Solution:
    """The whole network by the plain solver, in one state.

    ``closed`` are the contacts that are; ``volts`` and ``on`` are by supply;
    ``drawn`` amps by node, adding up to nothing on each island.
    """
    elements = network.layout.elements
    resistances = [
        Resistance(
            b.a,
            b.b,
            inf
            if b.element != RAIL
            and elements[b.element].kind == "contact"
            and b.element not in closed
            else b.ohm,
        )
        for b in network.branches
    ]
    sources = [
        Source(network.poles[2 * s], network.poles[2 * s + 1], volts[s],
               max(supply.internal_ohm, LEAST_OHM) if on[s] else inf)
        for s, supply in enumerate(network.layout.supplies)
    ]  # fmt: skip
    return solve(len(network.names), [*resistances, *extra], sources, _paired(drawn))


def _paired(drawn: Mapping[int, float]) -> list[Drain]:
    """Drains that together draw ``drawn``: what is drawn here is returned there."""
    takes = [[n, a] for n, a in drawn.items() if a > 0.0]
    gives = [[n, -a] for n, a in drawn.items() if a < 0.0]
    drains: list[Drain] = []
    while takes and gives:
        amps = min(takes[0][1], gives[0][1])
        drains.append(Drain(int(takes[0][0]), int(gives[0][0]), amps))
        for end in (takes, gives):
            end[0][1] -= amps
            if end[0][1] <= 0.0:
                end.pop(0)
    return drains


def losses(
    network: Network,
    closed: Collection[int],
    volts: Sequence[float],
    on: Sequence[bool],
    drawn: Mapping[int, float],
    between: tuple[int, int],
    least_v: float = LEAST_V,
) -> tuple[tuple[str, float], ...]:
    """What the current between two nodes passes, and the volts that it costs there.

    An element counts with the volts across it times the share of the current
    between the two nodes that passes it (its part of the loop's resistance), so
    that all of them add up to what is lost.  Greatest first, none below ``least_v``.
    """
    now = solve_network(network, closed, volts, on, drawn)
    try:
        one = solve_network(
            network, closed, [0.0] * len(volts), on, {between[0]: 1.0, between[1]: -1.0}
        )
    except CircuitError:
        return ()  # supplies that share nothing: no current flows, so none is lost
    lost = _lost(network, on, now, one)
    sign = 1.0 if sum(lost.values()) >= 0.0 else -1.0
    told = [(name, round(sign * v, 3)) for name, v in lost.items() if sign * v >= least_v]
    return tuple(sorted(told, key=lambda item: (-item[1], item[0])))


def _lost(
    network: Network, on: Sequence[bool], now: Solution, one: Solution
) -> dict[str, float]:
    """Volts lost by what they are lost in: across it ``now``, by its share of ``one`` amp."""
    lost: dict[str, float] = {}
    nodes = network.layout.nodes
    for k, b in enumerate(network.branches):
        across = now.volts[b.a] - now.volts[b.b]
        name = (
            f"rail of {nodes[network.section[b.a]]}"
            if b.element == RAIL
            else network.layout.elements[b.element].id
        )
        lost[name] = lost.get(name, 0.0) + float(across * one.branch_a[k])
    for s, supply in enumerate(network.layout.supplies):
        if on[s]:
            inside = now.source_a[s] * supply.internal_ohm
            name = f"inside of {supply.name}"
            lost[name] = lost.get(name, 0.0) + float(inside * one.source_a[s])
    return lost
