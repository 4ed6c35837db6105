"""The equations of all units at once, where adding up does not do."""

from __future__ import annotations

from collections.abc import Sequence
from math import inf

from sim.circuit.flows import Flows
from sim.circuit.linear import solve_linear
from sim.circuit.loads import Load, Settled
from sim.circuit.ports import Ports


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
