"""Stretches that every train reaches past, so that what it did tells nothing of them."""

from __future__ import annotations

from sim.layout.model import PLASTIC, Layout, Route
from sim.power.trace import trace
from sim.readings.model import Positions

#: A stretch as long as so many gauges is reached past by pickups (our assumption).
GAUGES = 3.0


def passed_over(layout: Layout, route: Route, positions: Positions) -> set[tuple[int, int]]:
    """Pairs of rails of ``route`` that have no return in good order and are short.

    Between the gaps of a crossing from loop to loop one rail is of each: no supply lies
    across them, and yet trains run, because they reach past.
    """
    traced = trace(layout, [positions])
    spans = [
        s
        for s in route.spans
        if PLASTIC not in (s.left, s.right) and "no return" in traced.verdicts(s.left, s.right)
    ]
    if not spans:
        return set()
    long_um = max(s.to_um for s in spans) - min(s.from_um for s in spans)
    if long_um > GAUGES * layout.pieces[route.piece].piece.gauge_mm * 1000.0:
        return set()
    return {(s.left, s.right) for s in spans}
