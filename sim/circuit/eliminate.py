"""Eliminating the nodes that nothing outside a part of a network touches.

Where elimination meets an island that nothing ties to the rest, one of its nodes
is grounded through 1 S.  Nothing flows there as long as the currents drawn from an
island add up to nothing, which :mod:`sim.circuit.settle` sees to.  That 1 S shows:
two ports are in one island just where their mutual resistance is 1 ohm or more.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from sim.circuit.matrix import Matrix, Pairs, heads, inverse_of

#: What grounds a node of an island that is eliminated whole (siemens).
GROUND_S = 1.0


@dataclass(slots=True)
class Small:
    """What is known of a leaf or joint: ``matrix`` over its kept nodes; how what it
    eliminated hangs on those (``hang``), and its own resistance (``inner``).  ``pairs``
    tell which kept nodes it joins."""

    number: int
    matrix: Matrix
    hang: Matrix
    inner: Matrix
    pairs: Pairs


class Eliminator:
    """Gives everything that it makes small a number of its own."""

    def __init__(self) -> None:
        self._made = 0

    def keep(self, matrix: Matrix, kept: int, pairs: Pairs) -> Small:
        """Keep the first ``kept`` rows, eliminate the others; ``matrix`` is used up.

        ``pairs`` are rows that something joins.
        """
        self._made += 1
        size = len(matrix)
        head = heads(size, pairs)
        for row in range(kept, size):
            if head[row] == row:  # the lowest of its island: nothing kept is in it
                matrix[row, row] += GROUND_S
        left = [(row, head[row]) for row in range(kept) if head[row] != row]
        top = matrix[:kept, :kept]
        if kept == size:
            return Small(self._made, top, np.zeros((0, kept)), np.zeros((0, 0)), left)
        tie = matrix[:kept, kept:]
        inner = inverse_of(matrix[kept:, kept:])
        hang = -inner @ tie.T
        return Small(self._made, top + tie @ hang, hang, inner, left)
