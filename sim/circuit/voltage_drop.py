"""What is left of a supply's volts at each place, what costs them, and whether a short trips.

Told setting by setting.  No trains stand on the layout but one that starts, at one place
after the other, and every DC throttle is fully open.  What costs the weakest place most
of its volts is told by element: the losses of all of them add up to what is lost.
"""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from math import inf

from sim.circuit.measure import (
    SPOT_UM,
    Measured,
    Spot,
    Standing,
    StartingTrain,
    is_set,
    measure,
    spots_of,
    standing,
    starting_train,
)
from sim.circuit.network import LEAST_OHM, RAIL, Network, build_network
from sim.circuit.nodal import CircuitError, Drain, Resistance, Solution, Source, solve
from sim.circuit.reduction import Reduction
from sim.layout.model import Layout
from sim.layout.traffic import Case
from sim.power.parts import Part, parts_of
from sim.power.poles import sources_of
from sim.power.trace import Positions, Traced, trace

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
    #: how many more there are that cost as much as is told of at all
    more_costs: int = 0

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
    felt = tuple((what, v) for what, v in costs if v >= LEAST_V)
    kinds = _by_kind(network.layout, costs)
    return SettingVolts(
        levers, sections, tuple(ends), felt[:COSTS_TOLD], kinds,
        more_costs=len(felt[COSTS_TOLD:]),
    )  # fmt: skip


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
