"""The nodal equations of a network, solved and held against themselves.

Unknown are the volts of each metal but the datum of its island, and the currents of
supplies without internal resistance.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from sim.circuit.balance import is_balanced, left_over
from sim.circuit.elements import Drain, Resistance, Solution, Source, Vector
from sim.circuit.islands import Islands

if TYPE_CHECKING:
    from scipy.sparse import csc_array


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
