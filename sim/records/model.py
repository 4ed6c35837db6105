"""The record of one run.

Times are seconds since the start, rounded to the microsecond; places are mm
from the ``start`` end of the route named beside them, rounded to 0.001 mm.
A record holds what happened and no statistics.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from sim.records.causes import Cause, DerailReason

Kind = Literal[
    "floating",
    "same pole",
    "no return",
    "wrong voltage",
    "insulated",
    "tripped",
    "starved",
]
Outcome = Literal["clean", "hesitated", "stalled", "tripped", "held", "not finished"]
StallSide = Literal["left", "right", "both"]
#: Behind what a train stood and waited, the worse of them: one that stalled or tripped.
WaitedFor = Literal["traffic", "stopped train"]


@dataclass(frozen=True, slots=True)
class Leg:
    """One leg of the timetable, from start order to end order.

    ``waited_for`` tells behind what it stood, None where it did not; ``finished``
    whether its end order was carried out.
    """

    train: str
    leg: str
    outcome: Outcome
    start_s: float
    end_s: float
    waited_for: WaitedFor | None = None
    finished: bool = True


@dataclass(frozen=True, slots=True)
class Pass:
    """One train on one route of a piece with levers. ``leave_s`` is None if it never left."""

    train: str
    route: str
    outcome: Outcome
    enter_s: float
    leave_s: float | None


@dataclass(frozen=True, slots=True)
class Stall:
    """A train standing although its throttle asks for movement, without usable supply.

    ``side`` is the rail of ``route``, left and right seen from its start, whichever way
    the train goes.  ``section`` is the one under the first pickup on the rail that lost
    supply; where that has no metal there, the one under the other; "" where neither has.
    ``charged_to`` the piece (``module/piece``) that the cause lies in, or None;
    ``nudges`` how often a hand moved it before it went on.
    """

    time_s: float
    train: str
    route: str
    section: str
    place_mm: float
    side: StallSide | None
    kind: Kind
    cause: Cause
    would_restore: tuple[tuple[str, ...], ...]
    nudges: int
    charged_to: str | None


@dataclass(frozen=True, slots=True)
class Hesitation:
    """A dropout at the motor that ended before the train stood."""

    time_s: float
    train: str
    route: str
    section: str
    duration_s: float


@dataclass(frozen=True, slots=True)
class Dropout:
    """An interval without usable supply, at the pickups or (store empty) at the motor."""

    time_s: float
    train: str
    where: Literal["pickups", "motor"]
    kind: Kind
    duration_s: float


@dataclass(frozen=True, slots=True)
class Trip:
    """A supply that switched itself off."""

    time_s: float
    supply: str
    current_a: float | None  #: None when only traced, not solved
    cause: Cause
    halted: tuple[str, ...]  #: trains that lost supply by it


@dataclass(frozen=True, slots=True)
class Derailment:
    """A lever moved under a train, or a train met moving points."""

    time_s: float
    train: str
    route: str
    lever: str
    cause: DerailReason


@dataclass(frozen=True, slots=True)
class RunThrough:
    """A train came from the leg that was not set."""

    time_s: float
    train: str
    route: str
    lever: str
    then: Literal["forced over", "springs back", "derails"]


@dataclass(frozen=True, slots=True)
class Reversal:
    """A train met supply of the other direction and fought it."""

    time_s: float
    train: str
    route: str
    place_mm: float
    supply: str


@dataclass(frozen=True, slots=True)
class Event:
    """A throw, a fault or another thing worth a mark on a time line.

    ``what`` is one of ``throw``, ``did not follow``, ``stayed open``,
    ``fault``, ``mended``, ``remade``, ``held``, ``go on``, ``nudge``, ``reset``,
    ``end of track``.
    """

    time_s: float
    what: str
    who: str
    detail: str


@dataclass(frozen=True, slots=True)
class Motion:
    """A train's exact motion from ``time_s`` until its next entry.

    The front is ``place_mm`` along route ``route`` (from its start end), moving
    at ``speed_mm_s`` (negative: toward the start end) with ``acceleration_mm_s2``
    in the same sense.  ``powered`` tells whether the motor has usable supply.
    ``under`` are the routes that the train stands on, from the front's backwards,
    each with whether it is run toward its finish; ``rear_leads`` is set while the
    end that the timetable calls the rear goes first, and is the front here.
    """

    time_s: float
    train: str
    route: str
    place_mm: float
    speed_mm_s: float
    acceleration_mm_s2: float
    powered: bool
    under: tuple[tuple[str, bool], ...] = ()
    rear_leads: bool = False


ChangeKind = Literal["lever", "contact", "supply", "fault", "mended"]


@dataclass(frozen=True, slots=True)
class Change:
    """A lever, contact or supply that is another way from ``time_s`` on, or has a fault.

    ``state`` of a ``lever`` is its position, or ``moving``; of a ``contact``
    ``closed`` or ``open`` (what is not named at time 0 is open); of a ``supply``
    ``on`` or ``off``.  A ``fault`` and one that is ``mended`` name the part, and the kind of
    fault as ``state``.
    """

    time_s: float
    what: ChangeKind
    who: str
    state: str


@dataclass(frozen=True, slots=True)
class Record:
    """All that one run left behind.

    ``motions`` and ``changes`` are empty unless they were asked for.
    """

    scenario: str
    fix: str | None
    seed: int
    duration_s: float
    legs: tuple[Leg, ...]
    passes: tuple[Pass, ...]
    stalls: tuple[Stall, ...]
    hesitations: tuple[Hesitation, ...]
    dropouts: tuple[Dropout, ...]
    trips: tuple[Trip, ...]
    derailments: tuple[Derailment, ...]
    run_throughs: tuple[RunThrough, ...]
    reversals: tuple[Reversal, ...]
    events: tuple[Event, ...]
    motions: tuple[Motion, ...] = ()
    random: bool = False  #: True when some probability in the case lies between 0 and 1
    changes: tuple[Change, ...] = ()
