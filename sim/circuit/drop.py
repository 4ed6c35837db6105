"""What is left of a supply's volts at each place, and whether a short there trips it.

No trains stand on the layout but one that starts, at one place after the other.
Every DC throttle is fully open.  The coin test lays a coin across the rails: common
practice, no source.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace

from sim.circuit.loss import LEAST_V, losses
from sim.circuit.measure import Measured, measure
from sim.circuit.network import Network, build_network
from sim.circuit.reduce import Reduction
from sim.circuit.spots import SPOT_UM, Spot, is_set, spots_of
from sim.circuit.standing import standing
from sim.circuit.starting import StartingTrain, starting_train
from sim.circuit.volts import FarEnd, SettingVolts, VoltsReport, Weakest
from sim.layout.model import Layout
from sim.layout.traffic import Case
from sim.power.plan import Part, parts_of
from sim.power.poles import sources_of
from sim.power.trace import Positions, Traced, trace

#: A share of volts lost that is no difference.
SAME_SHARE = 1e-9
#: Settings that are worked out at most.
LIMIT = 128
COSTS_TOLD = 8


def volts_report(case: Case, limit: int = LIMIT) -> VoltsReport:
    """Work out every setting, or past ``limit`` those that the timetable uses."""
    network = build_network(case.layout, SPOT_UM)
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


def _lives(traced: Traced[int], spot: Spot, k: int) -> bool:
    return bool(traced.verdicts(spot.left, spot.right).get(None, 0) >> k & 1)


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
    weakest: dict[int, Measured] = {}
    ends: list[FarEnd] = []
    for module, spots in sorted(by_module.items()):
        told = measure(network, reduction, spots, train)
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


def _is_weaker(one: Measured, other: Measured) -> bool:
    return one.volts * other.open_v < other.volts * one.open_v * (1.0 - SAME_SHARE)


def _weakest(layout: Layout, section: int, told: Measured) -> Weakest:
    return Weakest(
        layout.nodes[section],
        layout.routes[told.spot.route].id,
        told.spot.place_um / 1000,
        round(told.open_v, 3),
        round(told.volts, 3),
    )


def _far_end(layout: Layout, module: int, told: Measured) -> FarEnd:
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
    network: Network, positions: Positions, told: Measured
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
