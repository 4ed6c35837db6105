"""The operating point of all trains: what each motor gets, and what each supply gives.

Between the ports, the nodes under the pickups, the network is linear
(:mod:`sim.circuit.reduction`), so what each load does to each voltage adds up.  Trains
bring in what is not linear, or not known:

* A motor draws a current whatever the volts, as long as it gets more than its least;
  with less it does not turn, and is the resistance of its winding.  So currents are put
  in first, and whoever gets too little of those becomes a resistance, until nobody does.
* A vehicle whose pickups on one side stand on two sections joins them.  What flows along
  it is unknown, as is what flows through a motor that is a resistance: a system of a few
  equations, whatever the layout's size.
* What is drawn from an island of the network has to come back to it.  Where vehicles
  join islands, the volts between them are one more unknown, and that balance is one more
  equation.  A motor between islands that nothing joins gets nothing: there is no return.

Mostly nobody joins anything and every motor turns.  Then there is no equation left, and
adding up does.
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

Sides = Sequence[Sequence[int]]  #: by side of a vehicle: the ports that its pickups join


@dataclass(frozen=True, slots=True)
class OperatingPoint:
    """Volts of each unit's even side above its odd one (None: no return for a current),
    amps drawn at each port that is stood on, and what all that adds to the current of
    each supply out of its plus pole, beside what it gives with nothing drawn."""

    volts: tuple[float | None, ...]
    port_a: dict[int, float]
    added_a: tuple[float, ...]


def unloaded_a(ports: Ports, supply_v: Sequence[float]) -> list[float]:
    """Current of each supply with no train on: what supplies drive through each other."""
    return [sum(a * v for a, v in zip(row, supply_v, strict=True)) for row in ports.short_a]


def operating_point(
    ports: Ports,
    sides: Sides,
    loads: Sequence[Load],
    supply_v: Sequence[float],
    pickup_ohm: float = 0.0,
) -> OperatingPoint:
    """Solve for all units.

    Sides ``2u`` and ``2u + 1`` are unit ``u``'s, any further ones only join their ports;
    ``supply_v`` gives the volts of each supply; ``pickup_ohm`` is that of the pickups of
    one side at one port.
    """
    found = _added_up(ports, sides, loads, supply_v) if pickup_ohm == 0.0 else None
    return found or by_equations(ports, sides, loads, supply_v, pickup_ohm)


# -- nobody joins anything, every motor turns: by adding up ----------------------------------


def _added_up(
    ports: Ports, sides: Sides, loads: Sequence[Load], supply_v: Sequence[float]
) -> OperatingPoint | None:
    """The operating point; None where a side is on two ports, a motor counts as a
    resistance, or one would get too little."""
    if len(sides) != 2 * len(loads) or any(len(side) != 1 for side in sides):
        return None
    pairs = [(sides[2 * u][0], sides[2 * u + 1][0]) for u in range(len(loads))]
    for (p, q), load in zip(pairs, loads, strict=True):
        if ports.island[p] != ports.island[q] or (load.amps <= 0.0 and load.ohm < inf):
            return None
    open_v = [ports.open_v(p, q, supply_v) for p, q in pairs]
    flows = [
        (p, q, load.amps if v >= 0.0 else -load.amps)
        for (p, q), load, v in zip(pairs, loads, open_v, strict=True)
        if load.amps > 0.0
    ]
    volts = []
    for (p, q), load, v in zip(pairs, loads, open_v, strict=True):
        into, back = ports.ohm[p], ports.ohm[q]
        left = v
        for r, t, amps in flows:
            left -= (into[r] - into[t] - back[r] + back[t]) * amps
        if load.amps > 0.0 and (left if v >= 0.0 else -left) <= load.above_v:
            return None
        volts.append(left)
    return _drawn(ports, pairs, flows, volts, len(supply_v))


def _drawn(
    ports: Ports,
    pairs: Sequence[tuple[int, int]],
    flows: Sequence[tuple[int, int, float]],
    volts: Sequence[float],
    supplies: int,
) -> OperatingPoint:
    port_a = dict.fromkeys((n for pair in pairs for n in pair), 0.0)
    added = [0.0] * supplies
    for p, q, amps in flows:
        port_a[p] += amps
        port_a[q] -= amps
        for s, (up, down) in enumerate(zip(ports.share[p], ports.share[q], strict=True)):
            added[s] += (up - down) * amps
    return OperatingPoint(tuple(volts), port_a, tuple(added))


# -- the general case: by equations ----------------------------------------------------------

#: Two sections that one vehicle joins have at least this between them (ohm).
LEAST_BRIDGE_OHM = 1e-3

Ends = tuple[tuple[int, int], ...]  #: ports with the sign of the current drawn there


def by_equations(
    ports: Ports,
    sides: Sides,
    loads: Sequence[Load],
    supply_v: Sequence[float],
    pickup_ohm: float = 0.0,
) -> OperatingPoint:
    """What :func:`operating_point` says, always by the equations."""
    return LoadEquations(ports, sides, loads, supply_v, pickup_ohm).solved()


class Flows:
    """The currents that may flow: one through each unit, then one along each bridge.

    ``ends`` gives by flow the ports that it joins, none where a unit stands on less than
    two; ``open_v`` the volts across them with nothing drawn, and ``ohm`` what an ampere
    of each flow takes from those of each.  ``bridges`` are the flows along vehicles.
    """

    def __init__(
        self,
        ports: Ports,
        sides: Sides,
        units: int,
        supply_v: Sequence[float],
        pickup_ohm: float,
    ) -> None:
        self.ports, self.sides, self.units = ports, sides, units
        self.supply_v, self.pickup_ohm = supply_v, pickup_ohm
        self.ends: list[Ends] = []
        #: by flow: the sides whose pickups it passes at either end
        self.through: list[tuple[int, ...]] = []
        for unit in range(units):
            even, odd = sides[2 * unit], sides[2 * unit + 1]
            self.ends.append(((even[0], 1), (odd[0], -1)) if even and odd else ())
            self.through.append((2 * unit, 2 * unit + 1) if even and odd else ())
        for number, side in enumerate(sides):
            self.ends += [((side[0], 1), (other, -1)) for other in side[1:]]
            self.through += [(number, number)] * len(side[1:])
        self.bridges = range(units, len(self.ends))
        self.open_v = [
            ports.open_v(c[0][0], c[1][0], supply_v) if c else 0.0 for c in self.ends
        ]
        self.has_pickups = len(self.ends) > units or pickup_ohm > 0.0
        self.ohm = self._ohms()
        #: balance by island, but for the datum of those that bridges join: sign by flow
        self.balance: list[list[int]] = []
        self.without_return: set[int] = set()  #: units
        self._balance_islands()

    def has_return(self, unit: int) -> bool:
        """Whether a current can go through a unit and come back."""
        return bool(self.ends[unit]) and unit not in self.without_return

    def _ohms(self) -> list[list[float]]:
        """Volts across each flow that an ampere of each flow costs: symmetric."""
        count = len(self.ends)
        ohm = [[0.0] * count for _ in range(count)]
        for a in range(count):
            for b in range(a + 1):
                ohm[a][b] = ohm[b][a] = self._between(a, b)
        return ohm

    def _between(self, a: int, b: int) -> float:
        """Volts across flow ``a`` that an ampere of flow ``b`` costs."""
        here, there = self.ends[a], self.ends[b]
        if not here or not there:
            return 0.0
        (p, _), (q, _) = here
        (r, _), (t, _) = there
        into, back = self.ports.ohm[p], self.ports.ohm[q]
        total = into[r] - into[t] - back[r] + back[t]
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

    def _balance_islands(self) -> None:
        """Balance equations, where flows lead from one island to another."""
        island = self.ports.island
        islands = sorted({island[p] for ends in self.ends for p, _ in ends})
        if len(islands) < 2:
            return
        bridged = Forest(len(island))
        for k in self.bridges:
            (a, _), (b, _) = self.ends[k]
            bridged.join(island[a], island[b])
        for unit in range(self.units):
            if self.ends[unit]:
                (a, _), (b, _) = self.ends[unit]
                if bridged.find(island[a]) != bridged.find(island[b]):
                    self.without_return.add(unit)
        for own in islands:
            if bridged.find(own) != own:  # the first of those that are bridged is the datum
                self.balance.append(
                    [sum(s for p, s in c if island[p] == own) for c in self.ends]
                )


class LoadEquations:
    """Unknown are the currents of motors that count as a resistance, and those of bridges."""

    def __init__(
        self,
        ports: Ports,
        sides: Sides,
        loads: Sequence[Load],
        supply_v: Sequence[float],
        pickup_ohm: float,
    ) -> None:
        self._loads = loads
        self._flows = Flows(ports, sides, len(loads), supply_v, pickup_ohm)

    def solved(self) -> OperatingPoint:
        """Signs of the currents first, then the currents, then whoever gets too little."""
        able = [u for u in range(self._flows.units) if self._flows.has_return(u)]
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
        return self._point(current, volts)

    def _solve(self, current: list[float], resisting: Sequence[int]) -> list[float]:
        """Fill in the unknown currents; volts of each unit (0 where there are none)."""
        flows = self._flows
        unknown = [*resisting, *flows.bridges]
        offset_v = [0.0] * len(flows.balance)
        known = [k for k, amps in enumerate(current) if amps != 0.0]
        if unknown or offset_v:
            found = solve_linear(*self._system(unknown, known, current))
            for row, k in enumerate(unknown):
                current[k] = found[row]
            offset_v = found[len(unknown) :]
        flowing = [(k, amps) for k, amps in enumerate(current) if amps != 0.0]
        volts = []
        for unit in range(flows.units):
            v = flows.open_v[unit]
            for k, amps in flowing:
                v -= flows.ohm[unit][k] * amps
            for island, offset in zip(flows.balance, offset_v, strict=True):
                v += island[unit] * offset
            volts.append(v)
        return volts

    def _system(
        self, unknown: Sequence[int], known: Sequence[int], current: Sequence[float]
    ) -> tuple[list[list[float]], list[float]]:
        """Ohm's law for each unknown flow, then the balance of each island."""
        flows = self._flows
        count, size = len(unknown), len(unknown) + len(flows.balance)
        matrix = [[0.0] * size for _ in range(size)]
        right = [0.0] * size
        for row, k in enumerate(unknown):
            ohm = flows.ohm[k]
            for column, other in enumerate(unknown):
                matrix[row][column] = ohm[other]
            if k < flows.units:
                matrix[row][row] += self._loads[k].ohm
            right[row] = flows.open_v[k] - sum(ohm[o] * current[o] for o in known)
        for number, island in enumerate(flows.balance, start=count):
            for row, k in enumerate(unknown):
                matrix[number][row] = float(island[k])
                matrix[row][number] = -float(island[k])
            right[number] = -sum(island[o] * current[o] for o in known)
        return matrix, right

    def _point(self, current: Sequence[float], volts: Sequence[float]) -> OperatingPoint:
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
        told = tuple(v if flows.has_return(u) else None for u, v in enumerate(volts))
        return OperatingPoint(told, port_a, tuple(added))


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


# -- which units touch each other ------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Group:
    """Units that touch each other; their sides and further ones that only join; the
    supplies that feed them."""

    units: tuple[int, ...]
    sides: tuple[int, ...]
    fed: tuple[int, ...]


def grouped(ports: Ports, sides: Sides, units: int) -> list[Group]:
    """All groups; ``sides`` gives the islands under each side.

    A unit whose two sides are on islands that nothing joins has no return: it is left
    out, but for pickups of one side that join two places.
    """
    joined = Forest(len(ports.island))
    for side in sides:
        for other in side[1:]:
            joined.join(side[0], other)
    group_of = [joined.find(side[0]) if side else -1 for side in sides]
    units_of: dict[int, list[int]] = {}
    joins_of: dict[int, list[int]] = {}
    islands_of: dict[int, set[int]] = {}

    def stands(number: int) -> int:
        """The group of a side, which is counted in."""
        group = group_of[number]
        islands_of.setdefault(group, set()).update(sides[number])
        return group

    for unit in range(units):
        even, odd = 2 * unit, 2 * unit + 1
        if group_of[even] == group_of[odd] >= 0:
            stands(odd)
            units_of.setdefault(stands(even), []).append(unit)
        else:
            for number in (even, odd):
                if len(sides[number]) > 1:
                    joins_of.setdefault(stands(number), []).append(number)
    for number in range(2 * units, len(sides)):
        joins_of.setdefault(stands(number), []).append(number)
    return [
        _group(ports, units_of.get(group, []), joins_of.get(group, []), islands)
        for group, islands in islands_of.items()
    ]


def _group(ports: Ports, units: list[int], joins: list[int], islands: set[int]) -> Group:
    sides = [side for u in units for side in (2 * u, 2 * u + 1)] + joins
    fed = sorted({s for island in islands for s in ports.feeds[island]})
    return Group(tuple(units), tuple(sides), tuple(fed))
