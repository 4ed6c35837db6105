"""The faults that one layout can have, one by one, and how likely each is."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Protocol

from sim.faults.kinds import KINDS, Effect, FaultKind, kinds_of


class Part(Protocol):
    """An element, as far as faults go."""

    @property
    def id(self) -> str:
        """What names it."""

    @property
    def kind(self) -> str:
        """Its kind of part."""

    @property
    def opens(self) -> float:
        """A contact's chance to stay open at a throw; of any other, to be open for a run."""

    @property
    def bad(self) -> float:
        """A contact's chance to be open for a whole run."""


class Lever(Protocol):
    """A lever, as far as faults go."""

    @property
    def id(self) -> str:
        """What names it."""

    @property
    def positions(self) -> Sequence[str]:
        """Where it can stand."""

    @property
    def fails(self) -> float:
        """How likely a scenario makes it that it stays, at a throw."""


class Supply(Protocol):
    """A supply, as far as faults go."""

    @property
    def name(self) -> str:
        """What names it."""


class Whole(Protocol):
    """A layout, as far as faults go."""

    @property
    def elements(self) -> Sequence[Part]:
        """In its order."""

    @property
    def levers(self) -> Sequence[Lever]:
        """In its order."""

    @property
    def supplies(self) -> Sequence[Supply]:
        """In its order."""


@dataclass(frozen=True, slots=True)
class Fault:
    """One part in one bad state.

    ``kind`` is the name of a kind; ``part`` the id of the element or lever, or the name of
    the supply; ``index`` its place among the layout's elements, levers or supplies.  A lever
    that does not follow stands ``turn`` positions on from where it should be: 1 for the
    usual two positions.  ``odds`` is how likely it is before anything is read.
    """

    kind: str
    part: str
    index: int
    turn: int = 0
    odds: float = 0.01

    @property
    def id(self) -> str:
        """Names the fault among all of its layout, the same with every fix."""
        more = f" ({self.turn} on)" if self.turn > 1 else ""
        return f"{self.part}: {self.kind}{more}"

    @property
    def effect(self) -> Effect:
        """What it does to its part."""
        return KINDS[self.kind].effect

    @property
    def of(self) -> str:
        """The kind of part that it is on."""
        return KINDS[self.kind].part

    @property
    def weight(self) -> float:
        """Odds for against: what a diagnosis is worth is the product over its faults."""
        share = min(max(self.odds, 1e-12), 1.0 - 1e-12)
        return share / (1.0 - share)


#: Chances that a scenario's rules give a fault for a whole run, by (kind of fault, part).
Standing = Mapping[tuple[str, str], float]


def faults_of(
    layout: Whole,
    among: Callable[[FaultKind], bool],
    odds: Mapping[str, float] | None = None,
    standing: Standing | None = None,
) -> Iterator[Fault]:
    """Every fault of a kind ``among`` those asked for, in the order of the layout.

    ``odds`` are the user's own, by kind of fault or by id of a part; the id outweighs.
    Then comes what the scenario says of the part, or by ``standing`` rules, and last the
    starting value.
    """
    own, ruled = odds or {}, standing or {}

    def likely(kind: FaultKind, part: str, said: float) -> float:
        usual = ruled.get((kind.name, part), said)
        return own.get(part, own.get(kind.name, usual))

    for i, e in enumerate(layout.elements):
        for kind in filter(among, kinds_of(e.kind)):
            yield Fault(kind.name, e.id, i, odds=likely(kind, e.id, found_in(kind, e)))
    for i, lever in enumerate(layout.levers):
        for kind in filter(among, kinds_of("lever")):
            said = lever.fails or kind.found
            for turn in range(1, len(lever.positions)):
                yield Fault(kind.name, lever.id, i, turn, likely(kind, lever.id, said))
    for i, supply in enumerate(layout.supplies):
        for kind in filter(among, kinds_of("supply")):
            yield Fault(kind.name, supply.name, i, odds=likely(kind, supply.name, kind.found))


def found_in(kind: FaultKind, part: Part) -> float:
    """How likely it is that an element is found with that fault.

    A contact is found open when it is bad for good, as likely as the scenario or else the
    starting value says, or when it has missed at the last throw.
    """
    if kind.effect != "opens":
        return kind.found
    if part.kind != "contact":
        return part.opens or kind.found
    good = (1.0 - (part.bad or kind.found)) * (1.0 - part.opens)
    return round(1.0 - good, 12)


def is_traced(kind: FaultKind) -> bool:
    """Whether a run can bring it about and tracing can tell."""
    return kind.is_traced


def can_be_found(kind: FaultKind) -> bool:
    """Whether readings can name it."""
    return kind.found > 0.0
