"""Make the chart of states: every setting, every section, every route; no trains."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

from sim.layout.model import PLASTIC, Layout, Route
from sim.layout.traffic import Case
from sim.power.chart_model import (
    Chart,
    DeadStretch,
    InsulatedSpan,
    RouteState,
    Setting,
    SettingCounts,
)
from sim.power.graph import closed_elements
from sim.power.joined import joined_supplies, shorts
from sim.power.settings import (
    Group,
    controls_of,
    groups_of,
    rest_positions,
    settings_of,
    timetable_settings,
)
from sim.power.trace import Positions, Traced, trace

UM_PER_MM = 1000
#: Settings that are charted at most; more is not read by anybody.
LIMIT = 4096


@dataclass(frozen=True, slots=True)
class _Part:
    """Settings charted together, with the levers and routes that they speak of."""

    settings: tuple[Positions, ...]
    levers: tuple[int, ...]
    routes: tuple[int, ...]


def chart(case: Case, each: bool = False, limit: int = LIMIT) -> Chart:
    """Chart all settings, gangs moving together or, with ``each``, lever by lever.

    Past ``limit`` settings only those that the timetable uses are charted, and
    ``skipped`` says so with advice.
    """
    parts, groups, total, skipped = _parts(case, each, limit)
    settings = [setting for part in parts for setting in _chart_part(case.layout, part)]
    return Chart(case.scenario, case.fix, tuple(settings), groups, total, skipped)


def count(case: Case, each: bool = False, limit: int = LIMIT) -> SettingCounts:
    """How many settings there are, how many have a dead route set, how many a short."""
    parts, _, total, _ = _parts(case, each, limit)
    dead = short = 0
    for part in parts:
        traced = trace(case.layout, part.settings)
        dead_bits = 0
        for r in part.routes:
            dead_bits |= _set_bits(case.layout.routes[r], part.settings) & ~_live_bits(
                traced, case.layout.routes[r]
            )
        dead += dead_bits.bit_count()
        short += traced.short_bits().bit_count()
    return SettingCounts(total, dead, short)


def _parts(case: Case, each: bool, limit: int) -> tuple[list[_Part], int, int, str | None]:
    layout = case.layout
    groups = groups_of(layout, controls_of(layout, each))
    total = sum(g.total for g in groups)
    everything = tuple(range(len(layout.routes)))
    all_levers = tuple(range(len(layout.levers)))
    if total > limit:
        advice = (
            f"{total} settings are more than the {limit} that are charted; only those that "
            "the timetable uses are shown. Chart one module at a time, or leave its gangs "
            "together."
        )
        return (
            [_Part(tuple(timetable_settings(case)), all_levers, everything)],
            len(groups),
            total,
            advice,
        )
    if len(groups) <= 1:
        settings = settings_of(layout, groups[0]) if groups else [tuple(rest_positions(layout))]
        return (
            [_Part(tuple(settings), all_levers, everything)],
            len(groups),
            len(settings),
            None,
        )
    parts = [_part_of(layout, g) for g in groups]
    spoken = {r for p in parts for r in p.routes}
    silent = tuple(r for r in everything if r not in spoken)
    if silent:
        parts.append(_Part((tuple(rest_positions(layout)),), (), silent))
        total += 1
    return parts, len(groups), total, None


def _part_of(layout: Layout, group: Group) -> _Part:
    levers = tuple(lever for c in group.controls for lever in c.levers)
    nodes = group.nodes
    routes = tuple(
        i
        for i, r in enumerate(layout.routes)
        if any(n in nodes for span in r.spans for n in (span.left, span.right))
    )
    return _Part(tuple(settings_of(layout, group)), levers, routes)


def _set_bits(route: Route, settings: Sequence[Positions]) -> int:
    bits = 0
    for k, positions in enumerate(settings):
        if all(positions[p.lever] == p.position for p in route.points):
            bits |= 1 << k
    return bits


def _live_bits(traced: Traced[int], route: Route) -> int:
    """Settings in which all the metal of ``route`` is live."""
    bits = traced.all_bits
    for span in route.spans:
        if PLASTIC not in (span.left, span.right):
            bits &= traced.verdicts(span.left, span.right).get(None, 0)
    return bits


def _chart_part(layout: Layout, part: _Part) -> list[Setting]:
    traced = trace(layout, part.settings)
    nodes = sorted(
        {
            n
            for r in part.routes
            for span in layout.routes[r].spans
            for n in (span.left, span.right)
            if n != PLASTIC
        }
    )
    return [_setting(layout, part, traced, nodes, k) for k in range(len(part.settings))]


def _setting(
    layout: Layout, part: _Part, traced: Traced[int], nodes: Sequence[int], k: int
) -> Setting:
    positions = part.settings[k]
    poles = pole_names(layout)
    closed = closed_elements(layout, positions)
    state = next(s for s, bits in traced.states() if bits >> k & 1)
    return Setting(
        tuple(
            (layout.levers[i].id, layout.levers[i].positions[positions[i]]) for i in part.levers
        ),
        tuple((layout.nodes[n], tuple(poles[p] for p in traced.poles_at(n, k))) for n in nodes),
        tuple(_route_state(layout, traced, r, k) for r in part.routes),
        shorts(layout, state, closed),
        joined_supplies(layout, closed),
    )


def pole_names(layout: Layout) -> list[str]:
    """Names of the poles in the order of their numbers: ``supply+``, ``supply-``, …"""
    return [f"{s.name}{sign}" for s in layout.supplies for sign in "+-"]


def _route_state(layout: Layout, traced: Traced[int], r: int, k: int) -> RouteState:
    route = layout.routes[r]
    dead: list[DeadStretch] = []
    plastic: list[InsulatedSpan] = []
    shorted = False
    for span in route.spans:
        from_mm, to_mm = span.from_um / UM_PER_MM, span.to_um / UM_PER_MM
        if PLASTIC in (span.left, span.right):
            side = _plastic_side(span.left, span.right)
            plastic.append(InsulatedSpan(side, from_mm, to_mm))
            continue
        kinds = traced.verdicts(span.left, span.right)
        verdict = next(v for v, bits in kinds.items() if bits >> k & 1)
        if verdict == "short":
            shorted = True
        elif verdict is not None:
            left, right = layout.nodes[span.left], layout.nodes[span.right]
            dead.append(DeadStretch(left, right, verdict, from_mm, to_mm))
    positions = traced.settings[k]
    is_set = all(positions[p.lever] == p.position for p in route.points)
    return RouteState(
        route.id,
        is_set,
        "short" if shorted else "dead" if dead else "live",
        tuple(dead),
        tuple(plastic),
    )


def _plastic_side(left: int, right: int) -> Literal["left", "right", "both"]:
    if left == right:
        return "both"
    return "left" if left == PLASTIC else "right"
