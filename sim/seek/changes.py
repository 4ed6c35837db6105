"""Everything that a builder could add: wires between nets, changeovers on levers."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field
from itertools import combinations

from sim.handwork.pads import Place, places, refusal
from sim.layout.model import Layout
from sim.layout.report import matching
from sim.seek.model import Asked, Change, Join
from sim.seek.plan import Plan

#: Elements that lead from a supply's pole to where feeders can be dropped.
_SOURCE = ("bus",)


@dataclass(slots=True)
class Ground:
    """Where things can be soldered, by cluster, and which pads were refused and why.

    ``sources`` are nodes of poles and buses that a feeder can be run from.
    """

    by_cluster: dict[int, list[Place]] = field(default_factory=dict)
    refused: list[tuple[str, str]] = field(default_factory=list)
    sources: dict[int, list[int]] = field(default_factory=dict)


def survey_ground(plan: Plan) -> Ground:
    """Sort the usable pads by the cluster they belong to."""
    layout, asked = plan.layout, plan.asked
    ground = Ground()
    allowed = _allowed(layout, asked)
    for place in places(layout):
        if place.piece not in allowed:
            continue
        why = refusal(layout, place)
        if why is None:
            ground.by_cluster.setdefault(plan.clusters[place.node], []).append(place)
        else:
            ground.refused.append((place.ref, why))
    for node in _source_nodes(layout):
        ground.sources.setdefault(plan.clusters[node], []).append(node)
    return ground


def _allowed(layout: Layout, asked: Asked) -> set[int]:
    if not asked.at:
        return set(range(len(layout.pieces)))
    return {number for pattern in asked.at for number in pieces_at(layout, pattern)}


def pieces_at(layout: Layout, pattern: str) -> list[int]:
    """Pieces that a pattern of ``Asked.at`` fits: by their own name or their module's."""
    fits = set(matching(pattern, [placed.id for placed in layout.pieces]))
    return [
        number
        for number, placed in enumerate(layout.pieces)
        if placed.id in fits or placed.module == pattern
    ]


def _source_nodes(layout: Layout) -> Iterator[int]:
    for supply in layout.supplies:
        yield from (supply.plus, supply.minus)
    for element in layout.elements:
        if element.kind in _SOURCE:
            yield element.b


def changes_of(plan: Plan, ground: Ground) -> list[Change]:
    """Every change that the search may use; those that are bad alone are left out."""
    use = set(plan.asked.use)
    found: dict[tuple[int, int], Change] = {}
    if use & {"jumper", "length"}:
        for a, b in _within_modules(plan.layout, ground):
            found.setdefault((a, b), _wire(plan, a, b))
    if use & {"feeder"}:
        for source in ground.sources:
            for cluster in ground.by_cluster:
                if cluster != source:
                    pair = (min(source, cluster), max(source, cluster))
                    found.setdefault(pair, _wire(plan, *pair))
    changes = [found[pair] for pair in sorted(found)]
    if "changeover" in use:
        changes += _changeovers(plan, ground)
    return changes


def _wire(plan: Plan, a: int, b: int) -> Change:
    """A wire between two clusters, each named by its first node."""
    return Change((Join(a, b),))


def _within_modules(layout: Layout, ground: Ground) -> Iterator[tuple[int, int]]:
    """Pairs of clusters that have pads on one and the same board."""
    on: dict[str, dict[int, None]] = {}
    for cluster, found in ground.by_cluster.items():
        for place in found:
            on.setdefault(layout.pieces[place.piece].module, {})[cluster] = None
    for clusters in on.values():
        yield from combinations(sorted(clusters), 2)


def _changeovers(plan: Plan, ground: Ground) -> Iterable[Change]:
    """Contacts to add on a lever, feeding a rail of its piece from its two stock rails."""
    layout = plan.layout
    on_piece: dict[int, dict[int, None]] = {}
    for cluster, found in ground.by_cluster.items():
        for place in found:
            on_piece.setdefault(place.piece, {})[cluster] = None
    for lever, kept in enumerate(layout.levers):
        if len(kept.positions) != 2:
            continue
        targets = _targets(plan, lever)
        for cluster in sorted(on_piece.get(kept.piece, ())):
            if cluster in plan.pole_of:
                continue
            for first, second in combinations(targets, 2):
                for one, other in ((first, second), (second, first)):
                    if cluster not in (one, other):
                        joins = (
                            Join(cluster, one, (lever, 0)),
                            Join(cluster, other, (lever, 1)),
                        )
                        yield Change(joins)


def _targets(plan: Plan, lever: int) -> list[int]:
    """Clusters that the lever's own contacts connect a frog or blade to.

    What two of its contacts have in common is the frog itself.
    """
    found: dict[int, int] = {}
    for i in plan.contacts_on.get(lever, ()):
        element = plan.layout.elements[i]
        levers = {needed for clause in element.when for needed, _ in clause}
        if levers == {lever}:
            for node in (element.b, element.a):
                cluster = plan.clusters[node]
                found[cluster] = found.get(cluster, 0) + 1
    if not found:
        for route in plan.layout.routes:
            if any(p.lever == lever for p in route.points):
                span = route.spans[0]
                found.update({plan.clusters[n]: 1 for n in (span.left, span.right) if n >= 0})
    return [cluster for cluster, ends in found.items() if ends == 1]
