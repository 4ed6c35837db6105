"""What is left of a supply's volts at each place, and whether a short there trips it.

No trains stand on the layout but one that starts, at one place after the other.
Every DC throttle is fully open.  The coin test lays a coin across the rails: common
practice, no source.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from typing import NamedTuple

from sim.circuit.loss import LEAST_V, losses
from sim.circuit.network import Network, build_network
from sim.circuit.ports import Ports
from sim.circuit.reduce import Reduction
from sim.circuit.standing import Standing, standing
from sim.layout.model import PLASTIC, Layout
from sim.layout.traffic import Case
from sim.power.plan import Part, parts_of
from sim.power.poles import SAME_V, sources_of
from sim.power.trace import Positions, Traced, trace
from sim.scenario.defaults import defaults_for

#: Places are looked at this far apart at most (micrometres).
CELL_UM = 100_000
#: Decimals of volts, ohms and amps to which two places are held against each other.
SAME_DIGITS = 9
#: A share of volts lost that is no difference.
SAME_SHARE = 1e-9
#: Settings that are worked out at most.
LIMIT = 128
COSTS_TOLD = 8


@dataclass(frozen=True, slots=True)
class StartingTrain:
    """The greediest motor of the scenario: a resistance on DC, a current on digital."""

    whose: str
    ohm: float
    amps: float


@dataclass(frozen=True, slots=True)
class Weakest:
    """The place of a section at which a starting train gets least."""

    section: str
    route: str
    place_mm: float
    open_v: float
    volts: float

    @property
    def drop(self) -> float:
        """Share of the volts that is lost, 0 to 1."""
        return 1.0 - self.volts / self.open_v


@dataclass(frozen=True, slots=True)
class FarEnd:
    """The place of a module with the greatest loop resistance, and a coin laid there.

    ``loop_ohm`` goes from the supply to the place and back, through the supply.
    ``trips`` are the supplies that trip; ``weak`` those that feed the coin and do not.
    """

    module: str
    route: str
    place_mm: float
    open_v: float
    loop_ohm: float
    short_a: float
    trips: tuple[str, ...]
    weak: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class SettingVolts:
    """One setting: sections, modules, and what costs the weakest place of all most."""

    levers: tuple[tuple[str, str], ...]
    sections: tuple[Weakest, ...]
    modules: tuple[FarEnd, ...]
    costs: tuple[tuple[str, float], ...]
    #: the same summed by kind: rail, joiner, contact, feeder, bus, ..., supply
    kinds: tuple[tuple[str, float], ...]
    #: what supplies give that the wiring shorts in this setting
    shorted: tuple[Standing, ...] = ()

    @property
    def weakest(self) -> Weakest | None:
        """The section that loses the greatest share."""
        return max(self.sections, key=lambda s: s.drop, default=None)


@dataclass(frozen=True, slots=True)
class VoltsReport:
    """All settings that were worked out; ``skipped`` says why some were not."""

    scenario: str
    fix: str | None
    train: StartingTrain
    settings: tuple[SettingVolts, ...]
    total: int
    skipped: str | None


class Spot(NamedTuple):
    """Two facing places of a route."""

    module: int
    route: int
    place_um: int
    left: int  #: section
    right: int
    left_node: int
    right_node: int


def volts_report(case: Case, limit: int = LIMIT) -> VoltsReport:
    """Work out every setting, or past ``limit`` those that the timetable uses."""
    network = build_network(case.layout, CELL_UM)
    spots = list(spots_of(network))
    train = starting_train(case)
    plan = parts_of(case, limit=limit)
    reduction = Reduction(network)
    settings = [
        found
        for part in plan.parts
        for found in _of_part(network, reduction, part, spots, train)
    ]
    return VoltsReport(
        case.scenario, case.fix, train, tuple(settings), plan.total, plan.skipped
    )


def starting_train(case: Case) -> StartingTrain:
    """The motor that takes most to start, or a starting value where there is none."""
    motors = [
        (m.starting_a, m.start_voltage_v / m.starting_a, f"{t.name}, {v.name}")
        for t in case.trains
        for v in t.vehicles
        if (m := v.motor) is not None
    ]
    if not motors:
        gauges = [placed.piece.gauge_mm for placed in case.layout.pieces]
        known = defaults_for(gauges[0] if gauges else 0.0)
        amps = known["starting_a"].value
        motors = [(amps, known["start_voltage_v"].value / amps, "a usual engine")]
    amps, ohm, whose = max(motors, key=lambda m: m[0])
    return StartingTrain(whose, ohm, amps)


def spots_of(network: Network) -> Iterator[Spot]:
    """Places along every route, a cell of either rail apart at most."""
    layout = network.layout
    module_of = {p: n for n, m in enumerate(layout.modules) for p in m.pieces}
    for number, route in enumerate(layout.routes):
        for span in route.spans:
            if PLASTIC in (span.left, span.right) or span.to_um <= span.from_um:
                continue
            count = max(1, -(-(span.to_um - span.from_um) // CELL_UM))
            for k in range(count):
                place = span.from_um + (span.to_um - span.from_um) * (2 * k + 1) // (2 * count)
                nodes = [
                    network.station(n, network.lines.along(n, number, place))
                    for n in (span.left, span.right)
                ]
                module = module_of.get(route.piece, -1)
                yield Spot(module, number, place, span.left, span.right, *nodes)


def _of_part(
    network: Network,
    reduction: Reduction,
    part: Part,
    spots: Sequence[Spot],
    train: StartingTrain,
) -> Iterator[SettingVolts]:
    layout = network.layout
    routes = set(part.routes)
    own = [spot for spot in spots if spot.route in routes]
    traced = trace(layout, part.settings)
    shorts, supplies = traced.short_bits(), {s.name for s in part.layout.supplies}
    for k, positions in enumerate(part.settings):
        reduction.set(network.closed(positions))
        live = [s for s in own if is_set(layout, s.route, positions) and _lives(traced, s, k)]
        levers = tuple(
            (layout.levers[i].id, layout.levers[i].positions[positions[i]])
            for i in part.cut.levers
        )
        found = _setting(network, reduction, levers, positions, live, train)
        if shorts >> k & 1:
            found = replace(found, shorted=standing(reduction, layout.supplies, supplies))
        yield found


def is_set(layout: Layout, route: int, positions: Positions) -> bool:
    """Whether the levers give that route."""
    return all(positions[p.lever] == p.position for p in layout.routes[route].points)


def _lives(traced: Traced[int], spot: Spot, k: int) -> bool:
    return bool(traced.verdicts(spot.left, spot.right).get(None, 0) >> k & 1)


class _Told(NamedTuple):
    """What was found at one spot."""

    spot: Spot
    open_v: float
    volts: float
    loop_ohm: float
    short_a: float
    supply_a: tuple[float, ...]  #: with the coin there
    left_is_plus: bool


def _setting(
    network: Network,
    reduction: Reduction,
    levers: tuple[tuple[str, str], ...],
    positions: Positions,
    live: Sequence[Spot],
    train: StartingTrain,
) -> SettingVolts:
    by_module: dict[int, list[Spot]] = {}
    for spot in live:
        by_module.setdefault(spot.module, []).append(spot)
    weakest: dict[int, _Told] = {}
    ends: list[FarEnd] = []
    for module, spots in sorted(by_module.items()):
        told = _told(network, reduction, spots, train)
        for found in told:
            for section in (found.spot.left, found.spot.right):
                if section not in weakest or _is_weaker(found, weakest[section]):
                    weakest[section] = found
        ends.append(_far_end(network.layout, module, max(told, key=lambda t: t.loop_ohm)))
    told_of = [(_weakest(network.layout, n, weakest[n]), weakest[n]) for n in sorted(weakest)]
    sections = tuple(section for section, _ in told_of)
    # where several lose as much, the causes are those of the one that the page names
    worst = max(told_of, key=lambda pair: pair[0].drop, default=(None, None))[1]
    costs = () if worst is None else _costs(network, positions, worst)
    great = tuple((what, v) for what, v in costs if v >= LEAST_V)[:COSTS_TOLD]
    kinds = _by_kind(network.layout, costs)
    return SettingVolts(levers, sections, tuple(ends), great, kinds)


def _is_weaker(one: _Told, other: _Told) -> bool:
    return one.volts * other.open_v < other.volts * one.open_v * (1.0 - SAME_SHARE)


def _told(
    network: Network, reduction: Reduction, spots: Sequence[Spot], train: StartingTrain
) -> list[_Told]:
    nodes = list(dict.fromkeys(n for s in spots for n in (s.left_node, s.right_node)))
    row = {n: k for k, n in enumerate(nodes)}
    ports = reduction.ports(nodes)
    signed = [s.volts for s in sources_of(network.layout.supplies)]
    digital = [s.kind == "digital" for s in network.layout.supplies]
    told = []
    for spot in spots:
        a, b = row[spot.left_node], row[spot.right_node]
        given = _seen(ports, a, b, signed)
        if abs(given) < SAME_V:
            continue
        fed_digital = all(
            digital[s] for s, share in enumerate(ports.share[a]) if share != ports.share[b][s]
        )
        told.append(_at(ports, spot, a, b, signed, given, fed_digital, train))
    return told


def _seen(ports: Ports, a: int, b: int, volts: Sequence[float]) -> float:
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
) -> _Told:
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
    return _Told(
        spot,
        round(open_v, SAME_DIGITS),
        round(left, SAME_DIGITS),
        round(ohm, SAME_DIGITS),
        round(abs(coin), SAME_DIGITS),
        supply_a,
        given > 0.0,
    )


def _weakest(layout: Layout, section: int, told: _Told) -> Weakest:
    return Weakest(
        layout.nodes[section],
        layout.routes[told.spot.route].id,
        told.spot.place_um / 1000,
        round(told.open_v, 3),
        round(told.volts, 3),
    )


def _far_end(layout: Layout, module: int, told: _Told) -> FarEnd:
    fed = [(s, abs(round(a, 6))) for s, a in zip(layout.supplies, told.supply_a, strict=True)]
    return FarEnd(
        layout.modules[module].name if module >= 0 else "",
        layout.routes[told.spot.route].id,
        told.spot.place_um / 1000,
        round(told.open_v, 3),
        round(told.loop_ohm, 4),
        round(told.short_a, 3),
        tuple(s.name for s, a in fed if a > s.trip_a),
        tuple(s.name for s, a in fed if 1e-3 < a <= s.trip_a),
    )


def _costs(
    network: Network, positions: Positions, told: _Told
) -> tuple[tuple[str, float], ...]:
    """What the weakest place loses on the way, by what it is lost in."""
    layout = network.layout
    worth = network.closed(positions)
    closed = [network.branches[b].element for b, ohm in worth.items() if ohm is not None]
    signed = [s.volts for s in sources_of(layout.supplies)]
    amps = (told.open_v - told.volts) / told.loop_ohm * (1.0 if told.left_is_plus else -1.0)
    pair = told.spot.left_node, told.spot.right_node
    drawn = {pair[0]: amps, pair[1]: -amps}
    return losses(network, closed, signed, [True] * len(signed), drawn, pair, 0.0)


def _by_kind(
    layout: Layout, costs: Sequence[tuple[str, float]]
) -> tuple[tuple[str, float], ...]:
    """Losses summed by kind of element, greatest first."""
    kind_of = {e.id: str(e.kind) for e in layout.elements}
    kind_of |= {f"inside of {s.name}": "supply" for s in layout.supplies}
    total: dict[str, float] = {}
    for what, volts in costs:
        kind = kind_of.get(what, "rail")
        total[kind] = total.get(kind, 0.0) + volts
    told = [(kind, round(volts, 3)) for kind, volts in total.items() if volts >= LEAST_V]
    return tuple(sorted(told, key=lambda item: (-item[1], item[0])))


__all__ = ["FarEnd", "SettingVolts", "VoltsReport", "Weakest", "volts_report"]
