"""Ports as seen from what a leaf or joint keeps: what they hang on, and what is between."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from sim.circuit.eliminate import Small
from sim.circuit.matrix import Matrix
from sim.circuit.plan import Joint, Leaf

#: For m ports and k kept nodes: how they hang on those (m, k), and their own ohms (m, m).
Seen = tuple[Matrix, Matrix]

NOTHING: Seen = np.zeros((0, 0)), np.zeros((0, 0))


def seen_from_leaf(leaf: Leaf, stem: Small, small: Small, at: tuple[int, ...]) -> Seen:
    """Ports of a leaf, given by row, seen from what it keeps."""
    kept, core = leaf.kept, leaf.core
    if not at:
        return np.zeros((0, kept)), NOTHING[1]
    hang = np.zeros((len(at), core))
    inner = np.zeros((len(at), len(at)))
    deep = [n for n, row in enumerate(at) if row >= core]
    rows = [at[n] - core for n in deep]
    hang[deep] = stem.hang[rows]
    inner[np.ix_(deep, deep)] = stem.inner[np.ix_(rows, rows)]
    for n, row in enumerate(at):
        if row < core:
            hang[n, row] = 1.0
    return _through(hang, inner, kept, small)


def seen_from_joint(seen: Sequence[Seen], joint: Joint, small: Small) -> Seen:
    """Ports of all parts of a joint, seen from what the joint keeps."""
    counts = [len(seen[part][0]) for part in joint.parts]
    total = sum(counts)
    if total == 0:
        return np.zeros((0, joint.kept)), NOTHING[1]
    hang = np.zeros((total, joint.size))
    inner = np.zeros((total, total))
    begin = 0
    for part, count, rows in zip(joint.parts, counts, joint.rows, strict=True):
        if count:
            end = begin + count
            hang[begin:end, rows], inner[begin:end, begin:end] = seen[part]
            begin = end
    return _through(hang, inner, joint.kept, small)


def _through(hang: Matrix, inner: Matrix, kept: int, small: Small) -> Seen:
    """Past the rows from ``kept`` on, which ``small`` has eliminated."""
    gone = hang[:, kept:]
    if gone.shape[1]:
        inner += gone @ small.inner @ gone.T
        return hang[:, :kept] + gone @ small.hang, inner
    return hang, inner
