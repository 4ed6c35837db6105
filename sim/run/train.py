"""One train in motion: exact places, one pending event, and what its motor gets."""

from __future__ import annotations

from math import inf
from typing import TYPE_CHECKING

from sim.layout.traffic import Train
from sim.records.model import Reversal
from sim.run import kinematics as k
from sim.run import lever_drive
from sim.run.agenda import Turn
from sim.run.consist import UM_PER_MM, compile_train
from sim.run.driver import Attention, Coming, Next, Steering
from sim.run.path import Mark, Segment
from sim.run.path_ahead import Road
from sim.run.recorder import note, note_entered, on_route_mm, seconds
from sim.run.traction import PowerAt

if TYPE_CHECKING:
    from sim.run.agenda import World


#: A change of speed that is no reason to brake at once (µm/s).
TRIFLE_UM_S = 1_000.0
#: A train that is driven back within this of where it last was has got nowhere (µm).
NOWHERE_UM = 10.0


class Mover:
    """A train on its path. Places in µm along the path, speeds in µm/s.

    ``s``, ``v`` and ``a`` are place, speed and acceleration at ``t`` (µs).  Of
    its alarms only the one that carries the latest token counts.
    """

    __slots__ = (
        "_arriving",
        "_band_um",
        "_coming",
        "_reroute",
        "_shown",
        "_token",
        "_turned",
        "_world",
        "a",
        "attention",
        "gone",
        "index",
        "length_um",
        "ordered",
        "power",
        "push_until",
        "road",
        "s",
        "steering",
        "t",
        "train",
        "v",
        "want",
    )

    def __init__(self, world: World, index: int, train: Train, first_unit: int) -> None:
        self._world = world
        self.index = index
        self.train = train
        consist, _ = compile_train(train, first_unit)
        self.length_um = consist.length_um
        self.s = self.v = self.a = 0.0
        self.t = 0
        self.want = 0.0  #: speed that its orders ask for
        self.ordered = True  #: has orders still to carry out
        self.gone = False  #: has derailed
        self.push_until: float | None = None  #: a hand pushes it: to here
        self._band_um = inf  #: where the supply is to be solved anew
        self._token = 0
        self._turned = inf  #: where it was last driven back, as it faces now
        self._coming = Coming(0.0, Next.PLACE, 0.0, 0.0)
        self._arriving = False
        self._reroute: dict[int, None] = {}
        self._shown = (0.0, 0.0)  #: acceleration and speed that followers know of
        self.attention = Attention(world, self)
        self.steering = Steering(world, self)
        self.road = Road(world, self, consist)
        self.power = PowerAt(world, self)

    # -- place and speed --------------------------------------------------------

    def place_now(self) -> float:
        """Where the front is at this instant."""
        dt = (self._world.now - self.t) / k.US_PER_S
        if dt == 0.0 or (self.v == 0.0 and self.a == 0.0):
            return self.s
        there = self.s + self.v * dt + self.a * dt * dt / 2.0
        return max(self.s, min(there, self._bound()))

    def speed_now(self) -> float:
        """How fast it is at this instant."""
        dt = (self._world.now - self.t) / k.US_PER_S
        v = self.v + self.a * dt
        if self.a > 0.0:
            return min(v, max(self.steering.goal, self.v))
        return max(v, self.steering.goal) if self.a < 0.0 else v

    def _bound(self) -> float:
        """The next place at which something happens: never passed before it has."""
        path = self.road.path
        look = min(self.road.look_um, self._band_um)
        if path.next < len(path.entries):
            return min(path.entries[path.next][0], look)
        return look

    def open_band(self) -> None:
        """The present solution of the supply holds for so much way from here."""
        self._band_um = self.s + self._world.supply.band_um

    def advance(self) -> None:
        """Bring place and speed up to this instant."""
        now = self._world.now
        if now != self.t:
            place, speed = self.place_now(), self.speed_now()
            note_entered(self._world, self, place)
            self.s, self.v = place, speed
            self.t = now

    @property
    def pushing(self) -> bool:
        """Whether a hand moves it."""
        return self.push_until is not None

    @property
    def held(self) -> bool:
        """Stands for want of room, not of supply."""
        return self.steering.held

    def set_rolling(self, speed_um_s: float, standing: bool) -> None:
        """Begin at that speed, or about to, with the throttle set for it."""
        self.want = speed_um_s
        self.v = 0.0 if standing else speed_um_s
        self.steering.minds_ends = False

    # -- deciding ---------------------------------------------------------------

    def replan(self) -> None:
        """Find what has to be stopped for, and steer by it."""
        if self.gone:
            return
        self.advance()
        self._world.crossings.look(self)
        self.steering.look_out()
        if self.v == 0.0:
            self._world.journal.look(self)
            self.power.check_stall()
        self.steer()

    def steer(self) -> None:
        """Choose acceleration and goal for the present state; schedule what comes next."""
        if self.v == 0.0 and self.push_until is None and self.power.tell_load():
            self.power.assess()  # what it gets standing idle says nothing of starting
        if self.push_until is not None:
            self.steering.push()
        elif self.power.drives:
            self.steering.drive()
        else:
            self.steering.roll()
        self._schedule()
        self.power.tell_load()
        if (self.a, self.v) != self._shown:
            self._shown = self.a, self.v
            urgent = self.v == 0.0 or (
                self.a < 0.0 and self.steering.goal < self.v - TRIFLE_UM_S
            )
            for follower in self.steering.followers:
                if urgent:
                    follower.attention.request()
                else:
                    follower.attention.react()
        note(self._world, self)

    def extend_and_replan(self) -> None:
        """Orders have changed: look ahead again."""
        self.road.extend()
        self.replan()

    def levers_moved(self, piece: int) -> None:
        """Levers of ``piece`` have moved: take the route they now give, if not too late."""
        if self.gone:
            return
        if self._arriving:
            self._reroute[piece] = None
            return
        self.advance()
        self.road.reroute(piece)
        self.extend_and_replan()

    # -- events -----------------------------------------------------------------

    def _schedule(self) -> None:
        """Find the next thing that happens to this train, and set the alarm for it."""
        self._token += 1
        if self.v == 0.0 and self.a == 0.0:
            return
        coming = self.steering.coming(self._bound(), self.push_until)
        if coming is None:
            return
        self._coming = coming
        turn = Turn.WHEELS if coming.kind is Next.PLACE else Turn.MOTION
        self._world.at(round(coming.after_s * k.US_PER_S), turn, self._alarm, self._token)

    def _alarm(self, token: int) -> None:
        if token != self._token:
            return
        coming = self._coming
        place = max(self.s, float(coming.place_um))
        note_entered(self._world, self, place)
        self.s, self.v = place, coming.speed_um_s
        self.t = self._world.now
        if coming.kind is Next.PLACE:
            self._arrive()
        elif coming.kind is Next.PUSHED:
            self.end_push()
        else:
            self.steering.note(coming.kind)
            if self.v == 0.0:
                self._stood()
            else:
                self.steer()

    def _arrive(self) -> None:
        """Everything that happens at the place the front has just reached."""
        token, path, s = self._token, self.road.path, self.s
        dirty = False
        self._arriving = True
        while path.next < len(path.entries) and path.entries[path.next][0] <= s:
            _, mark, moves, segment, number = path.entries[path.next]
            path.next += 1
            if mark is Mark.CROSS:
                move = self._world.supply.move
                for side, slot, node in moves:
                    dirty = move(side, slot, node) or dirty
            else:
                self._pass(mark, segment, number)
                if self.gone:
                    return
        path.done_um = s
        self._arriving = False
        if self._reroute:
            pieces, self._reroute = self._reroute, {}
            for piece in pieces:
                self.levers_moved(piece)
        if s >= self._band_um:
            dirty = True
            self._world.supply.drift(u.number for u in path.consist.units)
            self.open_band()
        if dirty:
            self._world.request_solve()
        if s >= self.road.look_um:
            self._look_on()
        if self._token == token:
            self._schedule()

    def _look_on(self) -> None:
        """A piece further ahead: as a rule the way is free, and it just rolls on."""
        free = self.steering.is_free
        self.road.extend()
        self._world.crossings.look(self)
        self.steering.look_out()
        if not (free and self.steering.is_free and self.a == 0.0):
            self.replan()

    def _pass(self, mark: Mark, segment: Segment, number: int) -> None:
        world = self._world
        if mark is Mark.PLACE:
            world.yard.reached(self, number)
        elif mark is Mark.POINTS:
            lever_drive.meet(world, self, segment, number)
        elif mark is Mark.CLEAR:
            lever_drive.clear(world, self, segment, number)
        elif mark is Mark.FIRST:
            world.journal.entered(self, segment)
        elif mark is Mark.LAST:
            world.journal.left(self, segment)
            world.crossings.left(self, segment)
        else:
            self.road.shed()

    def _stood(self) -> None:
        """The train has come to a stand."""
        self.a = 0.0
        self.power.assess()
        if self.power.fights:
            self.fight()
            return
        self._world.yard.stood(self)
        self._world.journal.look(self)
        self.steer()

    def power_changed(self) -> None:
        """The supply at the pickups, the throttle or the timetable has changed."""
        if self.gone:
            return
        self.advance()
        self.power.assess()
        self.road.expect(self.power.goal_um_s)
        if self.push_until == inf and self.power.usable:
            self.end_push()
        elif self.power.fights and self.v == 0.0 and not self.pushing and self.power.asked:
            self.fight()
        else:
            self.steer()

    # -- the other way, out of the run, by hand ---------------------------------

    def fight(self) -> None:
        """It stands on supply of the other direction, and is driven back.

        Where two throttles meet under it, each way has the other one against it:
        sent back again before it has got anywhere, it hums on the spot.
        """
        if abs(self.s - self._turned) < NOWHERE_UM:
            self.power.torn = True
            self.power_changed()
            return
        self._turned = self.length_um - self.s
        segment = self.road.path.at(self.s)
        self._world.ledger.reversals.append(
            Reversal(
                seconds(self._world.now),
                self.train.name,
                self.route_id(),
                self.place_mm(segment),
                self.power.supply_name(),
            )
        )
        self.turn_round()

    def turn_round(self) -> None:
        """Run the other way from here; it stands."""
        self.steering.stop_um = inf
        self.road.turn()
        self.open_band()
        self._world.yard.turned(self)
        self.power.assess()
        self.extend_and_replan()

    def lift(self) -> None:
        """It is taken off the track, and out of the run."""
        self.v = self.a = 0.0
        self._token += 1
        note(self._world, self)
        self.power.finish()
        self.gone = True
        self.road.give_up()
        for follower in list(self.steering.followers):
            follower.attention.request()

    def push(self, until_live: bool) -> None:
        """A hand moves the train on: by the usual distance, or until it has supply."""
        self.advance()
        if self.held:
            return
        self.power.torn = False
        distance = self._world.conduct.nudge_mm * UM_PER_MM
        self.push_until = inf if until_live else self.s + distance
        self.steer()

    def end_push(self) -> None:
        """The hand lets go."""
        self.push_until = None
        self.power.assess()
        if not self.power.drives:
            self.v = 0.0
        self._world.hand.let_go(self)
        if self.v == 0.0:
            self._stood()
        self.replan()

    # -- telling ----------------------------------------------------------------

    def place_mm(self, segment: Segment | None = None) -> float:
        """The front's place on its route, mm from the route's start end."""
        return on_route_mm(self.s, segment or self.road.path.at(self.s))

    def route_id(self) -> str:
        """The route the front is on."""
        return self._world.layout.routes[self.road.path.at(self.s).route].id
