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

from sim.circuit.matrix import Matrix, Pairs, conduct, heads, inverse_of
from sim.circuit.network import Network
from sim.circuit.plan import Joint, Leaf, Plan, make_plan

T = TypeVar("T")

#: Below this a resistance counts as this: far below any joint of metal (ohm).
LEAST_OHM = 1e-6
#: What grounds a node of an island that is eliminated whole (siemens).
GROUND_S = 1.0
#: Ports whose mutual resistance is more than this are of one island (ohm).
SAME_ISLAND_OHM = 0.5
#: States remembered for each leaf and joint.
REMEMBERED = 512


@dataclass(frozen=True, slots=True)
class Ports:
    """The network seen from some of its nodes, for m ports and s supplies.

    ``ohm`` (m, m): volts at one port that an ampere drawn at another costs;
    ``share`` (m, s): volts at a port for a volt of each supply; ``short_a`` (s, s):
    amps of each supply for a volt of each, nothing drawn.  An ampere drawn at a
    port adds ``share[port, supply]`` to that supply's current.  ``island`` gives by
    port the first port of its island, ``feeds`` by such a port the supplies of it.
    """

    ohm: list[list[float]]
    share: list[list[float]]
    short_a: list[list[float]]
    island: list[int]
    feeds: dict[int, tuple[int, ...]]


@dataclass(slots=True)
class _Small:
    """What is known of a leaf or joint: ``matrix`` over its kept nodes; how what it
    eliminated hangs on those (``hang``), and its own resistance (``inner``).  ``pairs``
    tell which kept nodes it joins."""

    number: int
    matrix: Matrix
    hang: Matrix
    inner: Matrix
    pairs: Pairs


@dataclass(slots=True)
class _Stem:
    """A leaf without its contacts, and with what cannot change eliminated once for all."""

    fixed: tuple[tuple[int, float], ...]  #: permanent branches that are not as built
    small: _Small


@dataclass(slots=True)
class _BareRoot:
    """The root's own branches and supplies; see :class:`Ports` for what becomes of them."""

    matrix: Matrix
    pairs: Pairs
    feed: Matrix
    inside: Matrix


class Reduction:
    """One network in one state of its contacts and supplies, seen from any ports."""

    def __init__(self, network: Network) -> None:
        self.network = network
        self.plan: Plan = make_plan(network)
        leaves, joints = self.plan.leaves, self.plan.joints
        self._made = 0
        #: by leaf: siemens of closed contacts, and of permanent branches not as built
        self._closed: list[dict[int, float]] = [{} for _ in leaves]
        self._fixed: list[dict[int, float]] = [{} for _ in leaves]
        self._stems = [self._stem(leaf, {}) for leaf in leaves]
        self._leaf_memo: list[OrderedDict[object, _Small]] = [OrderedDict() for _ in leaves]
        self._joint_memo: list[OrderedDict[object, _Small]] = [OrderedDict() for _ in joints]
        self._root_memo: OrderedDict[object, tuple[Matrix, Matrix, Matrix]] = OrderedDict()
        count = len(leaves) + len(joints)
        self._small: list[_Small | None] = [None] * count
        self._seen: list[tuple[Matrix, Matrix]] = [_NOTHING] * count
        self._at: dict[int, tuple[int, ...]] = {}
        self._asked: tuple[int, ...] = ()
        self._order: list[int] = []
        self._bare_roots: dict[tuple[bool, ...], _BareRoot] = {}
        self._stale = set(range(len(leaves)))
        self._on = [True] * (len(network.poles) // 2)
        self.set({b: network.branches[b].ohm for b in network.contacts})

    def set(self, changes: Mapping[int, float | None]) -> None:
        """Give branches other ohms; None opens one."""
        for branch, ohm in changes.items():
            leaf = self.plan.leaf_of[branch]
            if leaf < 0:
                continue
            siemens = 0.0 if ohm is None else 1.0 / max(ohm, LEAST_OHM)
            if branch in self.network.contacts:
                worth, usual = self._closed[leaf], 0.0
            else:
                worth, usual = self._fixed[leaf], _siemens(self.network, branch)
            if worth.get(branch, usual) != siemens:
                worth[branch] = siemens
                if siemens == usual:
                    del worth[branch]
                self._stale.add(leaf)

    def switch(self, supply: int, on: bool) -> None:
        """A supply trips or comes back."""
        self._on[supply] = on

    def ports(self, nodes: Sequence[int]) -> Ports:
        """The network as seen from ``nodes``."""
        asked = tuple(nodes)
        if asked != self._asked:
            self._asked, self._order = asked, self._place(asked)
        order = self._order
        self._climb()
        top = self._small[-1]
        assert top is not None
        hang, inner = self._seen[-1]
        key = top.number, *self._on
        root = self._root_memo.get(key)
        if root is None:
            root = _remember(self._root_memo, key, self._root(top))
        across, share_root, short_a = root
        ohm = inner + hang @ across @ hang.T
        share = hang @ share_root
        if order != list(range(len(order))):
            back = np.argsort(order)
            ohm, share = ohm[back][:, back], share[back]
        return _told(ohm, share, short_a)

    def _place(self, nodes: Sequence[int]) -> list[int]:
        """Deal the ports out to leaves; positions in ``nodes`` in the order of the leaves."""
        wanted: dict[int, list[int]] = {}
        home = self.plan.home
        for position, node in enumerate(nodes):
            wanted.setdefault(home[node], []).append(position)
        order: list[int] = []
        at: dict[int, tuple[int, ...]] = {}
        for leaf in sorted(wanted):
            local = self.plan.leaves[leaf].index
            at[leaf] = tuple(local[nodes[p]] for p in wanted[leaf])
            order += wanted[leaf]
            if at[leaf] != self._at.get(leaf):
                self._stale.add(leaf)
        self._stale.update(leaf for leaf in self._at if leaf not in at)
        self._at = at
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
        stem = self._stems[number]
        fixed = tuple(sorted(self._fixed[number].items()))
        if stem.fixed != fixed:
            stem = self._stems[number] = self._stem(leaf, self._fixed[number])
        key = stem.small.number, frozenset(self._closed[number].items())
        small = memo.get(key)
        if small is None:
            matrix, pairs = stem.small.matrix.copy(), list(stem.small.pairs)
            for branch, siemens in sorted(self._closed[number].items()):
                pairs += self._conduct(matrix, leaf.index, branch, siemens)
            small = self._eliminate(matrix, leaf.kept, pairs)
            _remember(memo, key, small)
        self._small[number] = small
        self._seen[number] = _inside(leaf, stem.small, small, self._at.get(number, ()))

    def _stem(self, leaf: Leaf, fixed: Mapping[int, float]) -> _Stem:
        network = self.network
        matrix = np.zeros((len(leaf.index), len(leaf.index)))
        pairs: Pairs = []
        for branch in leaf.branches:
            if branch not in network.contacts:
                siemens = fixed.get(branch, _siemens(network, branch))
                pairs += self._conduct(matrix, leaf.index, branch, siemens)
        small = self._eliminate(matrix, leaf.core, pairs)
        return _Stem(tuple(sorted(fixed.items())), small)

    def _conduct(
        self, matrix: Matrix, index: Mapping[int, int], branch: int, siemens: float
    ) -> Pairs:
        """Add a branch to a matrix; the rows that it joins."""
        b = self.network.branches[branch]
        pair = index[b.a], index[b.b]
        conduct(matrix, *pair, siemens)
        return [pair] if siemens else []

    def _renew_joint(self, number: int, joint: Joint) -> None:
        parts = [self._small[part] for part in joint.parts]
        memo = self._joint_memo[number - len(self.plan.leaves)]
        key = tuple(part.number for part in parts if part is not None)
        small = memo.get(key)
        if small is None:
            flat = np.zeros(joint.size * joint.size)
            pairs: Pairs = []
            for part, square, rows in zip(parts, joint.squares, joint.moved, strict=True):
                assert part is not None
                flat[square] += part.matrix.ravel()
                pairs += [(rows[a], rows[b]) for a, b in part.pairs]
            matrix = flat.reshape(joint.size, joint.size)
            small = self._eliminate(matrix, joint.kept, pairs)
            _remember(memo, key, small)
        self._small[number] = small
        self._seen[number] = _joined(self._seen, joint, small)

    def _eliminate(self, matrix: Matrix, kept: int, pairs: Pairs) -> _Small:
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
            return _Small(self._made, top, np.zeros((0, kept)), _NOTHING[1], left)
        tie = matrix[:kept, kept:]
        inner = inverse_of(matrix[kept:, kept:])
        hang = -inner @ tie.T
        return _Small(self._made, top + tie @ hang, hang, inner, left)

    def _root(self, top: _Small) -> tuple[Matrix, Matrix, Matrix]:
        """Resistances of the poles and what else is at the root, and the supplies' part."""
        kept, on = len(top.matrix), tuple(self._on)
        bare = self._bare_roots.get(on)
        if bare is None:
            bare = self._bare_roots[on] = self._bare_root()
        matrix = bare.matrix.copy()
        matrix[:kept, :kept] += top.matrix
        root = self._eliminate(matrix, 0, [*top.pairs, *bare.pairs]).inner
        share = root @ bare.feed
        return root, share, bare.inside - bare.feed.T @ share

    def _bare_root(self) -> _BareRoot:
        """What is at the root before the tree is put on it."""
        plan, network = self.plan, self.network
        size = plan.root_size
        matrix = np.zeros((size, size))
        pairs: Pairs = []
        for branch in plan.root_branches:
            siemens = _siemens(network, branch)
            pairs += self._conduct(matrix, plan.root_index, branch, siemens)
        supplies = network.layout.supplies
        feed = np.zeros((size, len(supplies)))
        inside = np.zeros(len(supplies))
        for number, supply in enumerate(supplies):
            if not self._on[number]:
                continue
            siemens = 1.0 / max(supply.internal_ohm, LEAST_OHM)
            plus, minus = (plan.root_index[p] for p in network.poles[2 * number :][:2])
            conduct(matrix, plus, minus, siemens)
            pairs.append((plus, minus))
            if plus != minus:
                feed[plus, number], feed[minus, number] = siemens, -siemens
            inside[number] = siemens
        return _BareRoot(matrix, pairs, feed, np.diag(inside))


def _told(ohm: Matrix, share: Matrix, short_a: Matrix) -> Ports:
    together = ohm > SAME_ISLAND_OHM
    island = together.argmax(axis=1).tolist() if len(ohm) else []
    shares = share.tolist()
    feeds = {
        head: tuple(s for s, part in enumerate(shares[head]) if part != 0.0)
        for head in dict.fromkeys(island)
    }
    return Ports(ohm.tolist(), shares, short_a.tolist(), island, feeds)


def _remember(memo: OrderedDict[object, T], key: object, small: T) -> T:
    memo[key] = small
    if len(memo) > REMEMBERED:
        memo.popitem(last=False)
    return small


_NOTHING: tuple[Matrix, Matrix] = (np.zeros((0, 0)), np.zeros((0, 0)))


def _joined(
    seen: list[tuple[Matrix, Matrix]], joint: Joint, small: _Small
) -> tuple[Matrix, Matrix]:
    """Ports of all parts of a joint, seen from what the joint keeps."""
    counts = [len(seen[part][0]) for part in joint.parts]
    total = sum(counts)
    if total == 0:
        return np.zeros((0, joint.kept)), _NOTHING[1]
    hang = np.zeros((total, joint.size))
    inner = np.zeros((total, total))
    begin = 0
    for part, count, rows in zip(joint.parts, counts, joint.rows, strict=True):
        if count:
            end = begin + count
            hang[begin:end, rows], inner[begin:end, begin:end] = seen[part]
            begin = end
    gone = hang[:, joint.kept :]
    if joint.size > joint.kept:
        inner += gone @ small.inner @ gone.T
        return hang[:, : joint.kept] + gone @ small.hang, inner
    return hang, inner


def _inside(
    leaf: Leaf, stem: _Small, small: _Small, at: tuple[int, ...]
) -> tuple[Matrix, Matrix]:
    """Ports of a leaf, given by row, seen from what it keeps."""
    kept, core = leaf.kept, leaf.core
    if not at:
        return np.zeros((0, kept)), _NOTHING[1]
    hang = np.zeros((len(at), core))
    inner = np.zeros((len(at), len(at)))
    deep = [n for n, row in enumerate(at) if row >= core]
    rows = [at[n] - core for n in deep]
    hang[deep] = stem.hang[rows]
    inner[np.ix_(deep, deep)] = stem.inner[np.ix_(rows, rows)]
    for n, row in enumerate(at):
        if row < core:
            hang[n, row] = 1.0
    gone = hang[:, kept:]
    if core > kept:
        inner += gone @ small.inner @ gone.T
        return hang[:, :kept] + gone @ small.hang, inner
    return hang, inner


def _siemens(network: Network, branch: int) -> float:
    return 1.0 / max(network.branches[branch].ohm, LEAST_OHM)


__all__ = ["Ports", "Reduction"]
