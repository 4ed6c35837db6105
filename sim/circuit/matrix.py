"""Small dense matrices of conductances, and which rows of them something joins."""

from __future__ import annotations

from collections.abc import Iterable, Mapping

import numpy as np
from numpy.typing import NDArray

from sim.circuit.elements import CircuitError
from sim.circuit.network import Branch

Matrix = NDArray[np.float64]
Pairs = list[tuple[int, int]]


def conduct(matrix: Matrix, a: int, b: int, siemens: float) -> None:
    """Put a conductance between two rows."""
    if a != b:
        matrix[a, a] += siemens
        matrix[b, b] += siemens
        matrix[a, b] -= siemens
        matrix[b, a] -= siemens


def put_branch(
    matrix: Matrix, index: Mapping[int, int], branch: Branch, siemens: float
) -> Pairs:
    """Put a branch between the rows of its nodes; the rows that it joins."""
    pair = index[branch.a], index[branch.b]
    conduct(matrix, *pair, siemens)
    return [pair] if siemens else []


def inverse_of(block: Matrix) -> Matrix:
    """The inverse of a small block."""
    try:
        return np.asarray(np.linalg.inv(block), dtype=np.float64)
    except np.linalg.LinAlgError as error:
        message = "resistances lie too far apart to be computed with"
        raise CircuitError(message) from error


def heads(size: int, pairs: Iterable[tuple[int, int]]) -> list[int]:
    """For each row the lowest row that ``pairs`` join it to."""
    head = list(range(size))
    for a, b in pairs:
        while head[a] != a:
            a = head[a]
        while head[b] != b:
            b = head[b]
        if a < b:
            head[b] = a
        else:
            head[a] = b
    for row, above in enumerate(head):
        head[row] = head[above]  # rows above are settled already
    return head
