"""One train in a run: where it is, what holds it, what it gets, and who moves it."""

from __future__ import annotations

from math import inf
from typing import Protocol

from sim.layout.model import UM_PER_MM, Layout
from sim.layout.traffic import Conduct, Train
from sim.power.poles import Verdict
from sim.records.causes import DerailReason
from sim.records.model import Kind
from sim.run.agenda import Agenda
from sim.run.consist import Unit
from sim.run.kinematics import US_PER_S
from sim.run.path import Mark, Path, Segment
from sim.run.supply import ThrottleSettings

#: Room below which a standing train does not start: it would only creep (µm).
NO_ROOM_UM = 1_000.0


class TrainMotion(Protocol):
    """What a train may be told or asked to do; whatever moves it answers."""

    def look_again(self) -> None:
        """Look out later in this instant: what is ahead has changed."""

    def look_in_a_moment(self) -> None:
        """The train ahead goes on otherwise, but not to a stand: see to it, soon."""

    def advance(self) -> None:
        """Bring place and speed up to this instant."""

    def power_changed(self) -> None:
        """The supply at the pickups, the throttle or the timetable has changed."""

    def levers_moved(self, piece: int) -> None:
        """Levers of ``piece`` have moved: take the route they now give, if not too late."""

    def extend(self) -> None:
        """Make the path known as far ahead as the train may need."""

    def extend_and_replan(self) -> None:
        """Orders have changed: look ahead again."""

    def turn_round(self) -> None:
        """Run the other way from here; it stands."""

    def derail(self, route: str, lever: str, cause: DerailReason) -> None:
        """Leave the run."""

    def push(self, until_live: bool) -> None:
        """A hand moves it on: by the usual distance, or until it has supply."""


class TrainPower:
    """What a train's motors get, as last read.

    ``unit`` is the motored one that gets most; ``supplies`` are those that fed it
    last: their throttles are the ones its driver has in hand.
    """

    __slots__ = (
        "drives",
        "fights",
        "goal_um_s",
        "stalled",
        "supplies",
        "torn",
        "unit",
        "usable",
        "verdict",
    )

    def __init__(self, unit: Unit) -> None:
        self.unit = unit
        self.supplies: tuple[int, ...] = ()
        self.usable = False  #: at the pickups
        self.drives = False  #: at the motor, its store counted
        self.fights = False  #: would drive it backward
        self.torn = False  #: two throttles pull it opposite ways, until a hand moves it
        self.verdict: Verdict = "insulated"
        self.goal_um_s = 0.0  #: speed that it is driven at
        self.stalled: int | None = None  #: number of the stall that is not over yet

    def kind(self) -> Kind:
        """The kind of dead; a short that has not tripped yet counts as tripped."""
        if self.verdict == "short":
            return "tripped"
        return "starved" if self.verdict is None else self.verdict


class RunningTrain:
    """A train on its path. Places in µm along the path, speeds in µm/s.

    ``s``, ``v`` and ``a`` are place, speed and acceleration at ``t`` (µs).  ``limit_um``
    is the nearest place that the front may not pass: a stop of the timetable
    (``stop_um``), a route that is not set yet (``hold_um``), the end of the track, or
    a train that stands.
    """

    __slots__ = (
        "_agenda",
        "_layout",
        "_throttles",
        "a",
        "ahead",
        "band_um",
        "blocked",
        "description",
        "followers",
        "goal",
        "gone",
        "headway_um",
        "hold_um",
        "index",
        "length_um",
        "limit_um",
        "look_um",
        "motion",
        "name",
        "ordered",
        "path",
        "power",
        "push_until",
        "rear_leads",
        "s",
        "stop_um",
        "t",
        "v",
        "waits_for",
        "want",
    )

    motion: TrainMotion  #: enters itself here when it is made

    def __init__(
        self,
        agenda: Agenda,
        layout: Layout,
        throttles: ThrottleSettings,
        conduct: Conduct,
        index: int,
        train: Train,
        path: Path,
    ) -> None:
        self._agenda, self._layout, self._throttles = agenda, layout, throttles
        self.index = index
        self.name = train.name
        self.description = train
        self.length_um = path.consist.length_um
        self.headway_um = conduct.headway_mm * UM_PER_MM
        self.s = self.v = self.a = 0.0
        self.t = 0
        self.goal = 0.0  #: speed at which the present acceleration ends
        self.want = 0.0  #: speed that its orders ask for
        self.ordered = True  #: has orders still to carry out
        self.gone = False  #: has derailed
        self.push_until: float | None = None  #: a hand pushes it: to here
        units = path.consist.units
        self.power = TrainPower(next((u for u in units if u.motors), units[0]))
        # its path
        self.path = path
        self.blocked: str | None = None  #: why the path goes no further
        self.waits_for = -1  #: the piece that has no route set
        self.rear_leads = False  #: the end that the timetable calls the rear goes first
        # where it has to do something
        self.look_um = inf  #: look further ahead
        self.band_um = inf  #: have the supply solved anew
        self.limit_um = self.stop_um = self.hold_um = inf
        self.ahead: RunningTrain | None = None  #: the train that it stops for, or follows
        self.followers: dict[RunningTrain, None] = {}

    # -- place and speed --------------------------------------------------------

    def place_now(self) -> float:
        """Where the front is at this instant."""
        dt = (self._agenda.now - self.t) / US_PER_S
        if dt == 0.0 or (self.v == 0.0 and self.a == 0.0):
            return self.s
        there = self.s + self.v * dt + self.a * dt * dt / 2.0
        return max(self.s, min(there, self.bound()))

    def speed_now(self) -> float:
        """How fast it is at this instant."""
        dt = (self._agenda.now - self.t) / US_PER_S
        v = self.v + self.a * dt
        if self.a > 0.0:
            return min(v, max(self.goal, self.v))
        return max(v, self.goal) if self.a < 0.0 else v

    def bound(self) -> float:
        """The next place at which something happens: never passed before it has."""
        path, bound = self.path, self.look_um
        if self.band_um < bound:
            bound = self.band_um
        if path.next < len(path.entries):
            place = path.entries[path.next][0]
            if place < bound:
                return place
        return bound

    # -- how it stands with it ----------------------------------------------------

    @property
    def pushing(self) -> bool:
        """Whether a hand moves it."""
        return self.push_until is not None

    @property
    def is_free(self) -> bool:
        """Nothing to stop for or to follow, as far as it has looked."""
        return self.limit_um == inf and self.ahead is None

    @property
    def held(self) -> bool:
        """Stands for want of room, not of supply."""
        return self.limit_um - self.s < NO_ROOM_UM

    @property
    def held_by_train(self) -> bool:
        """Stands because of another train, not for a stop of its own."""
        ordered = self.stop_um - self.s < NO_ROOM_UM
        return self.held and self.ahead is not None and not ordered

    @property
    def asked(self) -> bool:
        """Whether the throttle asks for movement.

        On DC the throttle is the supply's, so a train without orders is asked too.
        """
        if not self.power.unit.motors:
            return False
        return self._throttles.asks(self.power.supplies, self.want > 0.0)

    @property
    def stands_without(self) -> bool:
        """Stands, is asked to move, has no usable supply, and is not merely held.

        A train whose supply is off, or about to trip, is halted: no stall.
        """
        return (
            self.v == 0.0
            and self.asked
            and not self.power.drives
            and self.power.kind() != "tripped"
            and not self.pushing
            and not self.held
            and not self.gone
        )

    def stands_on(self, lever: int) -> Segment | None:
        """The segment on which wheels of this train are between blades of ``lever``."""
        for segment in self.path.segments:
            for number, points in enumerate(self._layout.routes[segment.route].points):
                if (
                    points.lever == lever
                    and not self.path.is_ahead(Mark.POINTS, segment, number)
                    and self.path.is_ahead(Mark.CLEAR, segment, number)
                ):
                    return segment
        return None

    # -- telling ----------------------------------------------------------------

    def place_mm(self, segment: Segment | None = None) -> float:
        """The front's place on its route, mm from the route's start end."""
        return (segment or self.path.at(self.s)).on_route_mm(self.s)

    def route_id(self) -> str:
        """The route the front is on."""
        return self._layout.routes[self.path.at(self.s).route].id
