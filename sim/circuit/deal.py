"""Dealing the branches of a network out to leaves, and these along the track."""

from __future__ import annotations

from collections.abc import Sequence

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
