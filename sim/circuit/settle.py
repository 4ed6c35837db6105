"""Trains on a reduced network: motors draw, pickups join, supplies give.

The network between the ports is linear, so what each load does to each voltage
adds up.  Unknown are only the currents of motors that count as a resistance, and
those that flow along a vehicle from one section to the next: a system of a few
equations, whatever the layout's size.

Currents drawn from an island of the network must add up to nothing; where a vehicle
joins two islands, the volts between them are one more unknown.  A motor between two
islands that nothing else joins gets no current: there is no way back.
"""

from __future__ import annotations

from collections.abc import Sequence
from math import inf

from sim.circuit.coupled import Coupled
from sim.circuit.loads import Load, Settled
from sim.circuit.ports import Ports

Pair = tuple[int, int]  #: the ports under the even and the odd side of a unit


def unloaded_a(ports: Ports, supply_v: Sequence[float]) -> list[float]:
    """Current of each supply with no train on: what supplies drive through each other."""
    return [sum(a * v for a, v in zip(row, supply_v, strict=True)) for row in ports.short_a]


def settle(
    ports: Ports,
    sides: Sequence[Sequence[int]],
    loads: Sequence[Load],
    supply_v: Sequence[float],
    pickup_ohm: float = 0.0,
) -> Settled:
    """Solve for all units.

    ``sides`` gives the ports under each side, sides ``2u`` and ``2u + 1`` being unit
    ``u``'s, any further ones only joining their ports; ``supply_v`` the volts of each
    supply; ``pickup_ohm`` is that of the pickups of one side at one port.
    """
    plain = _added_up(ports, sides, loads, supply_v) if pickup_ohm == 0.0 else None
    return plain or settle_by_equations(ports, sides, loads, supply_v, pickup_ohm)


def settle_by_equations(
    ports: Ports,
    sides: Sequence[Sequence[int]],
    loads: Sequence[Load],
    supply_v: Sequence[float],
    pickup_ohm: float = 0.0,
) -> Settled:
    """What :func:`settle` says, always by the equations."""
    return Coupled(ports, sides, loads, supply_v, pickup_ohm).settled()


def _added_up(
    ports: Ports,
    sides: Sequence[Sequence[int]],
    loads: Sequence[Load],
    supply_v: Sequence[float],
) -> Settled | None:
    """The usual case, by adding up: nobody joins anything, every motor turns.

    None when it is not that case: a side on two ports, a motor that counts as a
    resistance, or one that would get too little.
    """
    if len(sides) != 2 * len(loads) or any(len(side) != 1 for side in sides):
        return None
    pairs = [(sides[2 * u][0], sides[2 * u + 1][0]) for u in range(len(loads))]
    island = ports.island
    for (p, q), load in zip(pairs, loads, strict=True):
        if island[p] != island[q] or (load.amps <= 0.0 and load.ohm < inf):
            return None
    drive = [_open_v(ports, pair, supply_v) for pair in pairs]
    flows = [
        (p, q, load.amps if v >= 0.0 else -load.amps)
        for (p, q), load, v in zip(pairs, loads, drive, strict=True)
        if load.amps > 0.0
    ]
    told = _left(ports, pairs, loads, drive, flows)
    return None if told is None else _drawn(ports, pairs, flows, told, len(supply_v))


def _open_v(ports: Ports, pair: Pair, supply_v: Sequence[float]) -> float:
    """Volts between two ports with nothing drawn anywhere."""
    one, other = ports.share[pair[0]], ports.share[pair[1]]
    v = 0.0
    for up, down, volts in zip(one, other, supply_v, strict=True):
        v += (up - down) * volts
    return v


def _left(
    ports: Ports,
    pairs: Sequence[Pair],
    loads: Sequence[Load],
    drive: Sequence[float],
    flows: Sequence[tuple[int, int, float]],
) -> list[float] | None:
    """Volts left to each unit while all flows are drawn; None where one gets too little."""
    ohm = ports.ohm
    told = []
    for (p, q), load, v in zip(pairs, loads, drive, strict=True):
        into, back = ohm[p], ohm[q]
        left = v
        for r, t, amps in flows:
            left -= (into[r] - into[t] - back[r] + back[t]) * amps
        if load.amps > 0.0 and (left if v >= 0.0 else -left) <= load.above_v:
            return None
        told.append(left)
    return told


def _drawn(
    ports: Ports,
    pairs: Sequence[Pair],
    flows: Sequence[tuple[int, int, float]],
    told: Sequence[float],
    supplies: int,
) -> Settled:
    port_a = dict.fromkeys((n for pair in pairs for n in pair), 0.0)
    added = [0.0] * supplies
    share = ports.share
    for p, q, amps in flows:
        port_a[p] += amps
        port_a[q] -= amps
        for s, (up, down) in enumerate(zip(share[p], share[q], strict=True)):
            added[s] += (up - down) * amps
    return Settled(tuple(told), port_a, tuple(added))
