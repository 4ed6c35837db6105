"""What one gesture of a hand makes of a draft, and how that is said."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from sim.layout.model import Layout
from viewer.window.draft import ContactFault, Draft, Jumper

#: What a gesture makes of a contact that fails so, and how that is said.
NEXT_FAULT: dict[ContactFault | None, ContactFault | None] = {
    None: "open",
    "open": "tired",
    "tired": None,
}
FAULT_SAYS: dict[ContactFault | None, str] = {
    "open": "stays open",
    "tired": "is tired",
    None: "is good",
}


@dataclass(frozen=True, slots=True)
class Change:
    """A new draft, and what has been done, in words."""

    draft: Draft
    says: str


def thrown(
    draft: Draft, layout: Layout, positions: Sequence[int], lever: int, alone: bool
) -> Change:
    """A lever thrown to its next position, with its gang or alone; ``positions`` are seen."""
    described = layout.levers[lever]
    word = described.positions[(max(0, positions[lever]) + 1) % len(described.positions)]
    # From now on all levers are in the hand: they stay where they are seen.
    for k, position in enumerate(positions):
        if k not in draft.levers:
            draft = draft.with_lever(k, max(0, position))
    gang: Sequence[int] = (lever,)
    if not alone:
        gang = next((c.levers for c in layout.controls if lever in c.levers), gang)
    for member in gang:
        words = layout.levers[member].positions
        if word in words:
            draft = draft.with_lever(member, words.index(word))
    names = described.id if len(gang) == 1 else f"{described.id} and its gang"
    return Change(draft, f"{names} to {word}")


def faulted(draft: Draft, layout: Layout, contact: int) -> Change:
    """A contact from good to open, to tired, to good again."""
    fault = NEXT_FAULT[draft.contacts.get(contact)]
    name = layout.elements[contact].id
    return Change(draft.with_contact(contact, fault), f"contact {name} {FAULT_SAYS[fault]}")


def laid(draft: Draft, layout: Layout, start: str, to: str) -> Change:
    """A jumper laid between two pads."""
    nodes = dict(layout.pads)
    jumper = Jumper(start, to, nodes[start], nodes[to])
    return Change(draft.with_jumper(jumper), f"jumper {start} to {to}")


def taken_off(draft: Draft, layout: Layout, element: int) -> Change | None:
    """A jumper of the draft taken off; None where ``element`` is no such jumper.

    ``layout`` is the one without the draft: its jumpers come after its elements.
    """
    number = element - len(layout.elements)
    if not 0 <= number < len(draft.jumpers):
        return None
    return Change(draft.without_jumper(number), "jumper taken off")
