"""One leaf of a reduced network, in the state that its contacts are in."""

from __future__ import annotations

from collections import OrderedDict

import numpy as np

from sim.circuit.eliminate import Eliminator, Small
from sim.circuit.matrix import Pairs, put_branch
from sim.circuit.memo import remember
from sim.circuit.network import Network
from sim.circuit.plan import Leaf
from sim.circuit.seen import Seen, seen_from_leaf

#: States of a leaf that are remembered.
REMEMBERED = 512


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
        return self._known.get(key) or remember(self._known, key, self._shut(), REMEMBERED)

    def seen(self, small: Small, at: tuple[int, ...]) -> Seen:
        """Ports, given by row, seen from what the leaf keeps; ``small`` is what it is now."""
        return seen_from_leaf(self._leaf, self._stem, small, at)

    def _grown(self) -> Small:
        """Without its contacts, and with what cannot change eliminated once for all."""
        key = frozenset(self._fixed.items())
        return self._stems.get(key) or remember(self._stems, key, self._stemmed(), REMEMBERED)

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
