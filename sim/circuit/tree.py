"""Laying a tree over the leaves of a network."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from sim.circuit.deal import along_the_track, dealt, nodes_of
from sim.circuit.network import Network
from sim.circuit.plan import Joint, Leaf, Plan

#: Parts that a joint puts together: more make it wider, fewer make the tree higher.
PARTS_OF_A_JOINT = 4


def make_plan(network: Network) -> Plan:
    """Deal out the branches of ``network`` and lay the tree over them."""
    groups = dealt(network)
    root_branches = groups.pop(-1, [])
    ordered = along_the_track(network, list(groups.values()))
    at_root = {*network.poles, *nodes_of(network, root_branches)}
    touched = [nodes_of(network, branches) for branches in ordered]
    homes = _homes(network, touched, at_root)
    tree = _Tree(network, touched, at_root)
    for branches, nodes in zip(ordered, touched, strict=True):
        tree.add_leaf(branches, nodes)
    top = tree.join_all()
    others = [n for n in sorted(at_root) if n not in set(top)]
    root_index = {n: row for row, n in enumerate([*top, *others])}
    leaf_of = {b: number for number, branches in enumerate(ordered) for b in branches}
    return Plan(
        tuple(tree.leaves),
        tuple(tree.joints),
        tuple(tree.above(n) for n in range(len(tree.leaves))),
        tuple(leaf_of.get(b, -1) for b in range(len(network.branches))),
        tuple(homes[n] for n in range(len(network.names))),
        root_index,
        len(root_index),
        tuple(root_branches),
    )


def _homes(network: Network, touched: list[list[int]], at_root: set[int]) -> dict[int, int]:
    """By node the leaf that has a row for it; nodes of no leaf are added to the first."""
    homes: dict[int, int] = {}
    for number, nodes in enumerate(touched):
        for node in nodes:
            homes.setdefault(node, number)
    # A node that no branch touches, such as a lone section, gets a row in the first leaf.
    lone = [n for n in range(len(network.names)) if n not in homes and n not in at_root]
    lone += [n for n in sorted(at_root) if n not in homes]
    touched[0] = [*touched[0], *lone]
    homes.update((n, 0) for n in lone)
    return homes


class _Tree:
    """Leaves and joints as they are added, with the nodes that each still has to keep."""

    def __init__(
        self, network: Network, touched: Sequence[Sequence[int]], at_root: set[int]
    ) -> None:
        self._network = network
        self.leaves: list[Leaf] = []
        self.joints: list[Joint] = []
        #: by node: parts that touch it, the root among them
        self._uses: dict[int, int] = dict.fromkeys(at_root, 1)
        for nodes in touched:
            for node in nodes:
                self._uses[node] = self._uses.get(node, 0) + 1
        #: by leaf or joint: the nodes that it keeps, each with its users inside
        self._kept: list[dict[int, int]] = []
        self._parent: dict[int, int] = {}

    def add_leaf(self, branches: Sequence[int], nodes: Sequence[int]) -> None:
        """A leaf of these branches, with rows for these nodes."""
        network, uses = self._network, self._uses
        kept = [n for n in nodes if uses[n] > 1]
        loose = nodes_of(network, [b for b in branches if b in network.contacts])
        core = [n for n in loose if uses[n] == 1]
        deep = set(core)
        rest = [n for n in nodes if uses[n] == 1 and n not in deep]
        index = {n: row for row, n in enumerate([*kept, *core, *rest])}
        self.leaves.append(Leaf(tuple(branches), index, len(kept), len(kept) + len(core)))
        self._kept.append(dict.fromkeys(kept, 1))

    def join_all(self) -> list[int]:
        """Joints over joints until one is left; the nodes that it keeps."""
        level = list(range(len(self.leaves)))
        while len(level) > 1:
            higher: list[int] = []
            for k in range(0, len(level), PARTS_OF_A_JOINT):
                parts = tuple(level[k : k + PARTS_OF_A_JOINT])
                higher.append(self._join(parts) if len(parts) > 1 else parts[0])
            level = higher
        return list(self._kept[-1])

    def _join(self, parts: tuple[int, ...]) -> int:
        """The number of the joint that puts ``parts`` together."""
        count: dict[int, int] = {}
        for part in parts:
            for node, users in self._kept[part].items():
                count[node] = count.get(node, 0) + users
        kept = [n for n in count if count[n] < self._uses[n]]
        rest = [n for n in count if count[n] == self._uses[n]]
        row = {n: k for k, n in enumerate([*kept, *rest])}
        moved = tuple(tuple(row[n] for n in self._kept[part]) for part in parts)
        rows = tuple(np.array(at, dtype=np.intp) for at in moved)
        squares = tuple((len(row) * at[:, None] + at).ravel() for at in rows)
        number = len(self._kept)
        self._parent.update(dict.fromkeys(parts, number))
        self._kept.append({n: count[n] for n in kept})
        self.joints.append(Joint(parts, len(row), len(kept), rows, moved, squares))
        return number

    def above(self, leaf: int) -> tuple[int, ...]:
        """The joints over a leaf, from it to the top."""
        found = []
        while leaf in self._parent:
            leaf = self._parent[leaf]
            found.append(leaf)
        return tuple(found)
