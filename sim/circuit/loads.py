"""Trains on a reduced network: motors draw, pickups join, supplies give.

The network between the ports is linear, so what each load does to each voltage
adds up.  Unknown are only the currents of motors that count as a resistance, and
those that flow along a vehicle from one section to the next: a system of a few
equations, whatever the layout's size.

Currents drawn from an island of the network must add up to nothing; where a vehicle
joins two islands, the volts between them are one more unknown.  A motor between two
islands that nothing else joins gets no current: there is no way back.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import inf

import numpy as np

from sim.circuit.ports import Ports
from sim.power.wiring import Forest

#: Two sections that one vehicle joins have at least this between them (ohm).
LEAST_BRIDGE_OHM = 1e-3
#: Systems of up to this size are solved in plain Python, which is faster there.
SMALL = 7

Column = tuple[tuple[int, int], ...]  #: ports with the sign of the current drawn there


@dataclass(frozen=True, slots=True)
class Load:
    """What a unit is to the circuit.

    It draws ``amps`` whatever the volts, as long as more than ``above_v`` are left;
    else, and without ``amps``, it is a resistance of ``ohm``.
    """

    amps: float = 0.0
    ohm: float = inf
    above_v: float = 0.0


NO_LOAD = Load()


@dataclass(frozen=True, slots=True)
class Settled:
    """Volts of each unit's even side above its odd one (None: no way for a current),
    amps drawn at each port that is stood on, and what all that adds to the current of
    each supply out of its plus pole; :func:`unloaded_a` gives the rest of it."""

    volts: tuple[float | None, ...]
    port_a: dict[int, float]
    added_a: tuple[float, ...]


def unloaded_a(ports: Ports, supply_v: Sequence[float]) -> list[float]:
    """Current of each supply with no train on: what supplies drive through each other."""
    return [sum(a * v for a, v in zip(row, supply_v, strict=True)) for row in ports.short_a]


def settle(
    ports: Ports,
    sides: Sequence[Sequence[int]],
    loads: Sequence[Load],
    supply_v: Sequence[float],
    pickup_ohm: float = 0.0,
) -> Settled:
    """Solve for all units.

    ``sides`` gives the ports under each side, sides ``2u`` and ``2u + 1`` being unit
    ``u``'s, any further ones only joining their ports; ``supply_v`` the volts of each
    supply; ``pickup_ohm`` is that of the pickups of one side at one port.
    """
    plain = _plain(ports, sides, loads, supply_v) if pickup_ohm == 0.0 else None
    return plain or solve(ports, sides, loads, supply_v, pickup_ohm)


def solve(
    ports: Ports,
    sides: Sequence[Sequence[int]],
    loads: Sequence[Load],
    supply_v: Sequence[float],
    pickup_ohm: float = 0.0,
) -> Settled:
    """What :func:`settle` says, always by the equations."""
    return _Train(ports, sides, loads, supply_v, pickup_ohm).settled()


def _plain(
    ports: Ports,
    sides: Sequence[Sequence[int]],
    loads: Sequence[Load],
    supply_v: Sequence[float],
) -> Settled | None:
    """The usual case, by adding up: nobody joins anything, every motor turns.

    None when it is not that case: a side on two ports, a motor that counts as a
    resistance, or one that would get too little.
    """
    if len(sides) != 2 * len(loads) or any(len(side) != 1 for side in sides):
        return None
    pairs = [(sides[2 * u][0], sides[2 * u + 1][0]) for u in range(len(loads))]
    island, share, ohm = ports.island, ports.share, ports.ohm
    drive = []
    for (p, q), load in zip(pairs, loads, strict=True):
        if island[p] != island[q] or (load.amps <= 0.0 and load.ohm < inf):
            return None
        v = 0.0
        for up, down, volts in zip(share[p], share[q], supply_v, strict=True):
            v += (up - down) * volts
        drive.append(v)
    flows = [
        (p, q, load.amps if v >= 0.0 else -load.amps)
        for (p, q), load, v in zip(pairs, loads, drive, strict=True)
        if load.amps > 0.0
    ]
    told = []
    for (p, q), load, v in zip(pairs, loads, drive, strict=True):
        into, back = ohm[p], ohm[q]
        left = v
        for r, t, amps in flows:
            left -= (into[r] - into[t] - back[r] + back[t]) * amps
        if load.amps > 0.0 and (left if v >= 0.0 else -left) <= load.above_v:
            return None
        told.append(left)
    port_a = dict.fromkeys((n for pair in pairs for n in pair), 0.0)
    added = [0.0] * len(supply_v)
    for p, q, amps in flows:
        port_a[p] += amps
        port_a[q] -= amps
        for s, (up_share, down_share) in enumerate(zip(share[p], share[q], strict=True)):
            added[s] += (up_share - down_share) * amps
    return Settled(tuple(told), port_a, tuple(added))


class _Train:
    """The equations of all units at once; columns: units first, then joins."""

    def __init__(
        self,
        ports: Ports,
        sides: Sequence[Sequence[int]],
        loads: Sequence[Load],
        supply_v: Sequence[float],
        pickup_ohm: float,
    ) -> None:
        self.ports, self.sides, self.loads = ports, sides, loads
        self.supply_v, self.pickup_ohm = supply_v, pickup_ohm
        self.units = len(loads)
        self.columns: list[Column] = []
        #: by column: the sides whose pickups its two currents pass
        self.through: list[tuple[int, ...]] = []
        for unit in range(self.units):
            even, odd = sides[2 * unit], sides[2 * unit + 1]
            self.columns.append(((even[0], 1), (odd[0], -1)) if even and odd else ())
            self.through.append((2 * unit, 2 * unit + 1) if even and odd else ())
        for number, side in enumerate(sides):
            self.columns += [((side[0], 1), (other, -1)) for other in side[1:]]
            self.through += [(number, number)] * len(side[1:])
        self.bridges = range(self.units, len(self.columns))
        self.drive = [sum(s * self._open_v(p) for p, s in c) for c in self.columns]
        self.has_pickups = len(self.columns) > self.units or pickup_ohm > 0.0
        self.cost = self._costs()
        self.balance: list[list[int]] = []  #: by island left to find: by column
        self.apart: set[int] = set()  #: units without a way back
        self._islands()

    def _open_v(self, port: int) -> float:
        """Volts at a port with nothing drawn anywhere."""
        row = self.ports.share[port]
        return sum(share * v for share, v in zip(row, self.supply_v, strict=True))

    def _costs(self) -> list[list[float]]:
        """Volts across each column that an ampere in each column costs: symmetric."""
        count = len(self.columns)
        cost = [[0.0] * count for _ in range(count)]
        for a in range(count):
            for b in range(a + 1):
                cost[a][b] = cost[b][a] = self._between(a, b)
        return cost

    def _between(self, a: int, b: int) -> float:
        """Volts across column ``a`` that an ampere in column ``b`` costs."""
        here, there = self.columns[a], self.columns[b]
        if not here or not there:
            return 0.0
        (p, _), (q, _) = here
        (r, _), (t, _) = there
        into, back = self.ports.ohm[p], self.ports.ohm[q]
        total = float(into[r] - into[t] - back[r] + back[t])
        if self.has_pickups:
            for (own, s), side in zip(here, self.through[a], strict=True):
                for (port, sign), other in zip(there, self.through[b], strict=True):
                    # A port may be under two vehicles; each has pickups of its own.
                    if own == port and side == other:
                        total += s * sign * self._pickup(side)
        return total

    def _pickup(self, side: int) -> float:
        joins = len(self.sides[side]) > 1
        return max(self.pickup_ohm, LEAST_BRIDGE_OHM) if joins else self.pickup_ohm

    def _islands(self) -> None:
        """Balance equations, where columns lead from one island to another."""
        label = self.ports.island
        heads = sorted({label[p] for c in self.columns for p, _ in c})
        if len(heads) < 2:
            return
        groups = Forest(len(label))
        for k in self.bridges:
            (a, _), (b, _) = self.columns[k]
            groups.join(label[a], label[b])
        for unit in range(self.units):
            if self.columns[unit]:
                (a, _), (b, _) = self.columns[unit]
                if groups.find(label[a]) != groups.find(label[b]):
                    self.apart.add(unit)
        for head in heads:
            if groups.find(head) != head:  # the first of each group is its datum
                self.balance.append(
                    [sum(s for p, s in c if label[p] == head) for c in self.columns]
                )

    def settled(self) -> Settled:
        """Signs of the currents first, then the currents, then whoever gets too little."""
        drawing = [
            u for u, load in enumerate(self.loads)
            if load.amps > 0.0 and self.columns[u] and u not in self.apart
        ]  # fmt: skip
        resisting = [
            u for u, load in enumerate(self.loads)
            if load.amps <= 0.0 and load.ohm < inf and self.columns[u] and u not in self.apart
        ]  # fmt: skip
        current = [0.0] * len(self.columns)
        volts = self._solve(current, resisting)
        sign = {u: 1.0 if volts[u] >= 0.0 else -1.0 for u in drawing}
        while drawing:
            current = [0.0] * len(self.columns)
            for u in drawing:
                current[u] = sign[u] * self.loads[u].amps
            volts = self._solve(current, resisting)
            starved = [u for u in drawing if sign[u] * volts[u] <= self.loads[u].above_v]
            if not starved:
                break
            drawing = [u for u in drawing if u not in starved]
            resisting = sorted([*resisting, *(u for u in starved if self.loads[u].ohm < inf)])
        else:
            if any(load.amps > 0.0 for load in self.loads):
                current = [0.0] * len(self.columns)
                volts = self._solve(current, resisting)
        return self._told(current, volts)

    def _solve(self, current: list[float], resisting: Sequence[int]) -> list[float]:
        """Fill in the unknown currents; volts of each unit (0 where there are none)."""
        unknown = [*resisting, *self.bridges]
        offsets = len(self.balance)
        known = [k for k, amps in enumerate(current) if amps != 0.0]
        size = len(unknown) + offsets
        shift = [0.0] * offsets
        if size:
            matrix, right = self._system(unknown, known, current)
            found = _linear(matrix, right)
            for row, k in enumerate(unknown):
                current[k] = found[row]
            shift = found[len(unknown) :]
        volts = []
        flowing = [(k, amps) for k, amps in enumerate(current) if amps != 0.0]
        for unit in range(self.units):
            v = self.drive[unit]
            row_cost = self.cost[unit]
            for k, amps in flowing:
                v -= row_cost[k] * amps
            for island, u in zip(self.balance, shift, strict=True):
                v += island[unit] * u
            volts.append(v)
        return volts

    def _system(
        self, unknown: Sequence[int], known: Sequence[int], current: Sequence[float]
    ) -> tuple[list[list[float]], list[float]]:
        count, size = len(unknown), len(unknown) + len(self.balance)
        matrix = [[0.0] * size for _ in range(size)]
        right = [0.0] * size
        for row, k in enumerate(unknown):
            cost = self.cost[k]
            for column, other in enumerate(unknown):
                matrix[row][column] = cost[other]
            if k < self.units:
                matrix[row][row] += self.loads[k].ohm
            right[row] = self.drive[k] - sum(cost[o] * current[o] for o in known)
        for number, island in enumerate(self.balance, start=count):
            for row, k in enumerate(unknown):
                matrix[number][row] = float(island[k])
                matrix[row][number] = -float(island[k])
            right[number] = -sum(island[o] * current[o] for o in known)
        return matrix, right

    def _told(self, current: Sequence[float], volts: Sequence[float]) -> Settled:
        port_a: dict[int, float] = {p: 0.0 for side in self.sides for p in side}
        for column, amps in zip(self.columns, current, strict=True):
            for p, s in column:
                port_a[p] += s * amps
        added = [0.0] * len(self.supply_v)
        for p, amps in port_a.items():
            if amps != 0.0:
                for s, share in enumerate(self.ports.share[p]):
                    added[s] += share * amps
        told = tuple(
            v if self.columns[u] and u not in self.apart else None for u, v in enumerate(volts)
        )
        return Settled(told, port_a, tuple(added))


def _linear(matrix: list[list[float]], right: list[float]) -> list[float]:
    """Solve a small system with pivoting."""
    n = len(right)
    if n > SMALL:
        found: list[float] = np.linalg.solve(np.array(matrix), np.array(right)).tolist()
        return found
    rows = [[*row, b] for row, b in zip(matrix, right, strict=True)]
    for k in range(n):
        best = max(range(k, n), key=lambda r: abs(rows[r][k]))
        rows[k], rows[best] = rows[best], rows[k]
        pivot = rows[k]
        for r in range(k + 1, n):
            row = rows[r]
            if row[k] != 0.0:
                ratio = row[k] / pivot[k]
                for c in range(k, n + 1):
                    row[c] -= ratio * pivot[c]
    x = [0.0] * n
    for k in range(n - 1, -1, -1):
        row = rows[k]
        x[k] = (row[n] - sum(row[c] * x[c] for c in range(k + 1, n))) / row[k]
    return x


__all__ = ["NO_LOAD", "Load", "Settled", "settle"]
