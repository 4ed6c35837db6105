"""Where current may flow through trains, and what it costs the volts of each.

Currents drawn from an island of the network must add up to nothing.
"""

from __future__ import annotations

from collections.abc import Sequence

from sim.circuit.ports import Ports
from sim.power.wiring import Forest

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
