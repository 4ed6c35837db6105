"""How a network is dealt out to leaves and put together by a tree of joints."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from sim.circuit.network import Network

#: A leaf holds a module's branches, or where there are more than this, some pieces'.
BRANCHES_IN_A_LEAF = 160
#: Parts that a joint puts together: more make it wider, fewer make the tree higher.
PARTS_OF_A_JOINT = 4


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


def make_plan(network: Network) -> Plan:
    """Deal out the branches of ``network`` and lay the tree over them."""
    groups = _deal(network)
    root_branches = groups.pop(-1, [])
    ordered = _along_the_track(network, list(groups.values()))
    leaf_of = [-1] * len(network.branches)
    for number, branches in enumerate(ordered):
        for b in branches:
            leaf_of[b] = number
    at_root = {*network.poles}
    for b in root_branches:
        at_root |= {network.branches[b].a, network.branches[b].b}
    touched = [_nodes(network, branches) for branches in ordered]
    homes: dict[int, int] = {}
    for number, nodes in enumerate(touched):
        for node in nodes:
            homes.setdefault(node, number)
    # A node that no branch touches, such as a lone section, gets a row in the first leaf.
    lone = [n for n in range(len(network.names)) if n not in homes and n not in at_root]
    lone += [n for n in sorted(at_root) if n not in homes]
    touched[0] = [*touched[0], *lone]
    homes.update((n, 0) for n in lone)
    return _with_tree(network, ordered, touched, leaf_of, homes, at_root, root_branches)


def _deal(network: Network) -> dict[int, list[int]]:
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


def _nodes(network: Network, branches: Sequence[int]) -> list[int]:
    found: dict[int, None] = {}
    for b in branches:
        found[network.branches[b].a] = found[network.branches[b].b] = None
    return list(found)


def _along_the_track(network: Network, groups: list[list[int]]) -> list[list[int]]:
    """Groups in the order in which one walks over them, so that neighbours stay together."""
    users: dict[int, list[int]] = {}
    for number, branches in enumerate(groups):
        for node in _nodes(network, branches):
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


def _with_tree(
    network: Network,
    ordered: list[list[int]],
    touched: list[list[int]],
    leaf_of: list[int],
    homes: dict[int, int],
    at_root: set[int],
    root_branches: list[int],
) -> Plan:
    uses: dict[int, int] = dict.fromkeys(at_root, 1)
    for nodes in touched:
        for node in nodes:
            uses[node] = uses.get(node, 0) + 1
    leaves: list[Leaf] = []
    kept_of: list[list[int]] = []
    inside: list[dict[int, int]] = []  #: by leaf or joint: users inside of each kept node
    for branches, nodes in zip(ordered, touched, strict=True):
        kept = [n for n in nodes if uses[n] > 1]
        loose = [
            n
            for b in branches
            if b in network.contacts
            for n in (network.branches[b].a, network.branches[b].b)
        ]
        core = [n for n in dict.fromkeys(loose) if uses[n] == 1]
        deep = set(core)
        rest = [n for n in nodes if uses[n] == 1 and n not in deep]
        index = {n: row for row, n in enumerate([*kept, *core, *rest])}
        leaves.append(Leaf(tuple(branches), index, len(kept), len(kept) + len(core)))
        kept_of.append(kept)
        inside.append(dict.fromkeys(kept, 1))
    joints: list[Joint] = []
    level = list(range(len(leaves)))
    parent: dict[int, int] = {}
    while len(level) > 1:
        higher: list[int] = []
        for k in range(0, len(level), PARTS_OF_A_JOINT):
            parts = tuple(level[k : k + PARTS_OF_A_JOINT])
            if len(parts) == 1 and len(level) > 1:
                higher += parts
                continue
            number = len(leaves) + len(joints)
            parent.update(dict.fromkeys(parts, number))
            joints.append(_joint(parts, kept_of, inside, uses))
            higher.append(number)
        level = higher
    top = kept_of[-1]
    others = [n for n in sorted(at_root) if n not in set(top)]
    root_index = {n: row for row, n in enumerate([*top, *others])}
    return Plan(
        tuple(leaves),
        tuple(joints),
        tuple(_line(n, parent) for n in range(len(leaves))),
        tuple(leaf_of),
        tuple(homes[n] for n in range(len(network.names))),
        root_index,
        len(root_index),
        tuple(root_branches),
    )


def _joint(
    parts: tuple[int, ...],
    kept_of: list[list[int]],
    inside: list[dict[int, int]],
    uses: dict[int, int],
) -> Joint:
    count: dict[int, int] = {}
    for part in parts:
        for node in kept_of[part]:
            count[node] = count.get(node, 0) + inside[part][node]
    kept = [n for n in count if count[n] < uses[n]]
    rest = [n for n in count if count[n] == uses[n]]
    row = {n: k for k, n in enumerate([*kept, *rest])}
    moved = tuple(tuple(row[n] for n in kept_of[part]) for part in parts)
    rows = tuple(np.array(at, dtype=np.intp) for at in moved)
    squares = tuple((len(row) * at[:, None] + at).ravel() for at in rows)
    kept_of.append(kept)
    inside.append({n: count[n] for n in kept})
    return Joint(parts, len(row), len(kept), rows, moved, squares)


def _line(leaf: int, parent: dict[int, int]) -> tuple[int, ...]:
    found = []
    while leaf in parent:
        leaf = parent[leaf]
        found.append(leaf)
    return tuple(found)


__all__ = ["Joint", "Leaf", "Plan", "make_plan"]
