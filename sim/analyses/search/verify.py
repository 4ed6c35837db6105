"""A finished fix held against the whole layout, and stretches left to the pickups.

Stretches between the gaps of a crossing, and the trains whose pickups do not reach past.

Check a finished fix on the whole layout, by the tracer and not by the search's tables.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace

from sim.analyses.search.model import SETTINGS_AT_MOST, Asked, Crossing, Demand
from sim.analyses.search.parts import NOT_CROSSING, Homes, crossing_of, homes_of
from sim.analyses.search.tables import astray
from sim.layout.model import PLASTIC, UM_PER_MM, District, Layout, Span
from sim.layout.traffic import Case, Train
from sim.power.districts import DistrictJoin, joined_districts
from sim.power.parts import cut_apart
from sim.power.settings import (
    number_of_settings,
    rest_positions,
    settings_of,
    timetable_settings,
)
from sim.power.trace import Positions, Traced, trace


def crossings_of(case: Case, gangs: bool) -> tuple[Crossing, ...]:
    """Stretches of routes in use that have one rail of each of two isolated loops."""
    homes = homes_of(case.layout)
    settings = live_settings(case, gangs)
    routes = [
        number
        for number, route in enumerate(case.layout.routes)
        if crossing_of(case.layout, homes, number) != NOT_CROSSING
        and any(all(s[p.lever] == p.position for p in route.points) for s in settings)
    ]
    if not routes:
        return ()
    traced = trace(case.layout, settings)
    found = []
    for number in routes:
        route = case.layout.routes[number]
        stretches = [
            (span.from_um, span.to_um)
            for span in route.spans
            if PLASTIC not in (span.left, span.right) and _is_between(traced, homes, span)
        ]
        found += [_crossing(case, route.id, low, high) for low, high in _merged(stretches)]
    return tuple(found)


def _is_between(traced: Traced[int], homes: Homes, span: Span) -> bool:
    """Whether a span has one rail of each loop."""
    one, other = homes.supply_of(span.left), homes.supply_of(span.right)
    if one is not None and other is not None:
        return one != other
    return "no return" in traced.verdicts(span.left, span.right)


def _merged(stretches: list[tuple[int, int]]) -> list[tuple[int, int]]:
    """Stretches that touch made one; plastic between them is no help to a wheel."""
    if not stretches:
        return []
    return [(min(low for low, _ in stretches), max(high for _, high in stretches))]


def _crossing(case: Case, route: str, low: int, high: int) -> Crossing:
    length = (high - low) / UM_PER_MM
    short_of = tuple(t.name for t in case.trains if any(r < length for r in reaches_mm(t)))
    return Crossing(route, low / UM_PER_MM, high / UM_PER_MM, short_of)


def reaches_mm(train: Train) -> Iterator[float]:
    """For each motor of a train: how long a stretch its pickups reach past.

    Where one rail changes loop before the other, supply is lost while all left
    pickups are past the one place and all right pickups short of the other.
    Vehicles that share pickups through their couplings count as one.
    """
    front = 0.0
    left: list[float] = []
    right: list[float] = []
    motors = 0
    for vehicle in train.vehicles:
        own = (vehicle.pickups_left_mm, vehicle.pickups_right_mm)
        if vehicle.turned:
            own = (own[1], own[0])
        for side, places in zip((left, right), own, strict=True):
            for place in places:
                at = vehicle.length_mm - place if vehicle.turned else place
                side.append(front + at)
        motors += vehicle.motor is not None
        front += vehicle.length_mm
        if not vehicle.shares_with_next:
            if motors and left and right:
                yield min(max(left) - min(right), max(right) - min(left))
            left, right, motors = [], [], 0


def live_settings(case: Case, gangs: bool) -> list[Positions]:
    """Settings in which every route that is set must be live."""
    return gang_settings(case) if gangs else timetable_settings(case)


def gang_settings(case: Case) -> list[Positions]:
    """Settings of each part's gangs, others at rest; parts with too many give none."""
    found = timetable_settings(case)
    rest = rest_positions(case.layout)
    for part in cut_apart(case.layout)[0]:
        if number_of_settings(part.layout) <= SETTINGS_AT_MOST:
            found += [part.in_whole(p, rest) for p in settings_of(part.layout)]
    return list(dict.fromkeys(found))


def violated(case: Case, asked: Asked) -> list[Demand]:
    """Demands that a case does not meet, judged from the whole layout."""
    layout, homes = case.layout, homes_of(case.layout)
    live = live_settings(case, asked.gangs)
    checks: dict[Demand, bool] = {
        "live": _is_live(trace(layout, live), homes),
        "no short": not trace(layout, gang_settings(case)).short_bits(),
        "apart": not mixed(case, homes),
    }
    if "contact" in asked.demands:
        checks["contact"] = all(
            _is_live(trace(layout, live, (i,)), homes)
            for i, e in enumerate(layout.elements)
            if e.kind == "contact"
        )
    if "lever" in asked.demands:
        strayed = stray_settings(layout, live)
        traced = trace(layout, strayed)
        checks["lever"] = not strayed or (_is_live(traced, homes) and not traced.short_bits())
    return [demand for demand in asked.demands if not checks[demand]]


def stray_settings(layout: Layout, settings: Sequence[Positions]) -> list[Positions]:
    """Each setting with one member of one gang where its gang is not."""
    every = range(len(layout.levers))
    projected = [tuple(enumerate(s)) for s in settings]
    moved = [setting for setting, _ in astray(layout, projected, list(every))]
    return [tuple(p for _, p in setting) for setting in moved]


def dead_bits(traced: Traced[int], homes: Homes) -> int:
    """Settings in which a route that is set has a place that should be live and is not."""
    bits = 0
    layout = traced.layout
    for number, route in enumerate(layout.routes):
        is_set = traced.all_bits
        for k, positions in enumerate(traced.settings):
            if any(positions[p.lever] != p.position for p in route.points):
                is_set &= ~(1 << k)
        if not is_set:
            continue
        crossing = crossing_of(layout, homes, number)
        for span in route.spans:
            if PLASTIC not in (span.left, span.right):
                bits |= is_set & ~_fine_bits(traced, span.left, span.right, crossing)
    return bits


def _is_live(traced: Traced[int], homes: Homes) -> bool:
    return not dead_bits(traced, homes)


def _fine_bits(traced: Traced[int], left: int, right: int, crossing: tuple[int, int]) -> int:
    """Settings in which a pair is live, or lies between the two loops of a crossing."""
    verdicts = traced.verdicts(left, right)
    fine = verdicts.get(None, 0)
    if crossing[0] < 0 or "no return" not in verdicts:
        return fine
    for a, b in (crossing, crossing[::-1]):
        fine |= verdicts["no return"] & _fed(traced, left, a) & _fed(traced, right, b)
    return fine


def _fed(traced: Traced[int], node: int, supply: int) -> int:
    cluster = traced.wiring.cluster_of[node]
    return traced.reach[2 * supply][cluster] | traced.reach[2 * supply + 1][cluster]


def mixed(case: Case, homes: Homes) -> tuple[DistrictJoin, ...]:
    """What joins rails of two districts in some setting, with all feeders lifted."""
    if not case.layout.districts and homes.of:
        derived = tuple(
            District(
                case.layout.supplies[supply].name,
                supply,
                tuple(sorted(n for n, d in homes.of.items() if d == number)),
            )
            for number, supply in enumerate(homes.supply)
        )
        case = replace(case, layout=replace(case.layout, districts=derived))
    return joined_districts(case)
