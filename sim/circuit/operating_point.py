"""Trains on a reduced network: motors draw, pickups join, supplies give.

What units are to the circuit, and what they get from it.

Which units touch each other: by pickups that join sections, or by one island.

Where current may flow through trains, and what it costs the volts of each.

Currents drawn from an island of the network must add up to nothing.

The equations of all units at once, where adding up does not do.

Trains on a reduced network: motors draw, pickups join, supplies give.

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

from sim.circuit.reduction import Ports
from sim.power.wiring import Forest


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
    each supply out of its plus pole, beside what it gives with nothing drawn."""

    volts: tuple[float | None, ...]
    port_a: dict[int, float]
    added_a: tuple[float, ...]


@dataclass(frozen=True, slots=True)
class Group:
    """Units that touch each other; their sides and further ones that only join; the
    supplies that feed them."""

    units: tuple[int, ...]
    sides: tuple[int, ...]
    fed: tuple[int, ...]


def grouped(ports: Ports, sides: Sequence[tuple[int, ...]], units: int) -> list[Group]:
    """All groups; ``sides`` gives the islands under each side."""
    return [_group(ports, *found) for found in _touching(len(ports.island), sides, units)]


def _group(ports: Ports, units: list[int], joins: list[int], heads: list[int]) -> Group:
    sides = [side for u in units for side in (2 * u, 2 * u + 1)] + joins
    fed = sorted({s for head in {*heads} for s in ports.feeds[head]})
    return Group(tuple(units), tuple(sides), tuple(fed))


def _touching(
    islands: int, sides: Sequence[tuple[int, ...]], units: int
) -> list[tuple[list[int], list[int], list[int]]]:
    """Units, sides that only join, and islands that go together.

    ``sides`` gives the islands under each side.  A unit whose two sides are on
    islands that nothing joins has no way back: it is left out, but for pickups of
    one side that join two places.
    """
    joined = Forest(islands)
    for side in sides:
        for other in side[1:]:
            joined.join(side[0], other)
    group_of = [joined.find(side[0]) if side else -1 for side in sides]
    groups: dict[int, tuple[list[int], list[int], list[int]]] = {}

    def group(number: int) -> tuple[list[int], list[int], list[int]]:
        found = groups.setdefault(group_of[number], ([], [], []))
        found[2].extend(sides[number])
        return found

    for unit in range(units):
        even, odd = 2 * unit, 2 * unit + 1
        if group_of[even] == group_of[odd] >= 0:
            group(even)[0].append(unit)
            group(odd)
        else:
            for number in (even, odd):
                if len(sides[number]) > 1:
                    group(number)[1].append(number)
    for number in range(2 * units, len(sides)):
        group(number)[1].append(number)
    return list(groups.values())


#: Two sections that one vehicle joins have at least this between them (ohm).
LEAST_BRIDGE_OHM = 1e-3

Ends = tuple[tuple[int, int], ...]  #: ports with the sign of the current drawn there


class Flows:
    """The currents that may flow: one through each unit, then one along each join.

    ``ends`` gives by flow the ports that it joins, none where a unit stands on less
    than two; ``drive`` the volts across them with nothing drawn, ``cost`` what an
    ampere of each flow takes from those.  ``bridges`` are the flows along joins.
    """

    def __init__(
        self,
        ports: Ports,
        sides: Sequence[Sequence[int]],
        units: int,
        supply_v: Sequence[float],
        pickup_ohm: float,
    ) -> None:
        self.ports, self.sides, self.units = ports, sides, units
        self.supply_v, self.pickup_ohm = supply_v, pickup_ohm
        self.ends: list[Ends] = []
        #: by flow: the sides whose pickups it passes at either end
        self.through: list[tuple[int, ...]] = []
        for unit in range(self.units):
            even, odd = sides[2 * unit], sides[2 * unit + 1]
            self.ends.append(((even[0], 1), (odd[0], -1)) if even and odd else ())
            self.through.append((2 * unit, 2 * unit + 1) if even and odd else ())
        for number, side in enumerate(sides):
            self.ends += [((side[0], 1), (other, -1)) for other in side[1:]]
            self.through += [(number, number)] * len(side[1:])
        self.bridges = range(self.units, len(self.ends))
        self.drive = [sum(s * self._open_v(p) for p, s in c) for c in self.ends]
        self.has_pickups = len(self.ends) > self.units or pickup_ohm > 0.0
        self.cost = self._costs()
        self.balance: list[list[int]] = []  #: by island left to find: by flow
        self.apart: set[int] = set()  #: units without a way back
        self._islands()

    def has_way(self, unit: int) -> bool:
        """Whether a current can go through a unit and come back."""
        return bool(self.ends[unit]) and unit not in self.apart

    def _open_v(self, port: int) -> float:
        """Volts at a port with nothing drawn anywhere."""
        row = self.ports.share[port]
        return sum(share * v for share, v in zip(row, self.supply_v, strict=True))

    def _costs(self) -> list[list[float]]:
        """Volts across each flow that an ampere of each flow costs: symmetric."""
        count = len(self.ends)
        cost = [[0.0] * count for _ in range(count)]
        for a in range(count):
            for b in range(a + 1):
                cost[a][b] = cost[b][a] = self._between(a, b)
        return cost

    def _between(self, a: int, b: int) -> float:
        """Volts across flow ``a`` that an ampere of flow ``b`` costs."""
        here, there = self.ends[a], self.ends[b]
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
        """Balance equations, where flows lead from one island to another."""
        label = self.ports.island
        heads = sorted({label[p] for c in self.ends for p, _ in c})
        if len(heads) < 2:
            return
        groups = Forest(len(label))
        for k in self.bridges:
            (a, _), (b, _) = self.ends[k]
            groups.join(label[a], label[b])
        for unit in range(self.units):
            if self.ends[unit]:
                (a, _), (b, _) = self.ends[unit]
                if groups.find(label[a]) != groups.find(label[b]):
                    self.apart.add(unit)
        for head in heads:
            if groups.find(head) != head:  # the first of each group is its datum
                self.balance.append(
                    [sum(s for p, s in c if label[p] == head) for c in self.ends]
                )


#: Systems of up to this size are solved in plain Python, which is faster there.
SMALL = 7


def solve_linear(matrix: list[list[float]], right: list[float]) -> list[float]:
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


class Coupled:
    """Unknown are the currents of motors that count as a resistance, and those of joins."""

    def __init__(
        self,
        ports: Ports,
        sides: Sequence[Sequence[int]],
        loads: Sequence[Load],
        supply_v: Sequence[float],
        pickup_ohm: float,
    ) -> None:
        self._loads = loads
        self._flows = Flows(ports, sides, len(loads), supply_v, pickup_ohm)

    def settled(self) -> Settled:
        """Signs of the currents first, then the currents, then whoever gets too little."""
        able = [u for u in range(self._flows.units) if self._flows.has_way(u)]
        drawing = [u for u in able if self._loads[u].amps > 0.0]
        resisting = [u for u in able if self._loads[u].amps <= 0.0 and self._loads[u].ohm < inf]
        current = [0.0] * len(self._flows.ends)
        volts = self._solve(current, resisting)
        sign = {u: 1.0 if volts[u] >= 0.0 else -1.0 for u in drawing}
        while drawing:
            current = [0.0] * len(self._flows.ends)
            for u in drawing:
                current[u] = sign[u] * self._loads[u].amps
            volts = self._solve(current, resisting)
            starved = [u for u in drawing if sign[u] * volts[u] <= self._loads[u].above_v]
            if not starved:
                break
            drawing = [u for u in drawing if u not in starved]
            resisting = sorted([*resisting, *(u for u in starved if self._loads[u].ohm < inf)])
        else:
            if any(load.amps > 0.0 for load in self._loads):
                current = [0.0] * len(self._flows.ends)
                volts = self._solve(current, resisting)
        return self._told(current, volts)

    def _solve(self, current: list[float], resisting: Sequence[int]) -> list[float]:
        """Fill in the unknown currents; volts of each unit (0 where there are none)."""
        flows = self._flows
        unknown = [*resisting, *flows.bridges]
        offsets = len(flows.balance)
        known = [k for k, amps in enumerate(current) if amps != 0.0]
        size = len(unknown) + offsets
        shift = [0.0] * offsets
        if size:
            matrix, right = self._system(unknown, known, current)
            found = solve_linear(matrix, right)
            for row, k in enumerate(unknown):
                current[k] = found[row]
            shift = found[len(unknown) :]
        volts = []
        flowing = [(k, amps) for k, amps in enumerate(current) if amps != 0.0]
        for unit in range(flows.units):
            v = flows.drive[unit]
            row_cost = flows.cost[unit]
            for k, amps in flowing:
                v -= row_cost[k] * amps
            for island, u in zip(flows.balance, shift, strict=True):
                v += island[unit] * u
            volts.append(v)
        return volts

    def _system(
        self, unknown: Sequence[int], known: Sequence[int], current: Sequence[float]
    ) -> tuple[list[list[float]], list[float]]:
        flows = self._flows
        count, size = len(unknown), len(unknown) + len(flows.balance)
        matrix = [[0.0] * size for _ in range(size)]
        right = [0.0] * size
        for row, k in enumerate(unknown):
            cost = flows.cost[k]
            for column, other in enumerate(unknown):
                matrix[row][column] = cost[other]
            if k < flows.units:
                matrix[row][row] += self._loads[k].ohm
            right[row] = flows.drive[k] - sum(cost[o] * current[o] for o in known)
        for number, island in enumerate(flows.balance, start=count):
            for row, k in enumerate(unknown):
                matrix[number][row] = float(island[k])
                matrix[row][number] = -float(island[k])
            right[number] = -sum(island[o] * current[o] for o in known)
        return matrix, right

    def _told(self, current: Sequence[float], volts: Sequence[float]) -> Settled:
        flows = self._flows
        port_a: dict[int, float] = {p: 0.0 for side in flows.sides for p in side}
        for ends, amps in zip(flows.ends, current, strict=True):
            for p, s in ends:
                port_a[p] += s * amps
        added = [0.0] * len(flows.supply_v)
        for p, amps in port_a.items():
            if amps != 0.0:
                for s, share in enumerate(flows.ports.share[p]):
                    added[s] += share * amps
        told = tuple(v if flows.has_way(u) else None for u, v in enumerate(volts))
        return Settled(told, port_a, tuple(added))


Pair = tuple[int, int]  #: the ports under the even and the odd side of a unit


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
    plain = _added_up(ports, sides, loads, supply_v) if pickup_ohm == 0.0 else None
    return plain or settle_by_equations(ports, sides, loads, supply_v, pickup_ohm)


def settle_by_equations(
    ports: Ports,
    sides: Sequence[Sequence[int]],
    loads: Sequence[Load],
    supply_v: Sequence[float],
    pickup_ohm: float = 0.0,
) -> Settled:
    """What :func:`settle` says, always by the equations."""
    return Coupled(ports, sides, loads, supply_v, pickup_ohm).settled()


def _added_up(
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
    island = ports.island
    for (p, q), load in zip(pairs, loads, strict=True):
        if island[p] != island[q] or (load.amps <= 0.0 and load.ohm < inf):
            return None
    drive = [_open_v(ports, pair, supply_v) for pair in pairs]
    flows = [
        (p, q, load.amps if v >= 0.0 else -load.amps)
        for (p, q), load, v in zip(pairs, loads, drive, strict=True)
        if load.amps > 0.0
    ]
    told = _left(ports, pairs, loads, drive, flows)
    return None if told is None else _drawn(ports, pairs, flows, told, len(supply_v))


def _open_v(ports: Ports, pair: Pair, supply_v: Sequence[float]) -> float:
    """Volts between two ports with nothing drawn anywhere."""
    one, other = ports.share[pair[0]], ports.share[pair[1]]
    v = 0.0
    for up, down, volts in zip(one, other, supply_v, strict=True):
        v += (up - down) * volts
    return v


def _left(
    ports: Ports,
    pairs: Sequence[Pair],
    loads: Sequence[Load],
    drive: Sequence[float],
    flows: Sequence[tuple[int, int, float]],
) -> list[float] | None:
    """Volts left to each unit while all flows are drawn; None where one gets too little."""
    ohm = ports.ohm
    told = []
    for (p, q), load, v in zip(pairs, loads, drive, strict=True):
        into, back = ohm[p], ohm[q]
        left = v
        for r, t, amps in flows:
            left -= (into[r] - into[t] - back[r] + back[t]) * amps
        if load.amps > 0.0 and (left if v >= 0.0 else -left) <= load.above_v:
            return None
        told.append(left)
    return told


def _drawn(
    ports: Ports,
    pairs: Sequence[Pair],
    flows: Sequence[tuple[int, int, float]],
    told: Sequence[float],
    supplies: int,
) -> Settled:
    port_a = dict.fromkeys((n for pair in pairs for n in pair), 0.0)
    added = [0.0] * supplies
    share = ports.share
    for p, q, amps in flows:
        port_a[p] += amps
        port_a[q] -= amps
        for s, (up, down) in enumerate(zip(share[p], share[q], strict=True)):
            added[s] += (up - down) * amps
    return Settled(tuple(told), port_a, tuple(added))
