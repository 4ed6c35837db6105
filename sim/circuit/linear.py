"""Small systems of linear equations."""

from __future__ import annotations

import numpy as np

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
