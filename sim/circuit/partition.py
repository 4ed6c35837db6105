"""A network dealt out to leaves along the track, and the tree of joints over them.

Dealing the branches of a network out to leaves, and these along the track.

A network dealt out to leaves, and the tree of joints over them.

Laying a tree over the leaves of a network.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from sim.circuit.network import Network

#: A leaf holds a module's branches, or where there are more than this, some pieces'.
BRANCHES_IN_A_LEAF = 160


def dealt(network: Network) -> dict[int, list[int]]:
    """Branches by leaf: those of a module together, large modules piece by piece."""
    layout = network.layout
    module_of = {p: n for n, m in enumerate(layout.modules) for p in m.pieces}
    piece_at = {placed.id: n for n, placed in enumerate(layout.pieces)}
    piece_of = [piece_at.get(name.rpartition("/")[0], -1) for name in layout.nodes]
    by_piece: dict[int, list[int]] = {}
    for number, b in enumerate(network.branches):
        pieces = [piece_of[network.section[n]] for n in (b.a, b.b)]
        by_piece.setdefault(next((p for p in pieces if p >= 0), -1), []).append(number)
    groups: dict[int, list[int]] = {-1: by_piece.pop(-1, [])}
    filling: dict[int, tuple[int, int]] = {}
    for piece in sorted(by_piece):
        module = module_of.get(piece, -1)
        group, held = filling.get(module, (len(groups), 0))
        if held and held + len(by_piece[piece]) > BRANCHES_IN_A_LEAF:
            group, held = len(groups), 0
        groups.setdefault(group, []).extend(by_piece[piece])
        filling[module] = group, held + len(by_piece[piece])
    if len(groups) == 1:
        groups[1] = []
    return groups


def nodes_of(network: Network, branches: Sequence[int]) -> list[int]:
    """Nodes that these branches touch, in the order of the branches."""
    found: dict[int, None] = {}
    for b in branches:
        found[network.branches[b].a] = found[network.branches[b].b] = None
    return list(found)


def along_the_track(network: Network, groups: list[list[int]]) -> list[list[int]]:
    """Groups in the order in which one walks over them, so that neighbours stay together."""
    users: dict[int, list[int]] = {}
    for number, branches in enumerate(groups):
        for node in nodes_of(network, branches):
            users.setdefault(node, []).append(number)
    beside: list[dict[int, None]] = [{} for _ in groups]
    for numbers in users.values():
        if len(numbers) == 2:  # a node of more than two is a bus or pole, not a joint
            a, b = numbers
            beside[a][b] = beside[b][a] = None
    order: list[int] = []
    seen: set[int] = set()
    for start in sorted(range(len(groups)), key=lambda n: (len(beside[n]), n)):
        todo = [start]
        while todo:
            here = todo.pop()
            if here not in seen:
                seen.add(here)
                order.append(here)
                todo += [n for n in sorted(beside[here], reverse=True) if n not in seen]
    return [groups[n] for n in order]


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
