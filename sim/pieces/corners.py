"""The four corners of a diamond, let into the rails of two crossing routes."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

from sim.pieces.geometry import Corner
from sim.pieces.model import Bond, Condition, Contact, Gap
from sim.pieces.rails import Draft, let_in, section_at

#: length of a diamond corner as a share of the gauge (assumption)
CORNER_SHARE = 2.0 / 3.0


@dataclass(frozen=True, slots=True)
class CornerWork:
    """What metal corners add to a piece; empty where they are plastic."""

    sections: tuple[str, ...] = ()
    bonds: tuple[Bond, ...] = ()
    gaps: tuple[Gap, ...] = ()
    contacts: tuple[Contact, ...] = ()


def let_in_corners(
    drafts: tuple[Draft, Draft],
    corners: Sequence[Corner],
    corner_mm: float,
    bonded_to: Mapping[str, str] | None = None,
    conditions: tuple[Condition, Condition] = ((), ()),
    fed: bool = False,
) -> tuple[tuple[Draft, Draft], CornerWork]:
    """Put the corners into both routes, plastic or as sections ``D-north`` and so on.

    ``bonded_to`` names the rail of each corner whose pole is fixed; the other
    corners are fed through contacts from the rail that they interrupt on the
    route that is set, under that route's condition.
    """
    first, second = drafts
    work = CornerWork()
    for corner in corners:
        rails = _sections_beside(drafts, corner)
        name = f"D-{corner.name}" if fed else None
        first = _let_in(first, corner.first, corner.first_mm, corner_mm, name)
        second = _let_in(second, corner.second, corner.second_mm, corner_mm, name)
        if name is not None:
            target = (bonded_to or {}).get(corner.name)
            work = _add(work, name, rails, target, conditions)
    return (first, second), work


def _sections_beside(drafts: tuple[Draft, Draft], corner: Corner) -> tuple[str, str]:
    """The rails that a corner interrupts, on the first and on the second route."""
    found = []
    sides = ((corner.first, corner.first_mm), (corner.second, corner.second_mm))
    for draft, (side, place_mm) in zip(drafts, sides, strict=True):
        laid = draft.left if side == "left" else draft.right
        found.append(str(section_at(laid, draft.length_mm / 2.0 + place_mm)))
    return found[0], found[1]


def _let_in(
    draft: Draft, side: str, place_mm: float, corner_mm: float, name: str | None
) -> Draft:
    at = draft.length_mm / 2.0 + place_mm
    low, high = at - corner_mm / 2.0, at + corner_mm / 2.0
    if side == "left":
        return replace(draft, left=let_in(draft.left, low, high, name))
    return replace(draft, right=let_in(draft.right, low, high, name))


def _add(
    work: CornerWork,
    name: str,
    rails: tuple[str, str],
    target: str | None,
    conditions: tuple[Condition, Condition],
) -> CornerWork:
    gaps = tuple(
        Gap(f"gap-{name}-{route}", name, beside)
        for route, beside in zip(("X1", "X2"), rails, strict=True)
    )
    bonds: tuple[Bond, ...] = ()
    contacts: tuple[Contact, ...] = ()
    if target is not None:
        bonds = (Bond(f"bond-{name}", name, target),)
    else:
        contacts = tuple(
            Contact(f"{name}-{route}", name, beside, condition)
            for route, beside, condition in zip(("X1", "X2"), rails, conditions, strict=True)
        )
    return CornerWork(
        (*work.sections, name),
        work.bonds + bonds,
        work.gaps + gaps,
        work.contacts + contacts,
    )
