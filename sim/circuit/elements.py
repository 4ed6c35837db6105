"""What a network of numbered nodes is made of, and what is known of it once solved."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

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
