"""Trains and what they are told to do: the inert half of motion.

Lengths are mm of the model, times seconds of the real clock, speeds mm/s.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from sim.layout.model import Layout

Do = Literal["circulate", "cross", "stop", "run", "wait", "throw"]


@dataclass(frozen=True, slots=True)
class Motor:
    """A motor between a vehicle's left and right pickups.

    ``speed_mm_s`` is what a timed metre gives at ``at_voltage_v``; speed is
    taken as linear in voltage from 0 at ``turns_down_to_v`` (measured: lower
    the throttle under a running engine until it stops).  ``start_voltage_v``:
    raise it under a standing engine until it moves.  Currents by a meter in
    the feed.  On a digital supply ``minimum_v`` is the least track voltage at
    which the decoder works.
    """

    speed_mm_s: float
    at_voltage_v: float
    start_voltage_v: float
    turns_down_to_v: float
    running_a: float
    starting_a: float
    minimum_v: float


@dataclass(frozen=True, slots=True)
class Vehicle:
    """One vehicle. Pickups are mm from its front coupling, measured with a ruler.

    All pickups of one side are wired together; with ``shares_with_next`` they
    are wired to those of the next vehicle too, through the coupling.  A
    ``turned`` vehicle has its pickups mirrored, end for end and side for side.
    """

    name: str
    length_mm: float
    pickups_left_mm: tuple[float, ...]
    pickups_right_mm: tuple[float, ...]
    motor: Motor | None = None
    shares_with_next: bool = False
    turned: bool = False


@dataclass(frozen=True, slots=True)
class Order:
    """One line of a train's timetable.

    ``circulate``: ``laps`` rounds of the track it stands on, a leg each.
    ``cross``: over to the other track through piece ``piece`` (one leg, ends when
    the last wheel has left it).  ``stop``: run to piece ``piece`` and stand on it
    with the front ``place_mm`` in, for ``for_s`` seconds (one leg, ends at the
    stand).  ``run``: run until the front reaches piece ``piece``.  ``wait``: stand
    for ``for_s``.  ``throw``: put ``control`` to ``position``.  ``backward`` turns
    the direction of travel for this order.
    """

    do: Do
    piece: int = -1
    control: int = -1
    position: str = ""
    laps: int = 1
    for_s: float = 0.0
    place_mm: float | None = None
    speed_mm_s: float | None = None
    backward: bool = False


@dataclass(frozen=True, slots=True)
class Train:
    """A line of vehicles on a path, front first.

    Starts with its front ``place_mm`` from the start of route ``route``, facing
    the route's finish (``toward_finish``) or its start.  Run-out:
    ``coasting_mm`` is measured from ``coasting_from_mm_s`` with the supply cut.
    ``energy_store_s`` is how long it runs with the supply cut and
    ``refill_s`` how long an empty store takes to fill.
    """

    name: str
    vehicles: tuple[Vehicle, ...]
    route: int
    place_mm: float
    toward_finish: bool
    orders: tuple[Order, ...]
    repeat: bool
    speed_mm_s: float
    acceleration_mm_s2: float
    braking_mm_s2: float
    coasting_mm: float
    coasting_from_mm_s: float
    energy_store_s: float = 0.0
    refill_s: float = 5.0

    @property
    def length_mm(self) -> float:
        """Front coupling to rear coupling."""
        return sum(v.length_mm for v in self.vehicles)


@dataclass(frozen=True, slots=True)
class Throw:
    """A throw by the clock: put ``control`` to ``position`` at ``at_s``."""

    at_s: float
    control: int
    position: str


@dataclass(frozen=True, slots=True)
class Conduct:
    """How a run is conducted: times in s, lengths in mm."""

    duration_s: float
    throw_s: float = 0.3
    nudge_after_s: float = 8.0
    nudge_mm: float = 30.0
    nudge_speed_mm_s: float = 50.0
    nudges_at_most: int = 10
    headway_mm: float = 50.0  #: clear length a train keeps behind another
    scale_ratio: float = 160.0  #: of the prototype to the model
    gauge_mm: float = 9.0


@dataclass(frozen=True, slots=True)
class Wear:
    """One part that fails in a run: by chance, or on purpose at a time or a throw.

    ``kind`` is an element's, or ``lever``, ``supply``, ``piece`` or ``train``;
    ``index`` its place among those.  ``what``, ``per`` and ``cleared_by`` are the
    scenario's words.  ``ohm`` is what a tired part has, ``length_mm`` how long a
    dirty place is.
    """

    name: str
    part: str
    kind: str
    index: int
    what: str
    chance: float | None = None
    per: str | None = None
    at_s: float | None = None
    at_throw: int | None = None
    for_s: float | None = None
    cleared_by: tuple[str, ...] = ()
    ohm: float | None = None
    length_mm: float | None = None


@dataclass(frozen=True, slots=True)
class Assumption:
    """A number that a result rests on, and whose it is."""

    what: str
    value: str
    whose: str  #: "yours", or where our default comes from


@dataclass(frozen=True, slots=True)
class Case:
    """A layout with its trains: all that a run needs but the seed."""

    scenario: str
    fix: str | None
    layout: Layout
    trains: tuple[Train, ...]
    throws: tuple[Throw, ...]
    conduct: Conduct
    assumptions: tuple[Assumption, ...]
    wear: tuple[Wear, ...] = ()
    keep_live: tuple[int, ...] = ()  #: sections that have to be live whatever is run
