"""Which nodes of a network are one piece of metal, and which belong to one island."""

from __future__ import annotations

from collections.abc import Sequence
from math import inf

from sim.circuit.elements import CircuitError, Drain, Resistance, Source
from sim.power.wiring import Forest

#: Imbalance of current, over the amounts that meet, that counts as none.
ACCURACY = 1e-9


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
