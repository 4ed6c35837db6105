"""Nodal solution of any network of resistances, supplies and loads.

Isolated supplies have no common reference: each island of nodes that branches and
supplies join gets a datum of its own, at which its lowest node counts as 0 V.
The datum carries no current, because nothing is allowed to flow from one island
to another.  Branches of no resistance are contracted, not approximated, and
supplies without internal resistance get an unknown current of their own.

This is the plain way, used for reports, exports and checks; a run uses
:mod:`sim.circuit.reduce`, and tests compare the two.
"""

from __future__ import annotations

from collections.abc import Sequence
from math import inf, isfinite, isnan

from sim.circuit.elements import CircuitError, Drain, Resistance, Solution, Source
from sim.circuit.islands import Islands
from sim.circuit.nodal import solution_of

#: When values lie too far apart, resistances below this share of the greatest count as 0.
SMALL_SHARE = 1e-13


def solve(
    nodes: int,
    resistances: Sequence[Resistance],
    sources: Sequence[Source] = (),
    drains: Sequence[Drain] = (),
) -> Solution:
    """Solve a network of ``nodes`` nodes.

    Raises :class:`CircuitError` for values that are no resistance, voltage or
    current; for a supply without internal resistance that is shorted or
    paralleled; for a load between islands; and where values lie too far apart
    for double precision.
    """
    _check(nodes, resistances, sources, drains)
    for least in (0.0, SMALL_SHARE * _greatest(resistances, sources)):
        found = solution_of(Islands(nodes, resistances, sources, drains, least))
        if found is not None:
            return found
    raise CircuitError("resistances lie too far apart to be computed with")


def _check(
    nodes: int,
    resistances: Sequence[Resistance],
    sources: Sequence[Source],
    drains: Sequence[Drain],
) -> None:
    for r in resistances:
        if isnan(r.ohm) or r.ohm < 0.0:
            raise CircuitError(f"expected a resistance of 0 ohm or more, got {r.ohm:g}")
    for s in sources:
        if not isfinite(s.volts) or isnan(s.ohm) or s.ohm < 0.0:
            raise CircuitError(f"expected a supply, got {s.volts:g} V behind {s.ohm:g} ohm")
    for d in drains:
        if not isfinite(d.amps):
            raise CircuitError(f"expected a current, got {d.amps:g} A")
    ends = [n for r in resistances for n in (r.a, r.b)]
    ends += [n for d in drains for n in (d.a, d.b)]
    ends += [n for s in sources for n in (s.plus, s.minus)]
    if any(not 0 <= n < nodes for n in ends):
        raise CircuitError(f"expected nodes from 0 to {nodes - 1}")


def _greatest(resistances: Sequence[Resistance], sources: Sequence[Source]) -> float:
    ohms = [*(r.ohm for r in resistances), *(s.ohm for s in sources)]
    return max((ohm for ohm in ohms if ohm < inf), default=0.0)
