"""What units are to the circuit, and what they get from it."""

from __future__ import annotations

from dataclasses import dataclass
from math import inf


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
