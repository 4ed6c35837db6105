"""Make the chart of states: every setting, every section, every route; no trains."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass
from functools import partial

from sim.layout.model import Layout
from sim.layout.traffic import Case
from sim.power.chart_model import Chart, Setting, SettingCounts
from sim.power.graph import could_conduct, path_elements, power_graph
from sim.power.joined import joined_supplies, pole_name, pole_node, short_of
from sim.power.parts import parts_of
from sim.power.poles import PoleState
from sim.power.routes import JudgedRoute, judged_routes
from sim.power.settings import (
    COUNTLESS,
    number_of_settings,
    rest_positions,
    settings_of,
    timetable_settings,
)
from sim.power.trace import Positions, Traced, trace

#: Settings that are charted at most; more is not read by anybody.
LIMIT = 4096
#: Routes times settings that are charted at most, so that a chart fits in memory.
ROUTE_STATES_AT_MOST = 400_000


@dataclass(frozen=True, slots=True)
class _Plan:
    """What to chart: parts of the layout, each with settings of its own levers."""

    parts: tuple[tuple[Layout, tuple[Positions, ...]], ...]
    groups: int
    total: int
    skipped: str | None


def chart(case: Case, each: bool = False, limit: int = LIMIT) -> Chart:
    """Chart all settings, gangs moving together or, with ``each``, lever by lever.

    Past ``limit`` settings only those that the timetable uses are charted, and
    ``skipped`` says so with advice.
    """
    plan = _plan(case, each, limit)
    sections = {f"{p.id}/{s.name}" for p in case.layout.pieces for s in p.piece.sections}
    settings = [
        setting
        for layout, positions in plan.parts
        for setting in _chart_part(layout, positions, sections)
    ]
    return Chart(
        case.scenario, case.fix, tuple(settings), plan.groups, plan.total, plan.skipped
    )


def count(case: Case, each: bool = False, limit: int = LIMIT) -> SettingCounts:
    """How many settings :func:`chart` charts, how many are dead, how many shorted."""
    total = dead = short = 0
    for layout, positions in _plan(case, each, limit).parts:
        traced = trace(layout, positions)
        dead_bits = 0
        for route in judged_routes(layout, traced):
            dead_bits |= route.set_bits() & ~route.live_bits()
        total += len(positions)
        dead += dead_bits.bit_count()
        short += traced.short_bits().bit_count()
    return SettingCounts(total, dead, short)


def _plan(case: Case, each: bool, limit: int) -> _Plan:
    parts, groups = parts_of(case.layout, each)
    numbers = [number_of_settings(p) for p in parts]
    total = min(sum(numbers), COUNTLESS)
    cells = sum(n * len(p.routes) for n, p in zip(numbers, parts, strict=True))
    if total <= limit and cells <= ROUTE_STATES_AT_MOST:
        charted = tuple((p, tuple(settings_of(p))) for p in parts)
        return _Plan(charted, groups, total, None)
    room = max(1, min(limit, ROUTE_STATES_AT_MOST // max(1, len(case.layout.routes))))
    used = timetable_settings(case)
    return _Plan(((case.layout, tuple(used[:room])),), groups, total, _refusal(total, used, room))


def _refusal(total: int, used: Sequence[Positions], room: int) -> str:
    """Why not everything is charted, and what to do about it."""
    many = "More than a million" if total > 10**6 else str(total)
    shown = f"the {len(used)} that the timetable uses, each train by itself, are"
    if len(used) == 1:
        shown = "the one with every lever at rest is"
    if len(used) > room:
        shown = f"the first {room} of {len(used)} that the timetable uses are"
    return (
        f"{many} settings are too many to chart: only {shown} shown. Chart one module at a "
        "time in a scenario of its own, or let its gangs move together."
    )


def _chart_part(
    layout: Layout, settings: Sequence[Positions], sections: Collection[str]
) -> list[Setting]:
    maker = _SettingMaker(layout, settings, sections)
    return [maker.setting(k) for k in range(len(settings))]


class _SettingMaker:
    """What all settings of a part have in common, worked out once."""

    def __init__(
        self, layout: Layout, settings: Sequence[Positions], sections: Collection[str]
    ) -> None:
        self._layout = layout
        self._traced = trace(layout, settings)
        commons = frozenset(i for i, e in enumerate(layout.elements) if e.kind == "common")
        #: the same without declared commons: what rails and other wires join
        self._apart = trace(layout, settings, commons) if commons else self._traced
        self._commons = commons
        self._graph = power_graph(layout, could_conduct(layout))
        self._states = self._traced.states()
        self._sections = [n for n, name in enumerate(layout.nodes) if name in sections]
        self._routes: list[JudgedRoute] = judged_routes(layout, self._traced)
        self._poles = [pole_name(layout, p) for p in range(2 * len(layout.supplies))]

    def setting(self, k: int) -> Setting:
        """Setting number ``k``."""
        layout, positions = self._layout, self._traced.settings[k]
        return Setting(
            tuple(
                (lever.id, lever.positions[p])
                for lever, p in zip(layout.levers, positions, strict=True)
            ),
            tuple((layout.nodes[n], self._fed_by(n, k)) for n in self._sections),
            tuple(route.state(k) for route in self._routes),
            tuple(
                short_of(layout, state.pattern, supplies, partial(self._path, k, False))
                for state in self._states_of(k)
                for supplies in state.shorts
            ),
            self._joined(k),
        )
