"""Volts, ohms and amps at each place: open, with a train that starts, and with a coin.

Places lie along every route, and at each stands, alone, the train whose start takes most.
The coin test lays a coin across the rails: common practice, no source.  Where the wiring
itself shorts supplies, with no train at all, what they give is told instead.
"""

from __future__ import annotations

from collections.abc import Collection, Iterator, Sequence
from dataclasses import dataclass
from typing import NamedTuple

from sim.circuit.network import Network
from sim.circuit.reduction import Ports, Reduction
from sim.layout.model import PLASTIC, Layout, Supply
from sim.layout.traffic import Case
from sim.power.poles import SAME_V, sources_of
from sim.power.trace import Positions
from sim.scenario.defaults import defaults_for

#: Places are looked at this far apart at most (micrometres).
SPOT_UM = 100_000


class Spot(NamedTuple):
    """Two facing places of a route."""

    module: int
    route: int
    place_um: int
    left: int  #: section
    right: int
    left_node: int
    right_node: int


def spots_of(network: Network) -> Iterator[Spot]:
    """Places along every route, a cell of either rail apart at most."""
    layout = network.layout
    module_of = {p: n for n, m in enumerate(layout.modules) for p in m.pieces}
    for number, route in enumerate(layout.routes):
        for span in route.spans:
            if PLASTIC in (span.left, span.right) or span.to_um <= span.from_um:
                continue
            count = max(1, -(-(span.to_um - span.from_um) // SPOT_UM))
            for k in range(count):
                place = span.from_um + (span.to_um - span.from_um) * (2 * k + 1) // (2 * count)
                nodes = [
                    network.station(n, network.lines.along(n, number, place))
                    for n in (span.left, span.right)
                ]
                module = module_of.get(route.piece, -1)
                yield Spot(module, number, place, span.left, span.right, *nodes)


def is_set(layout: Layout, route: int, positions: Positions) -> bool:
    """Whether the levers give that route."""
    return all(positions[p.lever] == p.position for p in layout.routes[route].points)


@dataclass(frozen=True, slots=True)
class StartingTrain:
    """The greediest motor of the scenario: a resistance on DC, a current on digital."""

    whose: str
    ohm: float
    amps: float


def starting_train(case: Case) -> StartingTrain:
    """The motor that takes most to start, or a starting value where there is none."""
    motors = [
        (m.starting_a, m.standing_ohm, f"{t.name}, {v.name}")
        for t in case.trains
        for v in t.vehicles
        if (m := v.motor) is not None
    ]
    if not motors:
        gauges = [placed.piece.gauge_mm for placed in case.layout.pieces]
        known = defaults_for(gauges[0] if gauges else 0.0)
        ohm = known["blocked_at_v"].value / known["blocked_a"].value
        motors = [(known["start_voltage_v"].value / ohm, ohm, "a usual engine")]
    amps, ohm, whose = max(motors, key=lambda m: m[0])
    return StartingTrain(whose, ohm, amps)


#: A current of less (A) is none.
LEAST_A = 1e-3


@dataclass(frozen=True, slots=True)
class Standing:
    """The current of one supply into a short, and whether that trips it."""

    supply: str
    amps: float
    trips: bool


def standing(
    reduction: Reduction, supplies: Collection[Supply], own: Collection[str]
) -> tuple[Standing, ...]:
    """Those of the supplies named in ``own`` that give current in the setting put last."""
    volts = [s.volts for s in sources_of(tuple(supplies))]
    found = []
    for supply, row in zip(supplies, reduction.ports([]).short_a, strict=True):
        amps = round(abs(sum(g * v for g, v in zip(row, volts, strict=True))), 3)
        if supply.name in own and amps >= LEAST_A:
            found.append(Standing(supply.name, amps, amps > supply.trip_a))
    return tuple(found)


#: Decimals of volts, ohms and amps to which two places are held against each other.
SAME_DIGITS = 9
#: A share of a supply's volts that is rounding: supplies with a common pole do not feed
#: each other's rails.
SAME_SHARE = 1e-9


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
        given = ports.open_v(a, b, signed)
        if abs(given) < SAME_V:
            continue
        fed_digital = all(
            digital[s]
            for s, (up, down) in enumerate(zip(ports.share[a], ports.share[b], strict=True))
            if abs(up - down) > SAME_SHARE
        )
        told.append(_at(ports, spot, a, b, signed, given, fed_digital, train))
    return told


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
