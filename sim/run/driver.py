"""How one train is driven: attention, steering, and hands on the throttles.

When a driver looks again at what is ahead: at once, or after a moment.

Hands on the throttles: on DC they belong to the supply, on digital to the train.

How one train is driven: what it stops for, how fast it goes, what happens next.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from enum import IntEnum
from math import inf
from typing import TYPE_CHECKING, NamedTuple

from sim.power.poles import sources_of
from sim.run import kinematics as k
from sim.run.agenda import Turn
from sim.run.consist import UM_PER_MM
from sim.run.reservations import WAIT_BEFORE_UM, Wall

if TYPE_CHECKING:
    from sim.run.agenda import World
    from sim.run.train import Mover


#: Looks of one train at one instant.  Trains in a ring look at each other; what the
#: last of them found is what the first saw, so a few rounds settle it.
LOOKS_AT_ONE_INSTANT = 50
#: How long a driver takes to see that the train ahead has changed its speed (µs).
#: Without it trains in a ring would match each other's speeds for ever.
REACTION_US = 50_000


class Attention:
    """Calls a train to look out again, once however many ask for it."""

    __slots__ = ("_count", "_due", "_mover", "_react_due", "_since", "_world")

    def __init__(self, world: World, mover: Mover) -> None:
        self._world = world
        self._mover = mover
        self._due = self._react_due = False
        self._since, self._count = 0, 0

    def request(self) -> None:
        """Look out later in this instant."""
        if not self._due and not self._mover.gone:
            self._due = True
            self._world.at(0, Turn.MOTION, self._look, None)

    def react(self) -> None:
        """The train ahead goes on otherwise, but not to a stand: see to it, in a moment."""
        if not self._react_due and not self._mover.gone:
            self._react_due = True
            self._world.at(REACTION_US, Turn.MOTION, self._reacted, None)

    def _reacted(self, _: None) -> None:
        self._react_due = False
        self._mover.replan()

    def _look(self, _: None) -> None:
        self._due = False
        now = self._world.now
        self._count = self._count + 1 if self._since == now else 1
        self._since = now
        if self._count <= LOOKS_AT_ONE_INSTANT:
            self._mover.replan()


class Throttles:
    """The voltage of every supply at every instant.

    A DC throttle is set once for the slowest of the trains that stand on it; it is
    not nursed.  It is closed while one of them is to stand, and then they run out.
    A train that has no orders (any more) is not asked: it runs along.  The
    direction is given by the first train that stands on the supply at the start,
    and turned by orders; a supply that no train stands on is turned along with it,
    as by a driver who means to cross over: its plus pole is above its minus pole
    where the other's is.
    """

    def __init__(self, world: World) -> None:
        self._world = world
        supplies = world.layout.supplies
        self._dc = [s.kind == "dc" for s in supplies]
        self._nominal = [s.volts for s in sources_of(supplies)]
        self.signs = [1] * len(supplies)
        self._share = [0.0 if dc else 1.0 for dc in self._dc]
        #: DC supplies whose direction waits for the train that is to have it
        self._waiting: dict[int, Mover] = {}

    def volts(self, steps: Iterable[tuple[int, int]]) -> float:
        """The present voltage that ``steps`` add up to."""
        total = 0.0
        for s, sign in steps:
            total += sign * self.signs[s] * self._share[s] * self._nominal[s]
        return total

    def asks(self, supplies: Iterable[int], ordered: bool) -> bool:
        """Whether a train on ``supplies`` is asked to move.

        A digital supply is always on, so there the train's own orders decide.
        """
        return any(self._share[s] > 0.0 and (self._dc[s] or ordered) for s in supplies)

    def start(self) -> None:
        """Give every train its supply, and every DC supply its direction."""
        given: set[int] = set()
        for mover in self._world.movers:
            power = mover.power
            steps = self._world.supply.reading(power.unit.number).steps
            power.supplies = tuple(s for s, _ in steps) or self._likely(mover)
            for s in power.supplies:
                if self._dc[s] and s not in given and power.unit.motors:
                    given.add(s)
                    self._waiting[s] = mover
        self.meet(self._world.movers)
        self.look()

    def meet(self, movers: Iterable[Mover]) -> None:
        """Point supplies that wait for one of ``movers``, if they reach it now."""
        if not self._waiting:
            return
        for mover in movers:
            for s, sign in self._world.supply.reading(mover.power.unit.number).steps:
                if self._waiting.get(s) is mover:
                    del self._waiting[s]
                    self._point(s, sign, mover)

    def _point(self, s: int, sign: int, mover: Mover) -> None:
        """Turn supply ``s`` so that ``mover`` runs the way it faces."""
        even_is_left = mover.power.unit.left % 2 == 0
        even_above_odd = sign * self._nominal[s] > 0.0
        # Forward means right above left, so the even side lower where it is the left one.
        sign = 1 if even_above_odd != even_is_left else -1
        self._turn(dict.fromkeys((s, *self._idle()), sign))

    def _idle(self) -> list[int]:
        """DC supplies that no train stands on."""
        used = {s for m in self._world.movers if not m.gone for s in m.power.supplies}
        return [s for s, dc in enumerate(self._dc) if dc and s not in used]

    def _turn(self, signs: Mapping[int, int]) -> None:
        for s, sign in signs.items():
            self.signs[s] = sign
            self._world.supply.turn(s, sign)
        self._tell()
        self._world.request_solve()

    def _likely(self, mover: Mover) -> tuple[int, ...]:
        """The supply that a train without supply was put down for.

        That of a pole under one of its sides, else that of the district it
        stands in, else the first.
        """
        for pole in self._world.supply.reading(mover.power.unit.number).poles:
            if pole is not None:
                return (pole // 2,)
        path = mover.road.path
        nodes = {path.node_under(p, mover.s) for p in path.consist.pickups}
        for district in self._world.layout.districts:
            if not nodes.isdisjoint(district.nodes):
                return (district.supply,)
        return (0,) if self._dc else ()

    def reverse(self, mover: Mover) -> None:
        """The driver of ``mover`` turns the throttle of every DC supply it is on."""
        mine = [s for s in mover.power.supplies if self._dc[s]]
        if mine:
            signs = {s: -self.signs[s] for s in mine}
            self._turn({**dict.fromkeys(self._idle(), signs[mine[0]]), **signs})

    def look(self) -> None:
        """Set every DC throttle for the trains on it; tell those whose supply changes."""
        wanted: dict[int, list[float]] = {s: [] for s, dc in enumerate(self._dc) if dc}
        for mover in self._world.movers:
            if mover.ordered and not mover.gone and mover.power.unit.motors:
                for s in mover.power.supplies:
                    if self._dc[s]:
                        wanted[s].append(self._wanted(mover, s))
        changed = set()
        for s, shares in wanted.items():
            share = min(shares, default=0.0)
            if share != self._share[s]:
                self._share[s] = share
                changed.add(s)
        self._tell()
        if changed:
            for mover in self._world.movers:
                if not changed.isdisjoint(mover.power.supplies):
                    mover.power_changed()

    def _tell(self) -> None:
        """Tell the supplies what they give with nothing on them."""
        due = False
        for s, nominal in enumerate(self._nominal):
            sign = self.signs[s] if self._dc[s] else 1
            due |= self._world.supply.drive(s, sign * self._share[s] * nominal)
        if due:
            self._world.request_solve()

    def _wanted(self, mover: Mover, s: int) -> float:
        """The share of full voltage at which ``mover`` runs as ordered."""
        if mover.want <= 0.0:
            return 0.0
        motor = mover.power.unit.motors[0]
        speed = mover.want / UM_PER_MM
        span = motor.at_voltage_v - motor.turns_down_to_v
        volts = motor.turns_down_to_v + span * speed / motor.speed_mm_s
        return min(1.0, volts / abs(self._nominal[s]))


#: Room below which a standing train does not start: it would only creep (µm).
NO_ROOM_UM = 1_000.0
#: Slack to a train ahead that counts as none (µm).
CLOSE_UM = 1.0


class Next(IntEnum):
    """What a train's pending event is."""

    PLACE = 0  #: the front reaches the next entry of its path
    SPEED = 1  #: it has the speed it was to have
    BRAKE = 2  #: braking for a place has to begin
    FOLLOW = 3  #: it has come up to the train ahead
    PUSHED = 4  #: the hand has pushed it far enough


class Coming(NamedTuple):
    """A train's next event: in how many seconds, and place and speed it will have then."""

    after_s: float
    kind: Next
    place_um: float
    speed_um_s: float


class Steering:
    """The driver of one train. Places in µm on its path, speeds in µm/s.

    ``limit_um`` is the nearest place that the front may not pass: a stop of the
    timetable (``stop_um``), a crossing that is not set yet (``hold_um``), the end
    of the track, or a train that stands.  Behind a train that moves it goes at
    that train's speed as soon as the room between them is just what it would
    take to stop in.
    """

    __slots__ = (
        "_braking",
        "_following",
        "_leader",
        "_leader_offset",
        "_mover",
        "_world",
        "brake",
        "coast",
        "followers",
        "goal",
        "headway_um",
        "hold_um",
        "limit_um",
        "minds_ends",
        "rate",
        "stop_um",
        "wall_other",
    )

    def __init__(self, world: World, mover: Mover) -> None:
        train = mover.train
        self._world = world
        self._mover = mover
        self.rate = train.acceleration_mm_s2 * UM_PER_MM
        self.brake = train.braking_mm_s2 * UM_PER_MM
        run_out = k.coasting_deceleration(train.coasting_from_mm_s, train.coasting_mm)
        self.coast = run_out * UM_PER_MM
        self.headway_um = world.conduct.headway_mm * UM_PER_MM
        self.minds_ends = True  #: stops short of where no track goes on
        self.goal = 0.0  #: speed at which the present acceleration ends
        self.limit_um = self.stop_um = self.hold_um = inf
        self.wall_other: Mover | None = None
        self.followers: dict[Mover, None] = {}
        self._leader: Mover | None = None
        self._leader_offset = 0.0
        self._braking = self._following = False

    # -- what to stop for -------------------------------------------------------

    def look_out(self) -> None:
        """Find what has to be stopped for, or followed."""
        mover, road = self._mover, self._mover.road
        wall = self._world.claims.wall(mover)
        if self.wall_other is not None:
            self.wall_other.steering.followers.pop(mover, None)
        self.wall_other, self._leader = None, None
        self._braking = self._following = False
        self.limit_um = min(self.stop_um, self.hold_um)
        if road.blocked and self.minds_ends:
            self.limit_um = min(self.limit_um, road.path.end_um - WAIT_BEFORE_UM)
        gate = self._world.claims.gate(mover)
        if gate is not None:
            self._mind(gate)
        if wall is not None:
            self._mind(wall)

    def _mind(self, wall: Wall) -> None:
        other = wall.other
        self.wall_other = other
        speed, place = other.speed_now(), self._mover.s + wall.room_um
        if wall.follow:
            other.steering.followers[self._mover] = None
            if speed > 0.0 and other.a >= 0.0:
                self._leader = other
                self._leader_offset = place - other.place_now()
                return
            if speed > 0.0:
                # One that is slowing down is taken to go on doing so until it stands.
                place += speed * speed / (-2.0 * other.a)
        self.limit_um = min(self.limit_um, place)

    @property
    def is_free(self) -> bool:
        """Nothing to stop for or to follow, as far as it has looked."""
        return self.limit_um == inf and self.wall_other is None

    @property
    def held(self) -> bool:
        """Stands for want of room, not of supply."""
        return self.limit_um - self._mover.s < NO_ROOM_UM

    @property
    def held_by_train(self) -> bool:
        """Stands because of another train, not for a stop of its own."""
        ordered = self.stop_um - self._mover.s < NO_ROOM_UM
        return self.held and self.wall_other is not None and not ordered

    # -- how to go on -----------------------------------------------------------

    def push(self) -> None:
        """A hand moves the train; where there is no room left it lets go at once."""
        mover = self._mover
        speed = self._world.conduct.nudge_speed_mm_s * UM_PER_MM
        mover.v, mover.a, self.goal = speed, 0.0, speed

    def roll(self) -> None:
        """No motor drives: the train runs out."""
        mover = self._mover
        self.goal = 0.0
        rate = self.coast
        room = self.limit_um - mover.s
        if mover.v * mover.v > 2.0 * rate * max(room, 0.0):
            # A hand, or the train ahead, is in the way: it does not roll through it.
            rate = self._hard_stop(room)
        self._slow(rate)

    def drive(self) -> None:
        """The motor drives: go for the speed it is given, or stop where it must."""
        mover = self._mover
        room = self.limit_um - mover.s
        goal, rate = mover.power.goal_um_s, self.rate
        if self._leader is not None and self._must_follow(self._leader):
            goal, rate = self._keep_pace(self._leader, goal)
            self._following = True
        if mover.v == 0.0 and room < NO_ROOM_UM:
            goal = 0.0
        if goal > 0.0 and mover.v > 0.0 and room < inf:
            brake_at = k.distance_until_braking(mover.v, 0.0, self.brake, room)
            self._braking = self._braking or brake_at <= 0.0
        if self._braking:
            self.goal = 0.0
            self._slow(self._hard_stop(room))
            return
        self.goal = goal
        if mover.v < goal:
            mover.a = rate
        elif mover.v > goal:
            mover.a = -self.brake
        else:
            mover.a = 0.0

    def _hard_stop(self, room: float) -> float:
        """Deceleration that ends at the limit; past it, within the clear length behind it."""
        v = self._mover.v
        if room > 0.0:
            return v * v / (2.0 * room)
        room += self.headway_um
        return max(self.brake, v * v / (2.0 * room)) if room > 0.0 else inf

    def _slow(self, rate: float) -> None:
        mover = self._mover
        if rate == inf:
            mover.v = 0.0
        mover.a = -rate if mover.v > 0.0 else 0.0

    def _keep_pace(self, leader: Mover, goal: float) -> tuple[float, float]:
        """Goal and acceleration behind one that goes the same way.

        Behind one that gathers speed the train gathers speed with it: to run after
        the speed that it has at each instant would take an event every microsecond.
        """
        speed = leader.speed_now()
        if leader.a > 0.0 and self._mover.v <= speed:
            return min(goal, leader.steering.goal), min(self.rate, leader.a)
        return min(goal, speed), self.rate

    def _must_follow(self, leader: Mover) -> bool:
        return self._following or self._slack(leader) <= CLOSE_UM

    def _slack(self, leader: Mover) -> float:
        """Room to the leader beyond what it takes to stop."""
        mover = self._mover
        room = leader.place_now() + self._leader_offset - mover.s
        return room - mover.v * mover.v / (2.0 * self.brake)

    def note(self, kind: Next) -> None:
        """An event that was coming is here: remember what it began."""
        self._braking = self._braking or kind is Next.BRAKE
        self._following = self._following or kind is Next.FOLLOW

    # -- what happens next ------------------------------------------------------

    def coming(self, place_um: float, push_until_um: float | None) -> Coming | None:
        """The next thing that happens to the train; None while nothing will.

        ``place_um`` is the next place of its path; ``push_until_um`` where a hand
        lets go, None when there is no hand.
        """
        mover = self._mover
        s, v, a = mover.s, mover.v, mover.a
        if a == 0.0 and self.is_free and push_until_um is None:
            # Most of the time: it rolls at one speed, with nothing in its way.
            after = max(place_um - s, 0.0) / v
            return None if after == inf else Coming(after, Next.PLACE, place_um, v)
        distance, kind = place_um - s, Next.PLACE
        if push_until_um is not None:
            room = min(push_until_um, self.limit_um) - s
            if room < distance:
                distance, kind = room, Next.PUSHED
        elif a != 0.0:
            to_goal = k.distance_to_speed(v, self.goal, a)
            if to_goal < distance:
                distance, kind = to_goal, Next.SPEED
        if push_until_um is None and self.limit_um < inf and self.goal > 0.0:
            to_brake = k.distance_until_braking(v, a, self.brake, self.limit_um - s)
            if to_brake < distance:
                distance, kind = to_brake, Next.BRAKE
        distance = max(distance, 0.0)
        # By speed, not by distance: that would round to a hair past where it stops.
        after = (self.goal - v) / a if kind is Next.SPEED else k.time_over(v, a, distance)
        if self._leader is not None and not self._following and push_until_um is None:
            t = self._time_to_follow(self._leader)
            if t < after:
                place = min(s + v * t + a * t * t / 2.0, place_um)
                return Coming(t, Next.FOLLOW, place, v + a * t)
        if after == inf:
            return None
        if kind is Next.SPEED:
            return Coming(after, kind, s + distance, self.goal)
        place = place_um if kind is Next.PLACE else s + distance
        return Coming(after, kind, place, k.speed_after(v, a, distance))

    def _time_to_follow(self, leader: Mover) -> float:
        """When the room to the leader is just enough to stop in."""
        mover, b = self._mover, self.brake
        rate = leader.speed_now() - mover.v - mover.v * mover.a / b
        curve = (leader.a - mover.a - mover.a * mover.a / b) / 2.0
        return k.first_root(curve, rate, self._slack(leader))
