"""What supplies give when the wiring itself shorts them, with no train on the track."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass

from sim.circuit.reduce import Reduction
from sim.layout.model import Supply
from sim.power.poles import sources_of

#: A current of less (A) is none.
LEAST_A = 1e-3


@dataclass(frozen=True, slots=True)
class Standing:
    """The current of one supply into a short, and whether that trips it."""

    supply: str
    amps: float
    trips: bool


def standing(
    reduction: Reduction, supplies: Collection[Supply], own: Collection[str]
) -> tuple[Standing, ...]:
    """Those of the supplies named in ``own`` that give current in the setting put last."""
    volts = [s.volts for s in sources_of(tuple(supplies))]
    found = []
    for supply, row in zip(supplies, reduction.ports([]).short_a, strict=True):
        amps = round(abs(sum(g * v for g, v in zip(row, volts, strict=True))), 3)
        if supply.name in own and amps >= LEAST_A:
            found.append(Standing(supply.name, amps, amps > supply.trip_a))
    return tuple(found)
