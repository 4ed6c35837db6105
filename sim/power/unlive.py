"""Why a route is not live, of whatever truth is made."""

from __future__ import annotations

from sim.layout.model import PLASTIC, Route
from sim.power.batch import T
from sim.power.poles import Verdict
from sim.power.trace import Traced


def why_not_live(traced: Traced[T], route: Route) -> dict[Verdict, T]:
    """For each verdict but live, when some metal of ``route`` has it.

    Where one side is plastic only a short under the other wheel counts.  A route
    without any metal is never dead by this: no supply could make it live.
    """
    found: dict[Verdict, T] = {}
    for left, right in dict.fromkeys((s.left, s.right) for s in route.spans):
        if left == right == PLASTIC:
            continue
        one_sided = PLASTIC in (left, right)
        metal = max(left, right)
        verdicts = traced.verdicts(metal, metal) if one_sided else traced.verdicts(left, right)
        for verdict, when in verdicts.items():
            if verdict is None or (one_sided and verdict != "short"):
                continue
            known = found.get(verdict)
            found[verdict] = when if known is None else known | when
    return found
