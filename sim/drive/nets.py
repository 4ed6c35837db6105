"""Which rails are one net in a setting, and how many ohms lie before each.

A drive asks this of a few rails in thousands of settings, so what permanent metal
joins is worked out once, and what contacts add patch by patch
(:mod:`sim.power.wiring`).
"""

from __future__ import annotations

import heapq
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from math import inf

from sim.layout.model import PLASTIC, Layout
from sim.power.graph import is_closed
from sim.power.wiring import Forest, is_permanent, wire

#: What an element is worth whose resistance nobody has given (ohm).
UNKNOWN_OHM = 0.005


@dataclass(frozen=True, slots=True)
class Nets:
    """The nets of one setting; ``net_of_pole`` is by pole (two for each supply)."""

    positions: tuple[int, ...]
    net_of_pole: tuple[int, ...]
    made_by: NetsOf
    #: those of another setting, which hold for what is not told here
    _near: Nets | None
    _roots: Forest
    _labels: dict[int, int]
    _ohms: dict[int, float]
    _joins: dict[int, tuple[tuple[int, int], ...]]
    #: by route: its two nets and the most ohms before it, where it is all one pair
    _pairs: dict[int, tuple[int, int, float] | None] = field(default_factory=dict)

    def net(self, node: int) -> int:
        """The net that section ``node`` belongs to: equal numbers are joined."""
        wiring = self.made_by.metal.wiring
        cluster = wiring.cluster_of[node]
        label = self._labels.get(cluster)
        if label is None and self._near is not None:
            label = self._near._labels.get(cluster)
        if label is None:
            return wiring.terminals + cluster
        return self._roots.find(label) if label < wiring.terminals else label

    def is_closed(self, element: int) -> bool:
        """Whether an element conducts in this setting, faults counted."""
        return self.made_by.is_closed(element, self.positions)

    def is_fed_for_good(self, node: int) -> bool:
        """Whether permanent metal joins ``node`` to a pole."""
        return self.made_by.metal.base_ohm[node] < inf

    def ohm(self, node: int) -> float:
        """At most so many ohms lie between ``node`` and a pole of its net; inf for none.

        The ohms of one way there: by Rayleigh's monotonicity law what other ways
        there are can only lessen it.
        """
        own = self.made_by.metal.base_ohm[node]
        if own < inf:
            return own
        cluster = self.made_by.metal.wiring.cluster_of[node]
        if cluster in self._labels or self._near is None:
            return self._ohms.get(cluster, inf)
        return self._near._ohms.get(cluster, inf)

    def whole(self, made_by: NetsOf) -> Nets:
        """The same without those of another setting to look things up in."""
        near = self._near
        assert near is not None
        kept = {c: ohm for c, ohm in near._ohms.items() if c not in self._labels}
        return Nets(
            self.positions,
            self.net_of_pole,
            made_by,
            None,
            self._roots,
            {**near._labels, **self._labels},
            {**kept, **self._ohms},
            {**near._joins, **self._joins},
        )

    def pair(self, route: int) -> tuple[int, int, float] | None:
        """Left and right net of a route that has no others and no plastic, and its ohms."""
        if route not in self._pairs:
            spans = self.made_by.layout.routes[route].spans
            nodes = {(s.left, s.right) for s in spans}
            nets = {
                PLASTIC if PLASTIC in p else (self.net(p[0]), self.net(p[1])) for p in nodes
            }
            one = nets.pop() if len(nets) == 1 else PLASTIC
            self._pairs[route] = (
                None
                if isinstance(one, int)
                else (*one, max(self.ohm(n) for pair in nodes for n in pair))
            )
        return self._pairs[route]

    def lone_supply(self, left: int, right: int) -> int | None:
        """The supply whose two poles alone are in these two nets."""
        poles = [p for p, net in enumerate(self.net_of_pole) if net in (left, right)]
        alone = len(poles) == 2 and poles[0] // 2 == poles[1] // 2 and left != right
        apart = alone and self.net_of_pole[poles[0]] != self.net_of_pole[poles[1]]
        return poles[0] // 2 if apart else None


class Metal:
    """What permanent metal joins, some of it being open: the same in all settings."""

    def __init__(self, layout: Layout, failed: Iterable[int] = ()) -> None:
        self.wiring = wiring = wire(layout, failed)
        self._rail_ohm = _rail_ohms(layout)
        #: by node: ohms of the best way to a pole over permanent elements only
        self.base_ohm = self._permanent_ohms(layout, frozenset(failed))
        self._cluster_ohm: dict[int, float] = {}
        self._nodes_of: dict[int, list[int]] = {}
        for node, ohm in enumerate(self._rail_ohm):
            cluster = wiring.cluster_of[node]
            self._cluster_ohm[cluster] = self._cluster_ohm.get(cluster, 0.0) + ohm
            self._nodes_of.setdefault(cluster, []).append(node)
        self._patch_of: dict[int, int] = {}  #: by inner cluster
        self.patches_of_lever: dict[int, list[int]] = {}
        for number, patch in enumerate(wiring.patches):
            self._patch_of.update(dict.fromkeys(patch.members, number))
            clauses = (c for e, _, _ in patch.contacts for c in layout.elements[e].when)
            for lever in sorted({lever for clause in clauses for lever, _ in clause}):
                self.patches_of_lever.setdefault(lever, []).append(number)
        self._known: dict[tuple[int, frozenset[int]], dict[int, float]] = {}

    def members(self, patches: Iterable[int]) -> set[int]:
        """Nodes of the clusters within patches."""
        inner = (c for number in patches for c in self.wiring.patches[number].members)
        return {node for cluster in inner for node in self._nodes_of[cluster]}

    def around(self, nodes: Iterable[int]) -> set[int]:
        """Nodes of the same metal as ``nodes``, and of patches that it is in; unless fed."""
        clusters = {self.wiring.cluster_of[n] for n in nodes if self.base_ohm[n] == inf}
        patches = {self._patch_of[c] for c in clusters if c in self._patch_of}
        own = {node for cluster in clusters for node in self._nodes_of[cluster]}
        return own | self.members(patches)

    def _permanent_ohms(self, layout: Layout, failed: frozenset[int]) -> list[float]:
        near: list[list[tuple[int, float]]] = [[] for _ in layout.nodes]
        for number, e in enumerate(layout.elements):
            if is_permanent(e) and number not in failed:
                ohm = UNKNOWN_OHM if e.resistance_ohm is None else e.resistance_ohm
                near[e.a].append((e.b, ohm))
                near[e.b].append((e.a, ohm))
        best = [inf] * len(layout.nodes)
        heap = [(0.0, p) for s in layout.supplies for p in (s.plus, s.minus)]
        while heap:
            ohm, here = heapq.heappop(heap)
            if ohm >= best[here]:
                continue
            best[here] = ohm
            for there, more in near[here]:
                heapq.heappush(heap, (ohm + more + self._rail_ohm[there], there))
        return best

    def ohms_of_patch(self, number: int, closed: frozenset[int]) -> dict[int, float]:
        """Ohms before each inner cluster of a patch, through its closed contacts."""
        known = self._known.get((number, closed))
        if known is not None:
            return known
        elements = self.wiring.layout.elements
        best: dict[int, float] = {}
        wave: dict[int, float] = {}
        near: dict[int, list[tuple[int, float]]] = {}
        for e, a, b in self.wiring.patches[number].contacts:
            if e not in closed:
                continue
            element = elements[e]
            ohm = UNKNOWN_OHM if element.resistance_ohm is None else element.resistance_ohm
            for node, far in ((element.a, b), (element.b, a)):
                if (seed := self.base_ohm[node]) < inf:
                    wave[far] = min(wave.get(far, inf), seed + ohm)
            near.setdefault(a, []).append((b, ohm))
            near.setdefault(b, []).append((a, ohm))
        heap = [(ohm, c) for c, ohm in wave.items()]
        heapq.heapify(heap)
        while heap:
            ohm, here = heapq.heappop(heap)
            if here in best:
                continue
            best[here] = ohm + self._cluster_ohm[here]
            for there, more in near.get(here, ()):
                heapq.heappush(heap, (best[here] + more, there))
        self._known[number, closed] = best
        return best


class NetsOf:
    """Makes the nets of any setting of one layout.

    Elements in ``failed`` are open and contacts in ``welded`` closed for good.  Nets
    are worked out once, and for any other setting where its levers differ.
    """

    def __init__(
        self,
        layout: Layout,
        failed: frozenset[int] = frozenset(),
        welded: frozenset[int] = frozenset(),
        sound: NetsOf | None = None,
    ) -> None:
        self.layout = layout
        self.failed, self.welded = failed, welded
        out = [e for e in sorted(failed) if is_permanent(layout.elements[e])]
        #: whether only contacts are at fault, so that clusters are the sound layout's
        self.same_metal = sound is not None and not out
        self.metal: Metal = Metal(layout, out) if sound is None or out else sound.metal
        self._origin: Nets | None = None
        if sound is not None and sound._origin is not None and not out:
            near = sound._origin
            self._origin = self._from(near, near.positions, self.concerned()).whole(self)

    def is_closed(self, element: int, positions: Sequence[int]) -> bool:
        """Whether an element conducts with the levers at ``positions``."""
        if element in self.failed:
            return False
        return element in self.welded or is_closed(self.layout.elements[element], positions)

    def of(self, positions: tuple[int, ...]) -> Nets:
        """The nets with the levers at ``positions`` (a position index by lever)."""
        origin = self._origin
        if origin is None:
            everything = range(len(self.metal.wiring.patches))
            clusters = self.metal.wiring.terminal_clusters
            labels = {c: t for t, c in enumerate(clusters)}
            start = Nets(positions, (), self, None, Forest(0), labels, {}, {})
            origin = self._origin = self._from(start, positions, everything).whole(self)
            return origin
        return self._from(origin, positions, self.patches_between(origin.positions, positions))

    def patches_between(self, one: Sequence[int], other: Sequence[int]) -> set[int]:
        """Patches with contacts at levers that lie otherwise in two settings."""
        moved = (n for n, (a, b) in enumerate(zip(one, other, strict=True)) if a != b)
        return {patch for n in moved for patch in self.metal.patches_of_lever.get(n, ())}

    def concerned(self) -> set[int]:
        """Patches with contacts that have failed or are welded."""
        found = self.metal.wiring.patches_of_element
        return {found[e] for e in self.failed | self.welded if e in found}

    def _from(self, near: Nets, positions: tuple[int, ...], patches: Iterable[int]) -> Nets:
        """The nets of a setting that differs from ``near`` in some patches."""
        wiring = self.metal.wiring
        labels: dict[int, int] = {}
        ohms: dict[int, float] = {}
        joins: dict[int, tuple[tuple[int, int], ...]] = {}
        for number in patches:
            patch = wiring.patches[number]
            closed = frozenset(e for e, _, _ in patch.contacts if self.is_closed(e, positions))
            found = wiring.label_patch(number, closed)
            labels.update(zip(patch.members, found.labels, strict=True))
            if found.joins or number in near._joins:
                joins[number] = found.joins
            ohms.update(self.metal.ohms_of_patch(number, closed))
        roots = Forest(wiring.terminals)
        for pairs in {**near._joins, **joins}.values():
            for a, b in pairs:
                roots.join(a, b)
        poles = tuple(roots.find(t) for t in wiring.terminal_of)
        return Nets(positions, poles, self, near, roots, labels, ohms, joins)


def _rail_ohms(layout: Layout) -> list[float]:
    """Ohms of each section from end to end, along the route that it is longest on."""
    longest = [0] * len(layout.nodes)
    for route in layout.routes:
        here: dict[int, int] = {}
        for span in route.spans:
            for node in {span.left, span.right} - {PLASTIC}:
                here[node] = here.get(node, 0) + span.to_um - span.from_um
        for node, length_um in here.items():
            longest[node] = max(longest[node], length_um)
    return [um * layout.rail_ohm_m / 1e6 for um in longest]
