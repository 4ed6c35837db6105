"""What a search is asked for, and what it gives back."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any, Literal

from sim.analyses.handwork.hazards import Refusal
from sim.scenario.fixes import FixTable

Demand = Literal["live", "no short", "apart", "contact", "lever"]
Use = Literal["jumper", "feeder", "length", "changeover", "gap"]
Way = Literal["inside", "under the board", "added lengths", "feeder", "changeover"]

#: Pieces of a fix as (field, item): what it adds to the lists of a ``[[fix]]`` table.
Parts = tuple[tuple[str, Any], ...]

#: In the order in which they are told. The first three are always asked.
DEMANDS: tuple[Demand, ...] = ("live", "no short", "apart", "contact", "lever")
ALWAYS: tuple[Demand, ...] = DEMANDS[:3]
USES: tuple[Use, ...] = ("jumper", "feeder", "length", "changeover", "gap")
#: Settings of one group of levers that are gone through at most.
SETTINGS_AT_MOST = 4096


@dataclass(frozen=True, slots=True)
class Asked:
    """What is sought.

    ``most`` is the greatest number of changes (wires, changeovers and cuts
    together), ``most_cuts`` the greatest number of cuts among them.  ``at`` are
    patterns over ``module/piece``: where something may be done; empty is anywhere.
    ``gangs`` asks for every setting of the gangs instead of the timetable's.
    ``every_size`` keeps on after the smallest sets, up to ``most``.
    """

    demands: tuple[Demand, ...] = ALWAYS
    use: tuple[Use, ...] = USES
    most: int = 4
    most_cuts: int = 2
    at: tuple[str, ...] = ()
    gangs: bool = False
    every_size: bool = False


@dataclass(frozen=True, slots=True)
class Join:
    """A connection between two nets, ``a`` and ``b``: a node of each stands for it.

    ``when`` is None for a wire; of a changeover it is the (lever, position).
    """

    a: int
    b: int
    when: tuple[int, int] | None = None


@dataclass(frozen=True, slots=True)
class Change:
    """One thing that a builder could add: a wire is one join, a changeover has two."""

    joins: tuple[Join, ...]

    @property
    def is_wire(self) -> bool:
        """Whether it is closed in every setting."""
        return self.joins[0].when is None


@dataclass(frozen=True, slots=True)
class Cut:
    """One cut: the elements (by id) that conduct no more, or a piece to be altered."""

    name: str
    elements: tuple[str, ...]
    fix: Parts
    alters: bool = False
    size: int = 1


@dataclass(slots=True)
class Figures:
    """How much was looked at, and why the rest needed no look.

    ``possible`` is the number of sets of allowed size; ``changes`` of single
    changes and ``refused`` of those that shorted or joined loops by themselves.
    """

    changes: int = 0
    refused: int = 0
    possible: int = 0
    cut_sets: int = 0
    examined: int = 0
    pruned: dict[str, int] = field(default_factory=dict)

    def prune(self, why: str) -> None:
        """Count a branch that was given up."""
        self.pruned[why] = self.pruned.get(why, 0) + 1

    def add(self, other: Figures) -> None:
        """Add the figures of another part of the search."""
        self.changes += other.changes
        self.refused += other.refused
        self.possible += other.possible
        self.cut_sets += other.cut_sets
        self.examined += other.examined
        for why, count in other.pruned.items():
            self.pruned[why] = self.pruned.get(why, 0) + count


@dataclass(frozen=True, slots=True)
class Option:
    """One way of making one change: where to solder, and what to mind."""

    way: Way
    start: str
    to: str
    length_mm: float | None
    cautions: tuple[str, ...]
    fix: Parts


@dataclass(frozen=True, slots=True)
class FoundChange:
    """One change of a found set: which sections it joins, and the ways to make it."""

    words: str
    options: tuple[Option, ...]


@dataclass(frozen=True, slots=True)
class FoundSet:
    """One set that meets the demands and of which nothing can be left out."""

    changes: tuple[FoundChange, ...]
    cuts: tuple[str, ...]
    fixes: tuple[FixTable, ...]
    size: int  #: changes and cuts together; gaps past two frogs are two cuts


@dataclass(frozen=True, slots=True)
class Conflict:
    """Demands that cannot be met together, though each smaller choice of them can.

    ``without`` gives for each of them the smallest sets' size that meets the others.
    """

    demands: tuple[Demand, ...]
    without: tuple[tuple[Demand, int], ...]
    why: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Crossing:
    """A stretch between the gaps of a route from one loop to another.

    No wire makes it live while the supplies stay isolated; pickups must reach past it.
    ``short_of`` names trains whose pickups do not.
    """

    route: str
    from_mm: float
    to_mm: float
    short_of: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Found:
    """The answer of a search.

    ``complete`` is False where a stated limit cut the search short; ``size`` is that
    of the smallest sets, None when there are none.
    """

    scenario: str
    fix: str | None
    asked: Asked
    sets: tuple[FoundSet, ...]
    size: int | None
    conflicts: tuple[Conflict, ...]
    hopeless: tuple[str, ...]
    crossings: tuple[Crossing, ...]
    refused_pads: tuple[Refusal, ...]
    figures: Figures
    notes: tuple[str, ...]
    complete: bool
    more_sets: int = 0  #: sets that were found but are too many to list
