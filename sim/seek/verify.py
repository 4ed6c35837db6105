"""Check a finished fix on the whole layout, by the tracer and not by the search's tables."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from sim.layout.model import PLASTIC, District, Layout
from sim.layout.traffic import Case
from sim.power.districts import DistrictJoin, joined_districts
from sim.power.parts import cut_apart
from sim.power.settings import (
    number_of_settings,
    rest_positions,
    settings_of,
    timetable_settings,
)
from sim.power.trace import Positions, Traced, trace
from sim.seek.columns import astray
from sim.seek.contracted import crossing_of
from sim.seek.districts import Homes, homes_of
from sim.seek.model import SETTINGS_AT_MOST, Asked, Demand


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
