"""Nets in many states at once, to which wires can be added one by one.

A table of labels has a row for each cluster and a column for each state.  Two
clusters are joined in a state when their labels are equal there; the label of a
net is its lowest pole (or district), or a number past them all for a net
without any.  Adding a wire is one comparison and one replacement over the whole
table, so a branch of the search costs microseconds and never starts again.
"""

from __future__ import annotations

from functools import lru_cache

import numpy as np
import numpy.typing as npt

from sim.power.poles import Pattern, Source, pole_state

Labels = npt.NDArray[np.int32]
Mask = npt.NDArray[np.bool_]
Codes = npt.NDArray[np.int8]

LIVE, FLOATING, NO_RETURN, NEVER = 0, 1, 2, 3


def joined(labels: Labels, a: int, b: int, where: Mask | None = None) -> Labels:
    """A copy of ``labels`` with rows ``a`` and ``b`` joined in the columns ``where``."""
    made = labels.copy()
    join_in_place(made, a, b, where)
    return made


def join_in_place(labels: Labels, a: int, b: int, where: Mask | None = None) -> None:
    """Join rows ``a`` and ``b`` of ``labels`` in the columns ``where`` (all by default)."""
    apart = labels[a] != labels[b]
    if where is not None:
        apart &= where
    columns = np.flatnonzero(apart)
    if not len(columns):
        return
    part = labels[:, columns]
    low = np.minimum(part[a], part[b])
    high = np.maximum(part[a], part[b])
    labels[:, columns] = np.where(part == high, low, part)


def worth(
    pole_labels: Labels, left: Labels, right: Labels, sources: tuple[Source, ...]
) -> tuple[Codes, Mask]:
    """What pairs of nets are worth, and in which columns a supply is shorted.

    ``pole_labels`` is (poles, columns), ``left`` and ``right`` (pairs, columns);
    the codes have their shape.  A pair that one net holds both of is beyond cure.
    """
    poles = pole_labels.shape[0]
    lefts, rights = np.minimum(left, poles), np.minimum(right, poles)
    patterns, inverse = _patterns(pole_labels)
    tables = [_table(pattern, sources) for pattern in patterns]
    if len(tables) == 1:
        table, shorted = tables[0]
        codes, short = table[lefts, rights], np.full(pole_labels.shape[1], shorted)
    else:
        stack = np.stack([table for table, _ in tables])
        codes = stack[inverse[None, :], lefts, rights]
        short = np.array([shorted for _, shorted in tables])[inverse]
    return np.where(left == right, np.int8(NEVER), codes), short


def shorting(pole_labels: Labels, left: Labels, right: Labels,
             sources: tuple[Source, ...]) -> Mask:  # fmt: skip
    """Where joining a pair of nets would short a supply; shape (pairs, columns)."""
    poles = pole_labels.shape[0]
    patterns, inverse = _patterns(pole_labels)
    stack = np.stack([_merged(pattern, sources) for pattern in patterns])
    return stack[inverse[None, :], np.minimum(left, poles), np.minimum(right, poles)]


def _patterns(pole_labels: Labels) -> tuple[list[Pattern], npt.NDArray[np.int64]]:
    """The patterns of joined poles that occur, and which one each column has."""
    columns = pole_labels.shape[1]
    if columns == 0 or bool((pole_labels == pole_labels[:, :1]).all()):
        first = pole_labels[:, 0] if columns else range(pole_labels.shape[0])
        return [tuple(int(p) for p in first)], np.zeros(columns, dtype=np.int64)
    rows, inverse = np.unique(pole_labels.T, axis=0, return_inverse=True)
    return [tuple(int(p) for p in row) for row in rows], inverse.reshape(-1)


@lru_cache(maxsize=4096)
def _merged(pattern: Pattern, sources: tuple[Source, ...]) -> Mask:
    """Whether joining two nets shorts; the last row and column are nets without a pole."""
    poles = len(pattern)
    table = np.zeros((poles + 1, poles + 1), dtype=np.bool_)
    for a in range(poles):
        for b in range(poles):
            low, high = min(pattern[a], pattern[b]), max(pattern[a], pattern[b])
            merged = tuple(low if p == high else p for p in pattern)
            table[a, b] = bool(pole_state(merged, sources).shorts)
    return table


@lru_cache(maxsize=4096)
def _table(pattern: Pattern, sources: tuple[Source, ...]) -> tuple[Codes, bool]:
    """Code of each pair of net labels (the last stands for nets without a pole)."""
    state = pole_state(pattern, sources)
    poles = len(pattern)
    code = {None: LIVE, "floating": FLOATING, "no return": NO_RETURN}
    table = np.full((poles + 1, poles + 1), NEVER, dtype=np.int8)
    for left in range(poles + 1):
        for right in range(poles + 1):
            kind = state.kind(left if left < poles else None, right if right < poles else None)
            table[left, right] = code.get(kind, NEVER)
    return table, bool(state.shorts)
