"""The root of the tree: the poles, what lies between them, and the supplies."""

from __future__ import annotations

from collections import OrderedDict
from dataclasses import dataclass

import numpy as np

from sim.circuit.eliminate import Eliminator, Small
from sim.circuit.matrix import Matrix, Pairs, conduct, put_branch
from sim.circuit.memo import remember
from sim.circuit.network import LEAST_OHM, Network
from sim.circuit.plan import Plan

#: Resistances at the root, shares of each supply there, and amps of supplies for volts.
Poles = tuple[Matrix, Matrix, Matrix]
On = tuple[bool, ...]  #: by supply

#: States of the root that are remembered.
REMEMBERED = 512


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
        return known or remember(self._known, key, self._work_out(top, on), REMEMBERED)

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
