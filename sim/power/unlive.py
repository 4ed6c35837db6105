"""Why a route is not live, of whatever truth is made."""

from __future__ import annotations

from collections.abc import Iterator

from sim.layout.model import PLASTIC, Route
from sim.power.batch import T
from sim.power.poles import Verdict
from sim.power.trace import Traced


def why_not_live(traced: Traced[T], route: Route) -> Iterator[dict[Verdict, T]]:
    """For each pair of rails along ``route``: by verdict but live, when it holds.

    Pairs come in the order of the route, each once, so that two tracings of one
    route can be compared place by place.  Where one side is plastic only a short
    under the other wheel counts.  A route without any metal is never dead by
    this, since no supply could make it live.
    """
    for left, right in dict.fromkeys((s.left, s.right) for s in route.spans):
        if left == right == PLASTIC:
            continue
        one_sided = PLASTIC in (left, right)
        metal = max(left, right)
        verdicts = traced.verdicts(metal, metal) if one_sided else traced.verdicts(left, right)
        yield {
            v: when
            for v, when in verdicts.items()
            if v is not None and (not one_sided or v == "short")
        }
