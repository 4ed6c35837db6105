"""Causes as facts: why a train stalled, a supply tripped, or a train derailed.

A cause is a chain of reasons.  Each has a kind from a closed list and the ids, names and
numbers that belong to it; :mod:`sim.pages.phrases` makes sentences of them, and nothing
else does.  What is grouped, ringed or counted goes by these facts.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable
from dataclasses import dataclass
from typing import Literal, get_args

#: The rail of the route, seen from its start; "" where no side is meant.
Side = Literal["left", "right", "both", ""]

#: What is told of one element.  ``elements`` names it, ``levers`` how those lie that move
#: it, ``sections`` what it parts.
ElementReason = Literal[
    "stayed open",  # a contact, at its last throw
    "bad for the run",  # a contact that is not tested, for the whole run
    "lost contact",  # anything that should conduct always; ``at`` is the kind of element
    "is open",  # a contact, as its levers lie
    "is closed",  # a contact, as its levers lie: it puts the wrong pole there
    "gap parts",  # a gap between two sections
    "joiner parts",  # a joiner that is open, between two sections
]
#: What kind of dead the rails are; those that a run can stall on.
DeadReason = Literal["floating", "same pole", "no return", "wrong voltage", "insulated"]
#: Why a train stalled.
StallReason = Literal[
    "throttles opposed",  # ``who`` is pulled both ways
    "too few volts",  # ``who`` is fed and does not start
    "element costs",  # ``elements`` costs ``numbers`` (V)
    "rail costs",  # the rail of ``sections`` costs ``numbers`` (V)
    "supply costs",  # the inside of the supply ``who`` costs ``numbers`` (V)
    "lost supply",  # ``who`` on ``side``, seen from the end ``at``
    "stands on",  # pickups on ``side`` on ``sections``, with the pole ``at``, "" for none
    "over plastic",  # every pickup on ``side``
    "over plastic or dirt",  # the same where some rails are dirty
]
#: Why a supply tripped.
TripReason = Literal[
    "overloaded",  # the supply ``who`` gives ``numbers[0]`` A and trips at ``numbers[1]`` A
    "trains draw it",  # no short: all its trains together
    "shorted",  # the supply ``who``
    "by the wiring",  # no train makes it
    "joins poles",  # the train ``who`` on the route ``at``
    "bridges",  # pickups of the vehicle ``who`` on ``side`` stand on ``sections``
]
#: Why a train derailed; ``levers`` of the derailment tell of which.
DerailReason = Literal["wrong leg", "moving points", "points set for nothing", "moved under it"]
ReasonKind = Literal[ElementReason, DeadReason, StallReason, TripReason]

#: Kinds of reasons that say what a cause is, the first of them that a chain has; what is
#: at fault says more than what comes of it.
CauseKind = Literal[
    ElementReason,
    DeadReason,
    "throttles opposed",
    "too few volts",
    "overloaded",
    "joins poles",
    "by the wiring",
]
_ELEMENT: Collection[str] = get_args(ElementReason)
_CAUSE: Collection[str] = get_args(CauseKind)
#: Kinds that tell of something broken: a fault explains more than a design.
FAILED: Collection[ReasonKind] = ("stayed open", "bad for the run", "lost contact")


@dataclass(frozen=True, slots=True, order=True)
class Reason:
    """One link of a chain; what each kind fills in stands beside it above.

    ``elements`` and ``sections`` are ids, ``levers`` pairs of id and position, ``numbers``
    V or A.  ``further`` is set for what touches no rail under the train.
    """

    kind: ReasonKind
    who: str = ""
    side: Side = ""
    elements: tuple[str, ...] = ()
    levers: tuple[tuple[str, str], ...] = ()
    sections: tuple[str, ...] = ()
    at: str = ""
    numbers: tuple[float, ...] = ()
    further: bool = False


@dataclass(frozen=True, slots=True, order=True)
class Cause:
    """Why something happened: the side that it is about, and the chain of reasons."""

    side: Side
    reasons: tuple[Reason, ...]

    @property
    def kind(self) -> CauseKind:
        """What is at fault if anything is, else what kind of dead it is."""
        return self._deciding()[0].kind  # type: ignore[return-value]

    def _deciding(self) -> list[Reason]:
        told = [r for r in self.reasons if r.kind in _CAUSE]
        return [r for r in told if r.kind in _ELEMENT] or told

    @property
    def elements(self) -> tuple[str, ...]:
        """Ids of all elements that the chain names, each once."""
        return _each_once(e for r in self.reasons for e in r.elements)

    @property
    def failed(self) -> tuple[str, ...]:
        """Those of them that are broken."""
        return _each_once(e for r in self.reasons if r.kind in FAILED for e in r.elements)

    @property
    def levers(self) -> tuple[tuple[str, str], ...]:
        """Levers that the chain names, with their positions, each once."""
        return tuple(dict.fromkeys(pair for r in self.reasons for pair in r.levers))


def _each_once(ids: Iterable[str]) -> tuple[str, ...]:
    return tuple(dict.fromkeys(ids))
