"""Reduce a network to a few ports, and bring that up to date when little has changed.

Small systems of linear equations.

Remembering what was worked out, up to a number of things.

Small dense matrices of conductances, and which rows of them something joins.

Eliminating the nodes that nothing outside a part of a network touches.

Where elimination meets an island that nothing ties to the rest, one of its nodes
is grounded through 1 S.  Nothing flows there as long as the currents drawn from an
island add up to nothing, which :mod:`sim.circuit.operating_point` sees to.  That 1 S shows:
two ports are in one island just where their mutual resistance is 1 ohm or more.

One leaf of a reduced network, in the state that its contacts are in.

Ports as seen from what a leaf or joint keeps: what they hang on, and what is between.

The root of the tree: the poles, what lies between them, and the supplies.

A network as it is seen from some of its nodes.

Reduce a network to a few ports, and bring that up to date when little has changed.

The branches are dealt out to *leaves* (about a module each), which a binary tree
of *joints* puts together along the track.  Each leaf and joint eliminates the
nodes that nothing outside it touches (a Schur complement), so it is known by the
few nodes where it meets the rest.  A contact that moves changes one leaf and the
joints above it: the cost of a state grows with the logarithm of the layout, where
a factorisation of the whole grows with the layout.  What was worked out for one
state of a leaf, or for one pair of halves of a joint, is remembered.
"""

from __future__ import annotations

from collections import OrderedDict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import TypeVar

import numpy as np
from numpy.typing import NDArray

from sim.circuit.network import LEAST_OHM, Branch, Network
from sim.circuit.nodal import CircuitError
from sim.circuit.partition import Joint, Leaf, Plan, make_plan

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


T = TypeVar("T")


def remember(memo: OrderedDict[object, T], key: object, value: T, most: int) -> T:
    """Keep ``value``; past ``most`` of them the one kept first, or not moved since, goes."""
    memo[key] = value
    if len(memo) > most:
        memo.popitem(last=False)
    return value


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


#: States of a leaf that are remembered.
LEAVES_KEPT = 512


class LiveLeaf:
    """What a leaf comes to now; remembers what it came to before."""

    def __init__(self, network: Network, leaf: Leaf, eliminator: Eliminator) -> None:
        self._network, self._leaf, self._eliminator = network, leaf, eliminator
        #: siemens of closed contacts, and of permanent branches not as built
        self._closed: dict[int, float] = {}
        self._fixed: dict[int, float] = {}
        self._known: OrderedDict[object, Small] = OrderedDict()
        self._stems: OrderedDict[object, Small] = OrderedDict()
        self._stem = self._grown()

    def set(self, branch: int, siemens: float) -> bool:
        """Let a branch conduct so much; whether that is news."""
        if branch in self._network.contacts:
            worth, usual = self._closed, 0.0
        else:
            worth, usual = self._fixed, self._network.siemens(branch)
        if worth.get(branch, usual) == siemens:
            return False
        worth[branch] = siemens
        if siemens == usual:
            del worth[branch]
        return True

    def small(self) -> Small:
        """The leaf over its kept nodes."""
        self._stem = self._grown()
        key = self._stem.number, frozenset(self._closed.items())
        return self._known.get(key) or remember(self._known, key, self._shut(), LEAVES_KEPT)

    def seen(self, small: Small, at: tuple[int, ...]) -> Seen:
        """Ports, given by row, seen from what the leaf keeps; ``small`` is what it is now."""
        return seen_from_leaf(self._leaf, self._stem, small, at)

    def _grown(self) -> Small:
        """Without its contacts, and with what cannot change eliminated once for all."""
        key = frozenset(self._fixed.items())
        return self._stems.get(key) or remember(self._stems, key, self._stemmed(), LEAVES_KEPT)

    def _stemmed(self) -> Small:
        network, leaf = self._network, self._leaf
        matrix = np.zeros((len(leaf.index), len(leaf.index)))
        pairs: Pairs = []
        for branch in leaf.branches:
            if branch not in network.contacts:
                siemens = self._fixed.get(branch, network.siemens(branch))
                pairs += put_branch(matrix, leaf.index, network.branches[branch], siemens)
        return self._eliminator.keep(matrix, leaf.core, pairs)

    def _shut(self) -> Small:
        """The stem with the contacts that are closed."""
        leaf, stem = self._leaf, self._stem
        matrix, pairs = stem.matrix.copy(), list(stem.pairs)
        for branch, siemens in sorted(self._closed.items()):
            pairs += put_branch(matrix, leaf.index, self._network.branches[branch], siemens)
        return self._eliminator.keep(matrix, leaf.kept, pairs)


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


#: Resistances at the root, shares of each supply there, and amps of supplies for volts.
Poles = tuple[Matrix, Matrix, Matrix]
On = tuple[bool, ...]  #: by supply

#: States of the root that are remembered.
ROOTS_KEPT = 512


@dataclass(slots=True)
class _Bare:
    """The root's own branches and supplies, before the tree is put on it."""

    matrix: Matrix
    pairs: Pairs
    feed: Matrix
    inside: Matrix


class Root:
    """Puts what the tree comes to on the root, for any supplies that are on."""

    def __init__(self, network: Network, plan: Plan, eliminator: Eliminator) -> None:
        self._network, self._plan, self._eliminator = network, plan, eliminator
        #: siemens of branches of the root that are not as built
        self._other: dict[int, float] = {}
        self._bare: dict[object, _Bare] = {}
        self._known: OrderedDict[object, Poles] = OrderedDict()

    def set(self, branch: int, siemens: float) -> None:
        """Let a branch that no leaf has, such as a bus wire, conduct so much."""
        if siemens == self._network.siemens(branch):
            self._other.pop(branch, None)
        else:
            self._other[branch] = siemens

    def under(self, top: Small, on: On) -> Poles:
        """Resistances of the poles and what else is at the root, and the supplies' part."""
        key = top.number, self._state(on)
        known = self._known.get(key)
        return known or remember(self._known, key, self._work_out(top, on), ROOTS_KEPT)

    def _state(self, on: On) -> object:
        return on, tuple(sorted(self._other.items()))

    def _work_out(self, top: Small, on: On) -> Poles:
        kept = len(top.matrix)
        state = self._state(on)
        bare = self._bare.get(state)
        if bare is None:
            bare = self._bare[state] = self._without_tree(on)
        matrix = bare.matrix.copy()
        matrix[:kept, :kept] += top.matrix
        across = self._eliminator.keep(matrix, 0, [*top.pairs, *bare.pairs]).inner
        share = across @ bare.feed
        return across, share, bare.inside - bare.feed.T @ share

    def _without_tree(self, on: On) -> _Bare:
        plan, network = self._plan, self._network
        size = plan.root_size
        matrix = np.zeros((size, size))
        pairs: Pairs = []
        for branch in plan.root_branches:
            siemens = self._other.get(branch, network.siemens(branch))
            pairs += put_branch(matrix, plan.root_index, network.branches[branch], siemens)
        supplies = network.layout.supplies
        feed = np.zeros((size, len(supplies)))
        inside = np.zeros(len(supplies))
        for number, supply in enumerate(supplies):
            if not on[number]:
                continue
            siemens = 1.0 / max(supply.internal_ohm, LEAST_OHM)
            plus, minus = (plan.root_index[p] for p in network.poles[2 * number :][:2])
            conduct(matrix, plus, minus, siemens)
            pairs.append((plus, minus))
            if plus != minus:
                feed[plus, number], feed[minus, number] = siemens, -siemens
            inside[number] = siemens
        return _Bare(matrix, pairs, feed, np.diag(inside))


#: Ports whose mutual resistance is more than this are of one island (ohm).
SAME_ISLAND_OHM = 0.5


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


def ports_of(ohm: Matrix, share: Matrix, short_a: Matrix) -> Ports:
    """Ports in plain numbers, and which of them are of one island."""
    together = ohm > SAME_ISLAND_OHM
    island = together.argmax(axis=1).tolist() if len(ohm) else []
    # A port on the grounded pole has no volts of any supply, though it is in its island.
    fed = np.zeros(share.shape, dtype=np.bool_)
    np.logical_or.at(fed, island, share != 0.0)
    feeds = {head: tuple(np.flatnonzero(fed[head]).tolist()) for head in dict.fromkeys(island)}
    return Ports(ohm.tolist(), share.tolist(), short_a.tolist(), island, feeds)


#: States remembered for each joint.
JOINTS_KEPT = 512


class Reduction:
    """One network in one state of its contacts and supplies, seen from any ports."""

    def __init__(self, network: Network) -> None:
        self.network = network
        self.plan: Plan = make_plan(network)
        leaves, joints = self.plan.leaves, self.plan.joints
        self._eliminator = Eliminator()
        self._leaves = [LiveLeaf(network, leaf, self._eliminator) for leaf in leaves]
        self._root = Root(network, self.plan, self._eliminator)
        self._joined: list[OrderedDict[object, Small]] = [OrderedDict() for _ in joints]
        #: what each leaf and joint comes to, and how the ports below it are seen from it
        self._small: list[Small | None] = [None] * (len(leaves) + len(joints))
        self._seen: list[Seen] = [NOTHING] * len(self._small)
        self._at: dict[int, tuple[int, ...]] = {}  #: by leaf: rows of its ports
        self._asked: tuple[int, ...] = ()
        self._order: list[int] = []
        self._stale = set(range(len(leaves)))
        self._on = [True] * (len(network.poles) // 2)
        self.set({b: network.branches[b].ohm for b in network.contacts})

    def set(self, changes: Mapping[int, float | None]) -> None:
        """Give branches other ohms; None opens one."""
        for branch, ohm in changes.items():
            leaf = self.plan.leaf_of[branch]
            siemens = 0.0 if ohm is None else 1.0 / max(ohm, LEAST_OHM)
            if leaf < 0:
                self._root.set(branch, siemens)
            elif self._leaves[leaf].set(branch, siemens):
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
        across, share_root, short_a = self._root.under(top, tuple(self._on))
        ohm = inner + hang @ across @ hang.T
        share = hang @ share_root
        if order != list(range(len(order))):
            back = np.argsort(order)
            ohm, share = ohm[back][:, back], share[back]
        return ports_of(ohm, share, short_a)

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
        due: set[int] = set()
        for number in sorted(self._stale):
            leaf = self._leaves[number]
            small = self._small[number] = leaf.small()
            self._seen[number] = leaf.seen(small, self._at.get(number, ()))
            due.update(self.plan.above[number])
        self._stale.clear()
        for number in sorted(due):
            joint = self.plan.joints[number - len(self._leaves)]
            small = self._small[number] = self._joint(number, joint)
            self._seen[number] = seen_from_joint(self._seen, joint, small)

    def _joint(self, number: int, joint: Joint) -> Small:
        """What a joint's parts come to together."""
        parts = [part for p in joint.parts if (part := self._small[p]) is not None]
        known = self._joined[number - len(self._leaves)]
        key = tuple([part.number for part in parts])
        small = known.get(key)
        if small is None:
            flat = np.zeros(joint.size * joint.size)
            pairs: Pairs = []
            for part, square, rows in zip(parts, joint.squares, joint.moved, strict=True):
                flat[square] += part.matrix.ravel()
                pairs += [(rows[a], rows[b]) for a, b in part.pairs]
            matrix = flat.reshape(joint.size, joint.size)
            small = remember(
                known, key, self._eliminator.keep(matrix, joint.kept, pairs), JOINTS_KEPT
            )
        return small
