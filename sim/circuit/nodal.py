"""Nodal solution of any network of resistances, supplies and loads, checked against itself.

The plain way, with all nodes in one sparse matrix: reports, exports and checks use it; a
run uses :mod:`sim.circuit.reduction`, and tests hold the two together.

Unknown are the volts of each node and the currents of supplies without internal
resistance (modified nodal analysis).  Branches of no resistance are contracted, not
approximated: what they join is one *metal*.  Isolated supplies have no common reference:
each *island* of nodes that branches and supplies join gets a datum of its own, where its
lowest node counts as 0 V.  The datum carries no current, because nothing is allowed to
flow from one island to another.

A solution counts when the currents at every node add up to nothing, as far as rounding
allows.  Where values lie too far apart for that, the smallest are contracted, in steps.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import inf, isfinite, isnan
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from sim.power.wiring import Forest

if TYPE_CHECKING:
    from scipy.sparse import csc_array


Vector = NDArray[np.float64]


class CircuitError(Exception):
    """A network that has no single answer, or none that can be computed; says why."""


@dataclass(frozen=True, slots=True)
class Resistance:
    """``ohm`` between nodes ``a`` and ``b``; 0 is one piece of metal, ``inf`` is open."""

    a: int
    b: int
    ohm: float


@dataclass(frozen=True, slots=True)
class Source:
    """A supply: ``volts`` from ``minus`` up to ``plus`` when nothing is drawn, and its ohms."""

    plus: int
    minus: int
    volts: float
    ohm: float = 0.0


@dataclass(frozen=True, slots=True)
class Drain:
    """A load that draws ``amps`` at ``a`` and returns them at ``b``, whatever the volts.

    What all loads together draw from an island must come back to it.
    """

    a: int
    b: int
    amps: float


@dataclass(frozen=True, slots=True)
class Solution:
    """Volts by node within their island, and amps: of branches from a to b, of sources
    out of plus.  ``island`` numbers the islands by node."""

    volts: Vector
    island: tuple[int, ...]
    branch_a: Vector
    source_a: Vector


#: Imbalance of current, over the amounts that meet, that counts as none.
ACCURACY = 1e-9


# -- metals and islands ----------------------------------------------------------------------


class Islands:
    """A network whose resistances of no more than ``least`` count as 0.

    ``metal`` and ``island`` give by node the first node that it is one metal, or one
    island, with.  ``live`` are resistances that have some ohms, ``on`` the supplies
    that are not open, and ``ideal`` those of them without internal resistance.
    """

    def __init__(
        self,
        nodes: int,
        resistances: Sequence[Resistance],
        sources: Sequence[Source],
        drains: Sequence[Drain],
        least: float,
    ) -> None:
        self.nodes, self.least = nodes, least
        self.resistances, self.sources, self.drains = resistances, sources, drains
        metal = Forest(nodes)
        for r in resistances:
            if r.ohm <= least:
                metal.join(r.a, r.b)
        self.metal = [metal.find(n) for n in range(nodes)]
        self.live = [k for k, r in enumerate(resistances) if least < r.ohm < inf]
        self.on = [k for k, s in enumerate(sources) if s.ohm < inf]
        self.ideal = [k for k in self.on if sources[k].ohm <= least]
        self.island = self._islands()
        self._check_ideal()
        self._check_drains()

    def _islands(self) -> list[int]:
        forest = Forest(self.nodes)
        for n, root in enumerate(self.metal):
            forest.join(n, root)
        for k in self.live:
            forest.join(self.resistances[k].a, self.resistances[k].b)
        for k in self.on:
            forest.join(self.sources[k].plus, self.sources[k].minus)
        return [forest.find(n) for n in range(self.nodes)]

    def _check_ideal(self) -> None:
        loops = Forest(self.nodes)
        for k in self.ideal:
            plus, minus = self.metal[self.sources[k].plus], self.metal[self.sources[k].minus]
            if loops.find(plus) == loops.find(minus):
                raise CircuitError(
                    "a supply without internal resistance is shorted, or paralleled with "
                    "another: give it an internal resistance"
                )
            loops.join(plus, minus)

    def _check_drains(self) -> None:
        net: dict[int, float] = {}
        total = 0.0
        for d in self.drains:
            net[self.island[d.a]] = net.get(self.island[d.a], 0.0) + d.amps
            net[self.island[d.b]] = net.get(self.island[d.b], 0.0) - d.amps
            total += abs(d.amps)
        if any(abs(amps) > ACCURACY * total for amps in net.values()):
            raise CircuitError("a load between islands: its current has no way back")


# -- whether the currents add up -------------------------------------------------------------


def left_over(net: Islands, branch_a: Vector, source_a: Vector) -> tuple[Vector, Vector]:
    """Current left over at each node, and the sum of the amounts that meet there."""
    over, amount = np.zeros(net.nodes), np.zeros(net.nodes)
    flows = [(r.a, r.b, branch_a[k]) for k, r in enumerate(net.resistances)]
    flows += [(s.minus, s.plus, source_a[k]) for k, s in enumerate(net.sources)]
    flows += [(d.a, d.b, d.amps) for d in net.drains]
    for start, end, amps in flows:
        over[start] -= amps
        over[end] += amps
        amount[start] += abs(amps)
        amount[end] += abs(amps)
    return over, amount


def is_balanced(net: Islands, volts: Vector, branch_a: Vector, source_a: Vector) -> bool:
    """Whether no metal has more left over than rounding explains."""
    if not (np.isfinite(branch_a).all() and np.isfinite(source_a).all()):
        return False
    over, amount = left_over(net, branch_a, source_a)
    by_metal, total = np.zeros(net.nodes), np.zeros(net.nodes)
    np.add.at(by_metal, net.metal, over)
    np.add.at(total, net.metal, amount)
    # Differences of nearly equal volts leave this much in a branch's current at best.
    noise = _noise(net, volts, total)
    return bool((np.abs(by_metal) <= ACCURACY * total + noise).all())


def _noise(net: Islands, volts: Vector, amount: Vector) -> float:
    """Amps of rounding accepted at a node.

    Some ulps of the volts there are, through all conductances, as every node's
    rounding has to go somewhere; but no more than a hundredth of a millionth of
    what supplies and loads could move.
    """
    greatest = float(np.abs(volts).max(initial=0.0))
    greatest += sum(abs(net.sources[k].volts) for k in net.on)
    behind = [net.sources[k] for k in net.on if net.sources[k].ohm > net.least]
    moved = sum(abs(s.volts) / s.ohm for s in behind)
    moved += sum(abs(d.amps) for d in net.drains)
    siemens = sum(1.0 / net.resistances[k].ohm for k in net.live)
    siemens += sum(1.0 / s.ohm for s in behind)
    most = moved + (float(amount.max(initial=0.0)) if net.ideal else 0.0)
    return min(1e-14 * greatest * siemens, 1e-8 * most) + 1e-13 * moved


# -- the equations ---------------------------------------------------------------------------


def solution_of(net: Islands) -> Solution | None:
    """The solution, or None when double precision is not enough for it."""
    roots = sorted(set(net.metal))
    unknown = [n for n in roots if net.metal[net.island[n]] != n]
    row = {n: k for k, n in enumerate(unknown)}
    matrix, right = _equations(net, row)
    x = _refined(matrix, right) if matrix.shape[0] else np.zeros(0)
    if x is None:
        return None
    by_node = [row.get(net.metal[n], -1) for n in range(net.nodes)]
    volts = np.append(x[: len(unknown)], 0.0)[by_node]
    branch_a, source_a = _currents(net, volts, x[len(unknown) :])
    if not is_balanced(net, volts, branch_a, source_a):
        return None
    _through_metal(net, branch_a, source_a)
    names = {root: number for number, root in enumerate(dict.fromkeys(net.island))}
    return Solution(volts, tuple(names[r] for r in net.island), branch_a, source_a)


class _Entries:
    """Entries of the matrix, and the right side; ``row`` gives that of each metal."""

    def __init__(self, net: Islands, row: dict[int, int]) -> None:
        self._metal, self._row = net.metal, row
        self._rows: list[int] = []
        self._columns: list[int] = []
        self._values: list[float] = []
        self.right = np.zeros(len(row) + len(net.ideal))

    def _of(self, node: int) -> int:
        return self._row.get(self._metal[node], -1)

    def conduct(self, a: int, b: int, siemens: float) -> None:
        """A conductance between two nodes."""
        i, j = self._of(a), self._of(b)
        if i == j:
            return
        for p, q, g in ((i, i, siemens), (j, j, siemens), (i, j, -siemens), (j, i, -siemens)):
            if p >= 0 and q >= 0:
                self._rows.append(p)
                self._columns.append(q)
                self._values.append(g)

    def feed(self, node: int, amps: float) -> None:
        """A current into a node."""
        i = self._of(node)
        if i >= 0:
            self.right[i] += amps

    def hold(self, own: int, source: Source) -> None:
        """Row ``own``: a supply that keeps its volts whatever it gives."""
        self.right[own] = source.volts
        for node, sign in ((source.plus, 1.0), (source.minus, -1.0)):
            i = self._of(node)
            if i >= 0:
                self._rows += [own, i]
                self._columns += [i, own]
                self._values += [sign, -sign]

    def matrix(self) -> csc_array:
        """All entries, those of one place added up."""
        # Only reports need it, and it takes its time to load.
        from scipy.sparse import csc_array

        size = len(self.right)
        return csc_array((self._values, (self._rows, self._columns)), shape=(size, size))


def _equations(net: Islands, row: dict[int, int]) -> tuple[csc_array, Vector]:
    entries = _Entries(net, row)
    for k in net.live:
        r = net.resistances[k]
        entries.conduct(r.a, r.b, 1.0 / r.ohm)
    for d in net.drains:
        entries.feed(d.a, -d.amps)
        entries.feed(d.b, d.amps)
    for k in net.on:
        s = net.sources[k]
        if s.ohm > net.least:
            entries.conduct(s.plus, s.minus, 1.0 / s.ohm)
            entries.feed(s.plus, s.volts / s.ohm)
            entries.feed(s.minus, -s.volts / s.ohm)
    for own, k in enumerate(net.ideal, start=len(row)):
        entries.hold(own, net.sources[k])
    return entries.matrix(), entries.right


def _refined(matrix: csc_array, right: Vector) -> Vector | None:
    """Solve and improve twice; None when the matrix is singular to machine precision."""
    from scipy.sparse.linalg import splu

    try:
        factor = splu(matrix)
    except RuntimeError:
        return None
    x = np.asarray(factor.solve(right))
    for _ in range(2):
        if not np.isfinite(x).all():
            return None
        x = x + factor.solve(right - matrix @ x)
    return x if np.isfinite(x).all() else None


def _currents(net: Islands, volts: Vector, ideal_a: Vector) -> tuple[Vector, Vector]:
    """Amps of branches that have some ohms, and of supplies."""
    source_a = np.zeros(len(net.sources))
    for k in net.on:
        s = net.sources[k]
        if s.ohm > net.least:
            source_a[k] = (s.volts - (volts[s.plus] - volts[s.minus])) / s.ohm
    source_a[net.ideal] = ideal_a
    branch_a = np.zeros(len(net.resistances))
    for k in net.live:
        r = net.resistances[k]
        branch_a[k] = (volts[r.a] - volts[r.b]) / r.ohm
    return branch_a, source_a


def _through_metal(net: Islands, branch_a: Vector, source_a: Vector) -> None:
    """Currents of branches that count as 0 ohm: as if each were worth the same."""
    metal = [k for k, r in enumerate(net.resistances) if r.ohm <= net.least]
    loose = [k for k in metal if net.resistances[k].a != net.resistances[k].b]
    if not loose:
        return
    over, _ = left_over(net, branch_a, source_a)
    alike = [Resistance(net.resistances[k].a, net.resistances[k].b, 1.0) for k in loose]
    drains = [
        Drain(root, n, float(over[n]))
        for n, root in enumerate(net.metal)
        if n != root and over[n] != 0.0
    ]
    inner = solution_of(Islands(net.nodes, alike, (), drains, 0.0))
    if inner is not None:
        branch_a[loose] = inner.branch_a


# -- any network -----------------------------------------------------------------------------

#: When values lie too far apart, resistances below this share of the greatest count as 0.
SMALL_SHARE = 1e-13
#: Where that is not enough, so little does: beside it no contact or joiner is felt, so that
#: rails far better than any there are may count as 0.
NOTHING_OHM = 1e-10, 1e-9, 1e-8, 1e-7, 1e-6, 1e-5


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
    for least in (0.0, SMALL_SHARE * _greatest(resistances, sources), *NOTHING_OHM):
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
