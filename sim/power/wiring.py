"""Contract a layout to what can change, and label its nets.

Sections that permanent elements join are one *cluster*.  Contacts join clusters.
A cluster that holds a pole is a *terminal*: joining it says all there is to say
about a net, so what lies on the far side of a terminal never matters.  Cutting
the contact graph at its terminals leaves small *patches*, each of which is
labelled by itself and remembered, so a throw costs what its patch costs however
large the layout is.

A net's label is a terminal's number (0 … T-1), or T + c for a net without
poles, c being the lowest cluster in it.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field

from sim.layout.model import Element, Layout

NO_CLUSTER = -1


class Forest:
    """Union-find over ``0 … n-1``; the root of a set is its lowest member."""

    __slots__ = ("parent",)

    def __init__(self, n: int) -> None:
        self.parent = list(range(n))

    def find(self, x: int) -> int:
        """The lowest member of the set that ``x`` is in."""
        parent = self.parent
        while parent[x] != x:
            parent[x] = parent[parent[x]]
            x = parent[x]
        return x

    def join(self, a: int, b: int) -> None:
        """Make one set of the two that ``a`` and ``b`` are in."""
        a, b = self.find(a), self.find(b)
        if a < b:
            self.parent[b] = a
        elif b < a:
            self.parent[a] = b

    def join_all(self, pairs: Iterable[tuple[int, int]]) -> None:
        """The same for many pairs, in less time."""
        parent = self.parent
        for a, b in pairs:
            while parent[a] != a:
                parent[a] = a = parent[parent[a]]
            while parent[b] != b:
                parent[b] = b = parent[parent[b]]
            if a < b:
                parent[b] = a
            else:
                parent[a] = b

    def roots(self) -> list[int]:
        """For each member the lowest one of its set."""
        parent = self.parent
        for x, above in enumerate(parent):
            parent[x] = parent[above]  # what lies lower is settled already
        return parent.copy()


@dataclass(frozen=True, slots=True)
class Patch:
    """Clusters that contacts can join without passing a terminal.

    ``members`` are its inner clusters, ``contacts`` its contacts as (element,
    cluster, cluster).
    """

    members: tuple[int, ...]
    contacts: tuple[tuple[int, int, int], ...]


@dataclass(slots=True)
class PatchLabels:
    """Labels of a patch's members in one state, and the terminals it joins."""

    labels: tuple[int, ...]
    joins: tuple[tuple[int, int], ...]


@dataclass(slots=True)
class Wiring:
    """The contracted layout.

    ``cluster_of`` is by node.  ``terminal_of`` is by pole (2 per supply): the
    terminal it belongs to; two poles share one when permanent wiring joins them.
    """

    layout: Layout
    cluster_of: list[int]
    terminal_of: tuple[int, ...]
    terminal_clusters: tuple[int, ...]
    patches: tuple[Patch, ...]
    patches_of_element: dict[int, int]
    _memo: list[dict[frozenset[int], PatchLabels]] = field(default_factory=list)

    @property
    def terminals(self) -> int:
        """How many terminals there are."""
        return len(self.terminal_clusters)

    def label_patch(self, number: int, closed: frozenset[int]) -> PatchLabels:
        """Labels of patch ``number`` while the contacts in ``closed`` are closed."""
        known = self._memo[number].get(closed)
        if known is None:
            known = self._memo[number][closed] = self._label(self.patches[number], closed)
        return known

    def _label(self, patch: Patch, closed: frozenset[int]) -> PatchLabels:
        count = self.terminals
        terminal_at = {c: t for t, c in enumerate(self.terminal_clusters)}
        order = [*sorted({c for _, a, b in patch.contacts for c in (a, b)} | {*patch.members})]
        # Terminals first, so that the lowest member of a set is one if there is one.
        order.sort(key=lambda c: (terminal_at.get(c, count), c))
        index = {c: i for i, c in enumerate(order)}
        forest = Forest(len(order))
        joins: list[tuple[int, int]] = []
        for e, a, b in patch.contacts:
            if e in closed:
                forest.join(index[a], index[b])
        labels = []
        for c in patch.members:
            root = order[forest.find(index[c])]
            labels.append(terminal_at.get(root, count + root))
        for c in order:
            root = order[forest.find(index[c])]
            if c in terminal_at and root != c:
                joins.append((terminal_at[root], terminal_at[c]))
        return PatchLabels(tuple(labels), tuple(joins))


def is_permanent(element: Element) -> bool:
    """Whether an element that has not failed is closed in every setting."""
    return element.kind not in ("contact", "gap")


def wire(layout: Layout, failed: Iterable[int] = (), switched: Iterable[int] = ()) -> Wiring:
    """Contract ``layout``.

    ``failed`` elements are left out.  ``switched`` permanent elements are kept
    apart as if they were contacts, because a run may open them.
    """
    out, loose = frozenset(failed), frozenset(switched)
    forest = Forest(len(layout.nodes))
    moving: list[int] = []
    for i, e in enumerate(layout.elements):
        if i in out or e.kind == "gap":
            continue
        if is_permanent(e) and i not in loose:
            forest.join(e.a, e.b)
        else:
            moving.append(i)
    cluster_of = forest.roots()
    poles = [p for s in layout.supplies for p in (s.plus, s.minus)]
    clusters = list(dict.fromkeys(cluster_of[p] for p in poles))
    terminal_at = {c: t for t, c in enumerate(clusters)}
    patches = _patches(layout, cluster_of, terminal_at, moving)
    return Wiring(
        layout,
        cluster_of,
        tuple(terminal_at[cluster_of[p]] for p in poles),
        tuple(clusters),
        patches,
        {e: n for n, patch in enumerate(patches) for e, _, _ in patch.contacts},
        [{} for _ in patches],
    )


def _patches(
    layout: Layout,
    cluster_of: Sequence[int],
    terminal_at: dict[int, int],
    moving: Sequence[int],
) -> tuple[Patch, ...]:
    inner = Forest(len(cluster_of))
    ends: dict[int, tuple[int, int]] = {}
    for e in moving:
        a, b = cluster_of[layout.elements[e].a], cluster_of[layout.elements[e].b]
        if a == b:
            continue
        ends[e] = a, b
        if a not in terminal_at and b not in terminal_at:
            inner.join(a, b)
    groups: dict[object, list[tuple[int, int, int]]] = {}
    for e, (a, b) in ends.items():
        # A contact between two terminals belongs to no inner cluster: a patch of its own.
        key: object
        if a not in terminal_at:
            key = inner.find(a)
        elif b not in terminal_at:
            key = inner.find(b)
        else:
            key = ("between terminals", e)
        groups.setdefault(key, []).append((e, a, b))
    return tuple(
        Patch(
            tuple(sorted({c for _, a, b in found for c in (a, b)} - set(terminal_at))),
            tuple(found),
        )
        for found in groups.values()
    )
