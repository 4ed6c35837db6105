"""What a route is in each setting: live, dead and why, or shorted."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field
from typing import Literal, TypeVar

from sim.layout.model import PLASTIC, Layout, Route, Span
from sim.power.chart_model import DeadStretch, InsulatedSpan, RouteState
from sim.power.poles import Verdict
from sim.power.trace import Positions, Traced
from sim.records.model import Kind

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
