"""Reduce a network to a few ports, and bring that up to date when little has changed.

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
from collections.abc import Mapping, Sequence

import numpy as np

from sim.circuit.eliminate import Eliminator, Small
from sim.circuit.leaf import LiveLeaf
from sim.circuit.matrix import Pairs
from sim.circuit.memo import remember
from sim.circuit.network import LEAST_OHM, Network
from sim.circuit.plan import Joint, Plan
from sim.circuit.ports import Ports, ports_of
from sim.circuit.root import Root
from sim.circuit.seen import NOTHING, Seen, seen_from_joint
from sim.circuit.tree import make_plan

#: States remembered for each joint.
REMEMBERED = 512


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
                known, key, self._eliminator.keep(matrix, joint.kept, pairs), REMEMBERED
            )
        return small
