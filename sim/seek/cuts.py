"""Cuts that a builder could make, and every choice of up to so many of them."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import combinations

from sim.layout.model import Layout
from sim.pieces.family import CAN_CUT_PAST_FROG
from sim.seek.model import Asked, Cut

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
        if piece.kind in ("turnout", "single crossover") and piece.family in CAN_CUT_PAST_FROG:
            if not any("-F-H" in name for name in gaps):
                yield _alter(placed.id, "frog_gaps", f"gaps past the frogs of {placed.id}")
        elif piece.kind == "scissors crossover" and "gap-A-centre" not in gaps:
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
