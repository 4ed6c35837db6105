"""Which rails are one net in a setting, and how many ohms lie before each.

A drive asks this of a few rails in thousands of settings, so what permanent metal
joins is worked out once, and what contacts add patch by patch
(:mod:`sim.power.wiring`).
"""

from __future__ import annotations

import heapq
from collections.abc import Sequence
from dataclasses import dataclass
from math import inf

from sim.layout.model import PLASTIC, Layout
from sim.power.graph import is_closed
from sim.power.wiring import Forest, Wiring, wire

#: What an element is worth whose resistance nobody has given (ohm).
UNKNOWN_OHM = 0.005


@dataclass(frozen=True, slots=True)
class Nets:
    """The nets of one setting; ``net_of_pole`` is by pole (two for each supply)."""

    _wiring: Wiring
    _roots: Forest
    _labels: dict[int, int]
    _ohms: dict[int, float]
    _base_ohm: Sequence[float]
    net_of_pole: tuple[int, ...]

    def net(self, node: int) -> int:
        """The net that section ``node`` belongs to: equal numbers are joined."""
        cluster = self._wiring.cluster_of[node]
        label = self._labels.get(cluster)
        if label is None:
            return self._wiring.terminals + cluster
        return self._roots.find(label) if label < self._wiring.terminals else label

    def is_fed_for_good(self, node: int) -> bool:
        """Whether permanent metal joins ``node`` to a pole."""
        return self._base_ohm[node] < inf

    def ohm(self, node: int) -> float:
        """At most so many ohms lie between ``node`` and a pole of its net; inf for none.

        The ohms of one way there: by Rayleigh's monotonicity law what other ways
        there are can only lessen it.
        """
        own = self._base_ohm[node]
        return own if own < inf else self._ohms.get(self._wiring.cluster_of[node], inf)


class NetsOf:
    """Makes the nets of any setting of one layout."""

    def __init__(self, layout: Layout) -> None:
        self._layout = layout
        self._wiring = wire(layout)
        self._poles = [p for s in layout.supplies for p in (s.plus, s.minus)]
        self._rail_ohm = _rail_ohms(layout)
        self._base_ohm = self._permanent_ohms()
        self._cluster_ohm: dict[int, float] = {}
        for node, ohm in enumerate(self._rail_ohm):
            cluster = self._wiring.cluster_of[node]
            self._cluster_ohm[cluster] = self._cluster_ohm.get(cluster, 0.0) + ohm
        self._patch_ohms: dict[tuple[int, frozenset[int]], dict[int, float]] = {}

    def of(self, positions: Sequence[int]) -> Nets:
        """The nets with the levers at ``positions`` (a position index by lever)."""
        wiring, elements = self._wiring, self._layout.elements
        roots = Forest(wiring.terminals)
        labels = {c: t for t, c in enumerate(wiring.terminal_clusters)}
        ohms: dict[int, float] = {}
        for number, patch in enumerate(wiring.patches):
            closed = frozenset(
                e for e, _, _ in patch.contacts if is_closed(elements[e], positions)
            )
            found = wiring.label_patch(number, closed)
            labels.update(zip(patch.members, found.labels, strict=True))
            for a, b in found.joins:
                roots.join(a, b)
            ohms.update(self._ohms_of_patch(number, closed))
        poles = tuple(roots.find(t) for t in wiring.terminal_of)
        return Nets(wiring, roots, labels, ohms, self._base_ohm, poles)

    def _permanent_ohms(self) -> list[float]:
        """By node: ohms of the best way to a pole over permanent elements only."""
        near: list[list[tuple[int, float]]] = [[] for _ in self._layout.nodes]
        for e in self._layout.elements:
            if e.kind not in ("gap", "contact"):
                ohm = UNKNOWN_OHM if e.resistance_ohm is None else e.resistance_ohm
                near[e.a].append((e.b, ohm))
                near[e.b].append((e.a, ohm))
        best = [inf] * len(self._layout.nodes)
        heap = [(0.0, p) for p in dict.fromkeys(self._poles)]
        while heap:
            ohm, here = heapq.heappop(heap)
            if ohm >= best[here]:
                continue
            best[here] = ohm
            for there, more in near[here]:
                heapq.heappush(heap, (ohm + more + self._rail_ohm[there], there))
        return best

    def _ohms_of_patch(self, number: int, closed: frozenset[int]) -> dict[int, float]:
        """Ohms before each inner cluster of a patch, through its closed contacts."""
        known = self._patch_ohms.get((number, closed))
        if known is not None:
            return known
        elements = self._layout.elements
        best: dict[int, float] = {}
        wave: dict[int, float] = {}
        near: dict[int, list[tuple[int, float]]] = {}
        for e, a, b in self._wiring.patches[number].contacts:
            if e not in closed:
                continue
            element = elements[e]
            ohm = UNKNOWN_OHM if element.resistance_ohm is None else element.resistance_ohm
            for node, far in ((element.a, b), (element.b, a)):
                if (seed := self._base_ohm[node]) < inf:
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
        self._patch_ohms[number, closed] = best
        return best


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
