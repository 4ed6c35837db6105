"""Volts, ohms and amps at each place: open, with a train that starts, and with a coin."""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

from sim.circuit.network import Network
from sim.circuit.ports import Ports
from sim.circuit.reduce import Reduction
from sim.circuit.spots import Spot
from sim.circuit.starting import StartingTrain
from sim.power.poles import SAME_V, sources_of

#: Decimals of volts, ohms and amps to which two places are held against each other.
SAME_DIGITS = 9


class Measured(NamedTuple):
    """What was found at one spot."""

    spot: Spot
    open_v: float
    volts: float
    loop_ohm: float
    short_a: float
    supply_a: tuple[float, ...]  #: with the coin there
    left_is_plus: bool


def measure(
    network: Network, reduction: Reduction, spots: Sequence[Spot], train: StartingTrain
) -> list[Measured]:
    """Each spot that has volts, in the state that the reduction is in; no train but one."""
    nodes = list(dict.fromkeys(n for s in spots for n in (s.left_node, s.right_node)))
    row = {n: k for k, n in enumerate(nodes)}
    ports = reduction.ports(nodes)
    signed = [s.volts for s in sources_of(network.layout.supplies)]
    digital = [s.kind == "digital" for s in network.layout.supplies]
    told = []
    for spot in spots:
        a, b = row[spot.left_node], row[spot.right_node]
        given = _open_v(ports, a, b, signed)
        if abs(given) < SAME_V:
            continue
        fed_digital = all(
            digital[s] for s, share in enumerate(ports.share[a]) if share != ports.share[b][s]
        )
        told.append(_at(ports, spot, a, b, signed, given, fed_digital, train))
    return told


def _open_v(ports: Ports, a: int, b: int, volts: Sequence[float]) -> float:
    rows = zip(ports.share[a], ports.share[b], volts, strict=True)
    return sum((one - other) * v for one, other, v in rows)


def _at(
    ports: Ports,
    spot: Spot,
    a: int,
    b: int,
    volts: Sequence[float],
    given: float,
    digital: bool,
    train: StartingTrain,
) -> Measured:
    ohm = ports.ohm[a][a] + ports.ohm[b][b] - ports.ohm[a][b] - ports.ohm[b][a]
    open_v = abs(given)
    if digital:
        left = max(0.0, open_v - train.amps * ohm)
    else:
        left = open_v * train.ohm / (train.ohm + ohm)
    coin = given / ohm
    supply_a = tuple(
        sum(g * v for g, v in zip(row, volts, strict=True))
        + (ports.share[a][s] - ports.share[b][s]) * coin
        for s, row in enumerate(ports.short_a)
    )
    # Places alike by symmetry have to tie on every machine: the last digits hang on the
    # order in which its linear algebra adds up.
    return Measured(
        spot,
        round(open_v, SAME_DIGITS),
        round(left, SAME_DIGITS),
        round(ohm, SAME_DIGITS),
        round(abs(coin), SAME_DIGITS),
        supply_a,
        given > 0.0,
    )
