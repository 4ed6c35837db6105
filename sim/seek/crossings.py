"""Stretches between the gaps of a crossing, and the trains whose pickups do not reach past."""

from __future__ import annotations

from collections.abc import Iterator

from sim.layout.model import PLASTIC, Span
from sim.layout.traffic import Case, Train
from sim.power.trace import Traced, trace
from sim.seek.contracted import NOT_CROSSING, crossing_of
from sim.seek.districts import Homes, homes_of
from sim.seek.model import Crossing
from sim.seek.verify import live_settings

UM_PER_MM = 1000.0


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
