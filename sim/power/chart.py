"""The chart of states: every setting, every section, every route; no trains.

The chart of states: for every setting, what each section and route is.

What a route is in each setting: live, dead and why, or shorted.

Make the chart of states: every setting, every section, every route; no trains.

What a builder should know of the supply before anything is run.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Sequence
from dataclasses import dataclass, field, replace
from functools import cached_property, partial
from typing import TYPE_CHECKING, Literal, TypeVar

from sim.layout.model import PLASTIC, Layout, Route, Span
from sim.layout.traffic import Case
from sim.power.graph import (
    could_conduct,
    joined_supplies,
    path_elements,
    pole_name,
    pole_node,
    power_graph,
    short_of,
)
from sim.power.parts import LIMIT, Part, Parts, parts_of
from sim.power.poles import Verdict
from sim.power.settings import rest_positions
from sim.power.trace import Positions, Traced, trace
from sim.records.model import Kind
from sim.scenario.problems import Problem, shown

if TYPE_CHECKING:
    import networkx as nx


State = Literal["live", "dead", "short"]
How = Literal["one pole", "common return", "paralleled", "opposed"]


@dataclass(frozen=True, slots=True)
class DeadStretch:
    """A stretch of a route where no current can flow, and why.

    ``left`` and ``right`` are section ids, None for plastic.
    """

    left: str | None
    right: str | None
    kind: Kind
    from_mm: float
    to_mm: float


@dataclass(frozen=True, slots=True)
class InsulatedSpan:
    """Plastic under one wheel or both; listed apart from dead metal."""

    side: Literal["left", "right", "both"]
    from_mm: float
    to_mm: float


@dataclass(frozen=True, slots=True)
class RouteState:
    """One route in one setting. ``set`` tells whether the levers make it."""

    route: str
    set: bool
    state: State
    dead: tuple[DeadStretch, ...]
    insulated: tuple[InsulatedSpan, ...]


@dataclass(frozen=True, slots=True)
class Short:
    """Poles that are joined though they differ, and the elements that do it."""

    poles: tuple[str, ...]
    elements: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class JoinedSupplies:
    """Two supplies that are no longer independent, how, and through what."""

    poles: tuple[str, ...]
    how: How
    elements: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Setting:
    """One setting of the levers of one group."""

    levers: tuple[tuple[str, str], ...]  #: (lever, position)
    fed_by: tuple[tuple[str, tuple[str, ...]], ...]  #: (section, poles)
    routes: tuple[RouteState, ...]
    shorts: tuple[Short, ...]
    joined: tuple[JoinedSupplies, ...]

    @property
    def dead(self) -> bool:
        """A route that is set is not live."""
        return any(r.set and r.state != "live" for r in self.routes)

    @property
    def short(self) -> bool:
        """Some poles are shorted."""
        return bool(self.shorts)


@dataclass(frozen=True, slots=True)
class Chart:
    """All settings that were charted.

    ``groups`` of levers are independent of one another and charted one by one;
    track that no lever concerns is one more setting, without levers.  ``total`` is
    how many settings there are to chart, 10**15 standing for that many or more;
    ``skipped`` says why some were not.
    """

    scenario: str
    fix: str | None
    settings: tuple[Setting, ...]
    groups: int
    total: int
    skipped: str | None = None


@dataclass(frozen=True, slots=True)
class SettingCounts:
    """How many settings were charted, and how many of them are dead or shorted."""

    total: int
    dead: int
    short: int


UM_PER_MM = 1000

K = TypeVar("K")
_Row = tuple[K, int, int]  #: what there is, from and to in micrometres


@dataclass(slots=True)
class JudgedRoute:
    """One route of a traced layout; answers for all settings, or for one.

    A route is judged on its own metal.  Where one side is plastic the span is
    insulated and told apart, but a short under the other wheel still counts,
    because a short goes before everything.  A route that has no place with metal
    under both wheels can never be live: it is dead, being insulated.
    """

    layout: Layout
    traced: Traced[int]
    route: Route
    _made: dict[tuple[bool, tuple[Verdict, ...]], RouteState] = field(default_factory=dict)

    def set_bits(self) -> int:
        """Settings whose levers make the route."""
        bits = 0
        for k, positions in enumerate(self.traced.settings):
            if self._is_set(positions):
                bits |= 1 << k
        return bits

    def live_bits(self) -> int:
        """Settings in which all metal of the route is live."""
        metal = [s for s in self.route.spans if not _is_insulated(s)]
        bits = self.traced.all_bits if metal else 0
        for span in metal:
            bits &= self.traced.verdicts(span.left, span.right).get(None, 0)
        for span in self.route.spans:
            bits &= ~self._one_sided_short(span)
        return bits

    def state(self, k: int) -> RouteState:
        """What the route is in setting number ``k``."""
        verdicts = tuple(self._verdict(span, k) for span in self.route.spans)
        key = self._is_set(self.traced.settings[k]), verdicts
        if key not in self._made:
            self._made[key] = self._make(*key)
        return self._made[key]

    def _is_set(self, positions: Positions) -> bool:
        return all(positions[p.lever] == p.position for p in self.route.points)

    def _verdict(self, span: Span, k: int) -> Verdict:
        if _is_insulated(span):
            return "short" if self._one_sided_short(span) >> k & 1 else "insulated"
        kinds = self.traced.verdicts(span.left, span.right)
        return next(verdict for verdict, bits in kinds.items() if bits >> k & 1)

    def _one_sided_short(self, span: Span) -> int:
        """Settings in which the only metal of a span is part of a short."""
        if not _is_insulated(span) or span.left == span.right:
            return 0
        metal = max(span.left, span.right)
        return self.traced.verdicts(metal, metal).get("short", 0)

    def _make(self, is_set: bool, verdicts: tuple[Verdict, ...]) -> RouteState:
        never = all(map(_is_insulated, self.route.spans))
        dead: list[_Row[tuple[str | None, str | None, Kind]]] = []
        plastic: list[_Row[Literal["left", "right", "both"]]] = []
        for span, verdict in zip(self.route.spans, verdicts, strict=True):
            insulated = _is_insulated(span)
            if insulated:
                plastic.append((_plastic_side(span), span.from_um, span.to_um))
            if verdict is not None and verdict != "short" and (never or not insulated):
                what = self._name(span.left), self._name(span.right), verdict
                dead.append((what, span.from_um, span.to_um))
        return RouteState(
            self.route.id,
            is_set,
            "short" if "short" in verdicts else "dead" if dead else "live",
            tuple(
                DeadStretch(*what, a / UM_PER_MM, b / UM_PER_MM) for what, a, b in _merged(dead)
            ),
            tuple(
                InsulatedSpan(side, a / UM_PER_MM, b / UM_PER_MM)
                for side, a, b in _merged(plastic)
            ),
        )

    def _name(self, node: int) -> str | None:
        return None if node == PLASTIC else self.layout.nodes[node]


def judged_routes(layout: Layout, traced: Traced[int]) -> list[JudgedRoute]:
    """Every route of ``layout``, in its order."""
    return [JudgedRoute(layout, traced, route) for route in layout.routes]


def _is_insulated(span: Span) -> bool:
    return PLASTIC in (span.left, span.right)


def _merged(rows: Iterable[_Row[K]]) -> list[_Row[K]]:
    """Neighbouring stretches that tell the same are one; places in micrometres."""
    found: list[_Row[K]] = []
    for what, from_um, to_um in rows:
        if found and found[-1][0] == what and found[-1][2] == from_um:
            from_um = found.pop()[1]
        found.append((what, from_um, to_um))
    return found


def _plastic_side(span: Span) -> Literal["left", "right", "both"]:
    if span.left == span.right:
        return "both"
    return "left" if span.left == PLASTIC else "right"


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


#: So many of the elements of a short are named.
NAMED = 6


def shorts_at_rest(case: Case) -> list[Problem]:
    """A warning for each short that is there with every lever at rest and no train."""
    layout, rest = case.layout, tuple(rest_positions(case.layout))
    for_good = {short.poles: short for short in shorts_in(_without_contacts(layout), rest)}
    problems = []
    for now in shorts_in(layout, rest):
        short = for_good.get(now.poles, now)
        when = "with all levers at rest" if short is now else "in every setting"
        through = [shown(name) for name in short.elements[:NAMED]]
        more = len(short.elements) - len(through)
        found = f"a dead short of {' and '.join(short.poles)} {when}, through "
        found += ", ".join(through) + (f" and {more} more" if more else "")
        expected = "no short as built"
        problems.append(Problem("layout", expected, found, "warning", code="short"))
    return problems


def _without_contacts(layout: Layout) -> Layout:
    """``layout`` with every contact open for good."""
    kept = (replace(e, kind="gap") if e.kind == "contact" else e for e in layout.elements)
    return replace(layout, elements=tuple(kept))
