"""Reduce a network to a few ports, and bring that up to date when little has changed.

The branches are dealt out to *leaves* (about a module each), which a binary tree
of *joints* puts together along the track.  Each leaf and joint eliminates the
nodes that nothing outside it touches (a Schur complement), so it is known by the
few nodes where it meets the rest.  A contact that moves changes one leaf and the
joints above it: the cost of a state grows with the logarithm of the layout, where
a factorisation of the whole grows with the layout.  What was worked out for one
state of a leaf, or for one pair of halves of a joint, is remembered.

Where elimination meets an island that nothing ties to the rest, one of its nodes
is grounded through 1 S.  Nothing flows there as long as the currents drawn from an
island add up to nothing, which :mod:`sim.circuit.loads` sees to.  That 1 S shows:
two ports are in one island just where their mutual resistance is 1 ohm or more.
"""

from __future__ import annotations

from collections import OrderedDict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import TypeVar

import numpy as np
from numpy.typing import NDArray

from sim.circuit.network import Network
from sim.circuit.plan import Joint, Leaf, Plan, make_plan

Matrix = NDArray[np.float64]
K = TypeVar("K")

#: Below this a resistance counts as this: far below any joint of metal (ohm).
LEAST_OHM = 1e-6
#: An inverse with a greater entry than this (ohm) may be of an island without a tie.
SUSPECT_OHM = 1e7
#: States remembered for each leaf and joint.
REMEMBERED = 512


@dataclass(frozen=True, slots=True)
class Ports:
    """The network seen from some of its nodes, for m ports and s supplies.

    ``ohm`` (m, m): volts at one port that an ampere drawn at another costs;
    ``share`` (m, s): volts at a port for a volt of each supply; ``short_a`` (s, s):
    amps of each supply for a volt of each, nothing drawn.  An ampere drawn at a
    port adds ``share[port, supply]`` to that supply's current.  Entries of ``ohm``
    of 0.5 and more tell ports of one island; see the module.
    """

    ohm: list[list[float]]
    share: list[list[float]]
    short_a: list[list[float]]


@dataclass(slots=True)
class _Small:
    """What is known of a leaf or joint: ``matrix`` over its kept nodes; how what it
    eliminated hangs on those (``hang``), and its own resistance (``inner``)."""

    number: int
    matrix: Matrix
    hang: Matrix
    inner: Matrix


class Reduction:
    """One network in one state of its contacts and supplies, seen from any ports."""

    def __init__(self, network: Network) -> None:
        self.network = network
        self.plan: Plan = make_plan(network)
        self._worth: list[dict[int, float]] = [{} for _ in self.plan.leaves]
        self._base = [_base_of(leaf, network) for leaf in self.plan.leaves]
        self._leaf_memo: list[OrderedDict[frozenset[tuple[int, float]], _Small]] = [
            OrderedDict() for _ in self.plan.leaves
        ]
        self._joint_memo: list[OrderedDict[tuple[int, int], _Small]] = [
            OrderedDict() for _ in self.plan.joints
        ]
        count = len(self.plan.leaves) + len(self.plan.joints)
        self._small: list[_Small | None] = [None] * count
        self._seen: list[tuple[Matrix, Matrix]] = [_NOTHING] * count
        self._at: list[tuple[int, ...]] = [()] * len(self.plan.leaves)
        self._made = 0
        self._stale = set(range(len(self.plan.leaves)))
        self._on = [True] * (len(network.poles) // 2)

    def set(self, changes: Mapping[int, float | None]) -> None:
        """Give branches other ohms; None opens one."""
        for branch, ohm in changes.items():
            leaf = self.plan.leaf_of[branch]
            if leaf < 0:
                continue
            worth = self._worth[leaf]
            siemens = 0.0 if ohm is None else 1.0 / max(ohm, LEAST_OHM)
            change = siemens - 1.0 / max(self.network.branches[branch].ohm, LEAST_OHM)
            if worth.get(branch, 0.0) != change:
                if change == 0.0:
                    del worth[branch]
                else:
                    worth[branch] = change
                self._stale.add(leaf)

    def switch(self, supply: int, on: bool) -> None:
        """A supply trips or comes back."""
        self._on[supply] = on

    def ports(self, nodes: Sequence[int]) -> Ports:
        """The network as seen from ``nodes``."""
        order = self._place(nodes)
        self._climb()
        top = self._small[-1]
        assert top is not None
        hang, inner = self._seen[-1]
        root, share_root, short_a = self._root(top.matrix)
        ohm = inner + hang @ root @ hang.T
        share = hang @ share_root
        back = np.argsort(order)
        return Ports(ohm[np.ix_(back, back)].tolist(), share[back].tolist(), short_a.tolist())

    def _place(self, nodes: Sequence[int]) -> list[int]:
        """Deal the ports out to leaves; positions in ``nodes`` in the order of the leaves."""
        wanted: dict[int, list[int]] = {}
        for position, node in enumerate(nodes):
            wanted.setdefault(self.plan.home[node], []).append(position)
        order: list[int] = []
        for leaf in range(len(self.plan.leaves)):
            positions = wanted.get(leaf, [])
            local = self.plan.leaves[leaf].index
            at = tuple(local[nodes[p]] for p in positions)
            order += positions
            if at != self._at[leaf]:
                self._at[leaf] = at
                self._stale.add(leaf)
        return order

    def _climb(self) -> None:
        """Renew every stale leaf and all joints above them."""
        leaves = len(self.plan.leaves)
        due: set[int] = set()
        for leaf in sorted(self._stale):
            self._renew_leaf(leaf)
            due.update(self.plan.above[leaf])
        self._stale.clear()
        for number in sorted(due):
            self._renew_joint(number, self.plan.joints[number - leaves])

    def _renew_leaf(self, number: int) -> None:
        leaf, memo = self.plan.leaves[number], self._leaf_memo[number]
        key = frozenset(self._worth[number].items())
        small = memo.get(key)
        if small is None:
            matrix = self._base[number].copy()
            for branch, change in sorted(self._worth[number].items()):
                b = self.network.branches[branch]
                _conduct(matrix, leaf.index[b.a], leaf.index[b.b], change)
            small = _remember(memo, key, self._eliminate(matrix, leaf.kept))
        self._small[number] = small
        at = self._at[number]
        if not at:
            self._seen[number] = np.zeros((0, leaf.kept)), np.zeros((0, 0))
            return
        kept = leaf.kept
        hang = np.zeros((len(at), kept))
        inside = np.zeros((len(at), small.inner.shape[0]))
        for row, place in enumerate(at):
            if place < kept:
                hang[row, place] = 1.0
            else:
                inside[row, place - kept] = 1.0
        self._seen[number] = hang + inside @ small.hang, inside @ small.inner @ inside.T

    def _renew_joint(self, number: int, joint: Joint) -> None:
        left, right = self._small[joint.left], self._small[joint.right]
        assert left is not None
        assert right is not None
        memo = self._joint_memo[number - len(self.plan.leaves)]
        key = left.number, right.number
        small = memo.get(key)
        if small is None:
            matrix = np.zeros((joint.size, joint.size))
            matrix[joint.left_square] += left.matrix
            matrix[joint.right_square] += right.matrix
            small = _remember(memo, key, self._eliminate(matrix, joint.kept))
        self._small[number] = small
        self._seen[number] = _joined(self._seen, joint, small)

    def _eliminate(self, matrix: Matrix, kept: int) -> _Small:
        """Keep the first ``kept`` nodes, eliminate the others."""
        self._made += 1
        inner_block = matrix[kept:, kept:]
        tie = matrix[:kept, kept:]
        inner = _inverse(inner_block, tie)
        hang = -inner @ tie.T
        return _Small(self._made, matrix[:kept, :kept] + tie @ hang, hang, inner)

    def _root(self, top: Matrix) -> tuple[Matrix, Matrix, Matrix]:
        """Resistances of the poles and what else is at the root, and the supplies' part."""
        plan, network = self.plan, self.network
        matrix = np.zeros((plan.root_size, plan.root_size))
        matrix[: len(top), : len(top)] = top
        for branch in plan.root_branches:
            b = network.branches[branch]
            siemens = 1.0 / max(b.ohm, LEAST_OHM)
            _conduct(matrix, plan.root_index[b.a], plan.root_index[b.b], siemens)
        supplies = network.layout.supplies
        feed = np.zeros((plan.root_size, len(supplies)))
        inside = np.zeros(len(supplies))
        for number, supply in enumerate(supplies):
            if not self._on[number]:
                continue
            siemens = 1.0 / max(supply.internal_ohm, LEAST_OHM)
            plus, minus = (plan.root_index[p] for p in network.poles[2 * number :][:2])
            _conduct(matrix, plus, minus, siemens)
            if plus != minus:
                feed[plus, number], feed[minus, number] = siemens, -siemens
            inside[number] = siemens
        root = _grounded(matrix, np.zeros((0, plan.root_size)))
        share = root @ feed
        return root, share, np.diag(inside) - feed.T @ share


def _remember(memo: OrderedDict[K, _Small], key: K, small: _Small) -> _Small:
    memo[key] = small
    if len(memo) > REMEMBERED:
        memo.popitem(last=False)
    return small


_NOTHING: tuple[Matrix, Matrix] = (np.zeros((0, 0)), np.zeros((0, 0)))


def _joined(
    seen: list[tuple[Matrix, Matrix]], joint: Joint, small: _Small
) -> tuple[Matrix, Matrix]:
    """Ports of both halves of a joint, seen from what the joint keeps."""
    (hang_l, inner_l), (hang_r, inner_r) = seen[joint.left], seen[joint.right]
    m, n = len(hang_l), len(hang_r)
    if m + n == 0:
        return np.zeros((0, joint.kept)), inner_l
    hang = np.zeros((m + n, joint.size))
    hang[:m, joint.left_at] = hang_l
    hang[m:, joint.right_at] = hang_r
    inner = np.zeros((m + n, m + n))
    inner[:m, :m] = inner_l
    inner[m:, m:] = inner_r
    gone = hang[:, joint.kept :]
    if gone.shape[1]:
        inner += gone @ small.inner @ gone.T
        return hang[:, : joint.kept] + gone @ small.hang, inner
    return hang, inner


def _base_of(leaf: Leaf, network: Network) -> Matrix:
    """The leaf with every branch at its own ohms."""
    matrix = np.zeros((len(leaf.index), len(leaf.index)))
    for branch in leaf.branches:
        b = network.branches[branch]
        _conduct(matrix, leaf.index[b.a], leaf.index[b.b], 1.0 / max(b.ohm, LEAST_OHM))
    return matrix


def _conduct(matrix: Matrix, a: int, b: int, siemens: float) -> None:
    if a != b:
        matrix[a, a] += siemens
        matrix[b, b] += siemens
        matrix[a, b] -= siemens
        matrix[b, a] -= siemens


def _inverse(block: Matrix, tie: Matrix) -> Matrix:
    """The inverse of ``block``; islands that ``tie`` does not tie to anything are grounded."""
    if not len(block):
        return block
    try:
        inverse = np.asarray(np.linalg.inv(block), dtype=np.float64)
        if np.abs(inverse).max() < SUSPECT_OHM:
            return inverse
    except np.linalg.LinAlgError:
        pass
    return _grounded(block, tie)


def _grounded(block: Matrix, tie: Matrix) -> Matrix:
    grounded = block.copy()
    for members in _islands(block):
        if not tie[:, members].any():
            grounded[members[0], members[0]] += 1.0
    return np.asarray(np.linalg.inv(grounded), dtype=np.float64)


def _islands(block: Matrix) -> list[list[int]]:
    """Nodes that a matrix of conductances joins; what nothing joins is exactly 0 in it."""
    left = dict.fromkeys(range(len(block)))
    islands: list[list[int]] = []
    while left:
        start = next(iter(left))
        del left[start]
        members, todo = [start], [start]
        while todo:
            for there in np.flatnonzero(block[todo.pop()]).tolist():
                if there in left:
                    del left[there]
                    members.append(there)
                    todo.append(there)
        islands.append(sorted(members))
    return islands


__all__ = ["Ports", "Reduction"]
