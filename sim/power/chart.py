"""Make the chart of states: every setting, every section, every route; no trains."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from functools import cached_property, partial
from typing import TYPE_CHECKING

from sim.layout.model import Layout
from sim.layout.traffic import Case
from sim.power.chart_model import Chart, JoinedSupplies, Setting, SettingCounts, Short
from sim.power.graph import could_conduct, path_elements, power_graph
from sim.power.joined import joined_supplies, pole_name, pole_node, short_of
from sim.power.plan import LIMIT, Part, Parts, parts_of
from sim.power.routes import judged_routes
from sim.power.trace import Positions, trace

if TYPE_CHECKING:
    import networkx as nx

__all__ = ["LIMIT", "Part", "Parts", "chart", "count", "parts_of", "shorts_in"]


def chart(case: Case, each: bool = False, limit: int = LIMIT) -> Chart:
    """Chart all settings, gangs moving together or, with ``each``, lever by lever.

    Past ``limit`` settings only those that the timetable uses are charted, and
    ``skipped`` says so with advice.
    """
    plan = parts_of(case, each, limit)
    sections = {f"{p.id}/{s.name}" for p in case.layout.pieces for s in p.piece.sections}
    settings = [
        setting
        for part in plan.parts
        for setting in _chart_part(part.layout, part.own_settings, sections)
    ]
    return Chart(
        case.scenario, case.fix, tuple(settings), plan.groups, plan.total, plan.skipped
    )


def count(case: Case, each: bool = False, limit: int = LIMIT) -> SettingCounts:
    """How many settings :func:`chart` charts, how many are dead, how many shorted."""
    total = dead = short = 0
    for part in parts_of(case, each, limit).parts:
        traced = trace(part.layout, part.own_settings)
        dead_bits = 0
        for route in judged_routes(part.layout, traced):
            dead_bits |= route.set_bits() & ~route.live_bits()
        total += len(part.own_settings)
        dead += dead_bits.bit_count()
        short += traced.short_bits().bit_count()
    return SettingCounts(total, dead, short)


def shorts_in(layout: Layout, positions: Positions) -> tuple[Short, ...]:
    """The shorts of one setting, given as a position index by lever."""
    return _SettingMaker(layout, [positions], ()).setting(0).shorts


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
        self._states = self._traced.states()
        self._routes = judged_routes(layout, self._traced)
        names = [pole_name(layout, p) for p in range(2 * len(layout.supplies))]
        cluster_of, reach = self._traced.wiring.cluster_of, self._traced.reach
        #: by section: poles that ever reach it, with the settings in which they do
        self._fed = [
            (n, [(x, row[c]) for x, row in zip(names, reach, strict=True) if row[c]])
            for n, c in enumerate(cluster_of)
            if layout.nodes[n] in sections
        ]

    @cached_property
    def _graph(self) -> nx.MultiGraph[int]:
        """Only asked for where something is shorted or joined."""
        return power_graph(self._layout, could_conduct(self._layout))

    def setting(self, k: int) -> Setting:
        """Setting number ``k``."""
        layout, positions = self._layout, self._traced.settings[k]
        state = next(state for state, bits in self._states if bits >> k & 1)
        return Setting(
            tuple(
                (lever.id, lever.positions[p])
                for lever, p in zip(layout.levers, positions, strict=True)
            ),
            tuple(
                (layout.nodes[n], tuple(name for name, bits in fed if bits >> k & 1))
                for n, fed in self._fed
            ),
            tuple(route.state(k) for route in self._routes),
            tuple(
                short_of(layout, state.pattern, supplies, partial(self._path, k, ()))
                for supplies in state.shorts
            ),
            self._joined(k),
        )

    def _joined(self, k: int) -> tuple[JoinedSupplies, ...]:
        pattern = next(p for p, bits in self._apart.patterns.items() if bits >> k & 1)
        return joined_supplies(self._layout, pattern, partial(self._path, k, self._commons))

    def _path(self, k: int, without: Collection[int], pole: int, other: int) -> list[int]:
        """Elements between two poles in setting ``k``, leaving some out of account."""
        bits = self._traced.contact_bits

        def conducts(element: int) -> bool:
            if element in bits:
                return bool(bits[element] >> k & 1)
            return element not in without

        a, b = pole_node(self._layout, pole), pole_node(self._layout, other)
        return path_elements(self._graph, a, b, conducts)
