"""Everything that a builder could add or cut.

Everything that a builder could add: wires between nets, changeovers on levers.

Cuts that a builder could make, and every choice of up to so many of them.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field
from itertools import combinations

from sim.analyses.handwork.pads import Place, places, refusal
from sim.analyses.search.model import ALWAYS, USES, Asked, Change, Cut, Demand, Join
from sim.analyses.search.tables import Plan
from sim.layout.assembly_log import matching
from sim.layout.model import Layout
from sim.pieces.families import CAN_CUT_PAST_FROG
from sim.pieces.kinds import KINDS

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


class AskedError(ValueError):
    """What was asked of a search cannot be sought. The message begins with its name."""


_SURVIVED: dict[str | None, tuple[Demand, ...]] = {
    None: (),
    "contact": ("contact",),
    "lever": ("lever",),
    "both": ("contact", "lever"),
}


def asked_for(
    layout: Layout,
    *,
    survive: str | None = None,
    most: int = 4,
    cuts: int = 2,
    use: str | None = None,
    at: str | None = None,
    settings: str = "timetable",
    sizes: str = "smallest",
) -> Asked:
    """The search that is asked for in words; ``use`` and ``at`` are lists with commas.

    Raises :class:`AskedError` for a word that is none, and an ``at`` that fits nothing.
    """
    words = use.split(",") if use is not None else list(USES)
    for name, value, known in (
        ("survive", survive, tuple(_SURVIVED)),
        ("settings", settings, ("timetable", "gangs")),
        ("sizes", sizes, ("smallest", "every")),
        *(("use", word, USES) for word in words),
    ):
        if value not in known:
            raise AskedError(f"{name}: expected one of {known}, got {value!r}")
    patterns = tuple(p.strip() for p in (at or "").split(",") if p.strip())
    lost = [pattern for pattern in patterns if not pieces_at(layout, pattern)]
    if lost:
        modules = ", ".join(
            repr(name) for name in dict.fromkeys(p.module for p in layout.pieces)
        )
        raise AskedError(
            f"at: expected modules ({modules}), pieces such as {layout.pieces[0].id!r} or "
            f"patterns of them, got {lost[0][:60]!r}, which fits none"
        )
    return Asked(
        demands=(*ALWAYS, *_SURVIVED[survive]),
        use=tuple(known for known in USES if known in words),
        most=most,
        most_cuts=cuts,
        at=patterns,
        gangs=settings == "gangs",
        every_size=sizes == "every",
    )


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


#: Choices of cuts that are gone through at most.
CUT_SETS_AT_MOST = 3000
#: ... and nodes of the layout times choices.
NODES_AT_MOST = 100_000


def cuts_of(layout: Layout, asked: Asked) -> list[Cut]:
    """Insulated joiners around pieces with contacts, gaps in such pieces, wires removed."""
    if "gap" not in asked.use or asked.most_cuts == 0:
        return []
    return [*_joints(layout), *_wires(layout), *_altered(layout)]


def _joints(layout: Layout) -> Iterator[Cut]:
    """One rail of each joint at a piece that has contacts."""
    index = {e.id: i for i, e in enumerate(layout.elements)}
    switched = {e.piece for e in layout.elements if e.kind == "contact"}
    seen: set[int] = set()
    for number in sorted(switched):
        placed = layout.pieces[number]
        for end in placed.ends:
            mate = layout.ends[end].joined
            for name in (layout.ends[end].id, layout.ends[mate].id if mate >= 0 else ""):
                owner, _, short = name.rpartition("/")
                for rail in ("north", "south"):
                    element = index.get(f"{owner}/joiner-{short}-{rail}")
                    if element is None or element in seen:
                        continue
                    if layout.elements[element].kind == "joiner":
                        seen.add(element)
                        fix = (("gap", {"at": name, "rails": rail}),)
                        words = f"an insulated joiner at {name}, {rail} rail"
                        yield Cut(words, (layout.elements[element].id,), fix)


def _wires(layout: Layout) -> Iterator[Cut]:
    for element in layout.elements:
        if element.kind == "jumper":
            yield Cut(f"{element.id} taken away", (element.id,), (("cut", element.id),))


def _altered(layout: Layout) -> Iterator[Cut]:
    """Gaps that a library piece can be given, as its own parameters."""
    for placed in layout.pieces:
        piece = placed.piece
        gaps = {gap.name for gap in piece.gaps}
        kind = KINDS.get(piece.kind)
        if kind is None:
            continue
        if "frog_gaps" in kind.model_fields and piece.family in CAN_CUT_PAST_FROG:
            if not any("-F-H" in name or "-frog-" in name for name in gaps):
                yield _alter(placed.id, "frog_gaps", f"gaps past the frogs of {placed.id}")
        elif "centre_gap" in kind.model_fields and "gap-A-centre" not in gaps:
            yield _alter(placed.id, "centre_gap", f"centre gaps in {placed.id}")


def _alter(piece: str, field: str, words: str) -> Cut:
    fix = (("alter", {"piece": piece, "set": {field: True}}),)
    return Cut(words, (), fix, alters=True, size=2)


def choices(cuts: list[Cut], most: int) -> Iterator[tuple[Cut, ...]]:
    """Every choice of cuts that sum to at most ``most``, the smaller ones first."""
    for total in range(most + 1):
        for number in range(total + 1):
            for chosen in combinations(cuts, number):
                if sum(cut.size for cut in chosen) == total:
                    yield chosen


def choices_at_most(layout: Layout) -> int:
    """How many choices are gone through: fewer on a large layout, so that it ends."""
    return max(1, min(CUT_SETS_AT_MOST, NODES_AT_MOST // max(1, len(layout.nodes))))
