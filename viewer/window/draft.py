"""What a hand has changed and not saved: levers, contacts, jumpers; with undo and redo."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import Literal

from sim.faults.kinds import STARTS
from sim.layout.model import Element, Layout

ContactFault = Literal["open", "tired"]
#: Resistance of a tired contact, ohm.
TIRED_OHM = STARTS["tired_ohm"].value
#: Resistance of a jumper that a hand has laid: a short wire, ohm (assumption).
JUMPER_OHM = 0.01


@dataclass(frozen=True, slots=True)
class Jumper:
    """A wire between two pads, by their ids and the nodes that they are on."""

    start: str
    to: str
    a: int
    b: int


@dataclass(frozen=True, slots=True)
class Draft:
    """Changes by hand. ``levers`` and ``contacts`` are by index in the layout."""

    levers: Mapping[int, int] = field(default_factory=dict)
    contacts: Mapping[int, ContactFault] = field(default_factory=dict)
    jumpers: tuple[Jumper, ...] = ()

    def with_lever(self, lever: int, position: int) -> Draft:
        """A lever put somewhere."""
        return replace(self, levers={**self.levers, lever: position})

    def with_contact(self, contact: int, fault: ContactFault | None) -> Draft:
        """A contact made open, tired, or good again."""
        contacts = {k: v for k, v in self.contacts.items() if k != contact}
        if fault is not None:
            contacts[contact] = fault
        return replace(self, contacts=contacts)

    def with_jumper(self, jumper: Jumper) -> Draft:
        """One jumper more."""
        return replace(self, jumpers=(*self.jumpers, jumper))

    def without_jumper(self, number: int) -> Draft:
        """Jumper ``number`` of the draft taken off."""
        return replace(self, jumpers=self.jumpers[:number] + self.jumpers[number + 1 :])

    def without_levers(self) -> Draft:
        """Levers left to the timetable again."""
        return replace(self, levers={})

    @property
    def open_contacts(self) -> frozenset[int]:
        """Contacts made open."""
        return frozenset(k for k, v in self.contacts.items() if v == "open")

    @property
    def tired_contacts(self) -> frozenset[int]:
        """Contacts made tired."""
        return frozenset(k for k, v in self.contacts.items() if v == "tired")


def faulty(layout: Layout, draft: Draft) -> Layout:
    """The layout with the draft's contacts failing, for a run."""
    if not draft.contacts:
        return layout
    return replace(
        layout,
        elements=tuple(
            _failing(e, draft.contacts.get(k)) for k, e in enumerate(layout.elements)
        ),
    )


def _failing(element: Element, fault: ContactFault | None) -> Element:
    if fault == "open":
        return replace(element, opens=1.0)
    if fault == "tired":
        return replace(element, resistance_ohm=TIRED_OHM)
    return element


def wired(layout: Layout, jumpers: Sequence[Jumper]) -> Layout:
    """The layout with those jumpers; what was there keeps its index."""
    if not jumpers:
        return layout
    taken = {e.id for e in layout.elements}
    added = []
    number = 1
    for jumper in jumpers:
        while f"new jumper {number}" in taken:
            number += 1
        name = f"new jumper {number}"
        taken.add(name)
        added.append(_jumper(name, jumper))
    return replace(layout, elements=(*layout.elements, *added))


def _jumper(name: str, jumper: Jumper) -> Element:
    element = Element(name, "jumper", jumper.a, jumper.b, resistance_ohm=JUMPER_OHM)
    if hasattr(element, "taps"):
        return replace(element, taps=(jumper.start, jumper.to))
    return element


class History:
    """Drafts that were, and those that were undone."""

    def __init__(self) -> None:
        self.now = Draft()
        self._before: list[Draft] = []
        self._after: list[Draft] = []

    def do(self, draft: Draft) -> None:
        """A new draft; what was undone is forgotten."""
        self._before.append(self.now)
        self._after.clear()
        self.now = draft

    def undo(self) -> bool:
        """The draft before; False where there is none."""
        if not self._before:
            return False
        self._after.append(self.now)
        self.now = self._before.pop()
        return True

    def redo(self) -> bool:
        """The draft that was undone last; False where there is none."""
        if not self._after:
            return False
        self._before.append(self.now)
        self.now = self._after.pop()
        return True
