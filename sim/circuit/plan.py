"""A network dealt out to leaves, and the tree of joints over them."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray


@dataclass(frozen=True, slots=True)
class Leaf:
    """Branches that are reduced together. ``index`` gives each node its row.

    The first ``kept`` rows are nodes that something outside touches too; up to
    ``core`` follow those that a contact touches, whose state may change.
    """

    branches: tuple[int, ...]
    index: dict[int, int]
    kept: int
    core: int


@dataclass(frozen=True, slots=True)
class Joint:
    """Parts put together: rows for the kept nodes of all, the first ``kept`` stay.

    ``rows`` gives by part the rows of its kept nodes (``moved`` the same as plain
    numbers), ``squares`` the places of its matrix in the joint's, row after row.
    """

    parts: tuple[int, ...]
    size: int
    kept: int
    rows: tuple[NDArray[np.intp], ...]
    moved: tuple[tuple[int, ...], ...]
    squares: tuple[NDArray[np.intp], ...]


@dataclass(frozen=True, slots=True)
class Plan:
    """Leaves are numbered first, then joints, children before their joint.

    ``leaf_of`` is by branch (-1: at the root), ``home`` by node the leaf that has
    a row for it; ``above`` by leaf the joints over it.
    """

    leaves: tuple[Leaf, ...]
    joints: tuple[Joint, ...]
    above: tuple[tuple[int, ...], ...]
    leaf_of: tuple[int, ...]
    home: tuple[int, ...]
    root_index: dict[int, int]
    root_size: int
    root_branches: tuple[int, ...]
