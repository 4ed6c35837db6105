"""How one train is driven: what it stops for, how fast it goes, what happens next."""

from __future__ import annotations

from collections.abc import Callable
from enum import IntEnum
from math import inf
from typing import NamedTuple

from sim.layout.model import UM_PER_MM
from sim.layout.traffic import Conduct
from sim.run import kinematics as k
from sim.run.agenda import Agenda, Once, Turn
from sim.run.reservations import WAIT_BEFORE_UM, Obstacle, Reservations
from sim.run.train import NO_ROOM_UM, RunningTrain

#: Looks of one train at one instant.  Trains in a ring look at each other; what the
#: last of them found is what the first saw, so a few rounds settle it.
LOOKS_AT_ONE_INSTANT = 50
#: How long a driver takes to see that the train ahead has changed its speed (µs).
#: Without it trains in a ring would match each other's speeds for ever.
REACTION_US = 50_000


class Attention:
    """When a driver looks again at what is ahead: at once, or after a moment.

    Once however many ask for it.
    """

    __slots__ = ("_agenda", "_count", "_look", "_react_due", "_replan", "_since", "_train")

    def __init__(self, agenda: Agenda, train: RunningTrain, replan: Callable[[], None]) -> None:
        self._agenda, self._train, self._replan = agenda, train, replan
        self._look = Once(agenda, Turn.MOTION, self._look_out)
        self._react_due = False
        self._since, self._count = 0, 0

    def request(self) -> None:
        """Look out later in this instant."""
        if not self._train.gone:
            self._look.request()

    def react(self) -> None:
        """The train ahead goes on otherwise, but not to a stand: see to it, in a moment."""
        if not self._react_due and not self._train.gone:
            self._react_due = True
            self._agenda.at(REACTION_US, Turn.MOTION, self._reacted, None)

    def _reacted(self, _: None) -> None:
        self._react_due = False
        self._replan()

    def _look_out(self) -> None:
        now = self._agenda.now
        self._count = self._count + 1 if self._since == now else 1
        self._since = now
        if self._count <= LOOKS_AT_ONE_INSTANT:
            self._replan()


#: Slack to a train ahead that counts as none (µm).
CLOSE_UM = 1.0
#: A lead over a slowing train that takes less than this to brake away (s) is not run after
#: in steps.  Where this train brakes harder than that one's deceleration a, by a speed d, it
#: falls behind by less than d² / 2a; what is followed at all while it slows down does so by
#: no more than a trifle (mover.py), 1 mm/s, so by 5 µm at 100 mm/s².
PACE_S = 1e-4


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


class TrainDriver:
    """The driver of one train. Places in µm on its path, speeds in µm/s.

    Behind a train that moves it goes at that train's speed as soon as the room between
    them is just what it would take to stop in.  One that does not mind ends rolls on
    to where no track or no route goes on.
    """

    __slots__ = (
        "_braking",
        "_following",
        "_leader",
        "_leader_offset",
        "_minds_ends",
        "_push_um_s",
        "_reservations",
        "_train",
        "brake",
        "coast",
        "rate",
    )

    def __init__(
        self,
        reservations: Reservations,
        conduct: Conduct,
        train: RunningTrain,
        minds_ends: bool = True,
    ) -> None:
        self._reservations, self._train = reservations, train
        self._minds_ends = minds_ends
        self._push_um_s = conduct.nudge_speed_mm_s * UM_PER_MM
        described = train.description
        self.rate = described.acceleration_mm_s2 * UM_PER_MM
        self.brake = described.braking_mm_s2 * UM_PER_MM
        run_out = k.coasting_deceleration(described.coasting_from_mm_s, described.coasting_mm)
        self.coast = run_out * UM_PER_MM
        self._leader: RunningTrain | None = None
        self._leader_offset = 0.0
        self._braking = self._following = False

    # -- what to stop for -------------------------------------------------------

    def look_out(self) -> None:
        """Find what has to be stopped for, or followed."""
        train = self._train
        obstacle = self._reservations.obstacle(train)
        if train.ahead is not None:
            train.ahead.followers.pop(train, None)
        train.ahead, self._leader = None, None
        self._braking = self._following = False
        train.limit_um = min(train.stop_um, train.hold_um)
        if train.blocked and self._minds_ends:
            train.limit_um = min(train.limit_um, train.path.end_um - WAIT_BEFORE_UM)
        gate = self._reservations.gate(train)
        if gate is not None:
            self._mind(gate)
        if obstacle is not None:
            self._mind(obstacle)

    def _mind(self, obstacle: Obstacle) -> None:
        train, other = self._train, obstacle.other
        train.ahead = other
        speed, place = other.speed_now(), train.s + obstacle.room_um
        if obstacle.follow:
            other.followers[train] = None
            if speed > 0.0 and other.a >= 0.0:
                self._leader = other
                self._leader_offset = place - other.place_now()
                return
            if speed > 0.0:
                # One that is slowing down is taken to go on doing so until it stands.
                place += speed * speed / (-2.0 * other.a)
        train.limit_um = min(train.limit_um, place)

    # -- how to go on -----------------------------------------------------------

    def push(self) -> None:
        """A hand moves the train; where there is no room left it lets go at once."""
        train = self._train
        speed = self._push_um_s
        train.v, train.a, train.goal = speed, 0.0, speed

    def roll(self) -> None:
        """No motor drives: the train runs out."""
        train = self._train
        train.goal = 0.0
        rate = self.coast
        room = train.limit_um - train.s
        if train.v * train.v > 2.0 * rate * max(room, 0.0):
            # A hand, or the train ahead, is in the way: it does not roll through it.
            rate = self._hard_stop(room)
        self._slow(rate)

    def drive(self) -> None:
        """The motor drives: go for the speed it is given, or stop where it must."""
        train = self._train
        room = train.limit_um - train.s
        goal, rate = train.power.goal_um_s, self.rate
        if self._leader is not None and self._must_follow(self._leader):
            goal, rate = self._keep_pace(self._leader, goal)
            self._following = True
        if train.v == 0.0 and room < NO_ROOM_UM:
            goal = 0.0
        if goal > 0.0 and train.v > 0.0 and room < inf:
            brake_at = k.distance_until_braking(train.v, 0.0, self.brake, room)
            self._braking = self._braking or brake_at <= 0.0
        if self._braking:
            train.goal = 0.0
            self._slow(self._hard_stop(room))
            return
        train.goal = goal
        if train.v < goal:
            train.a = rate
        elif train.v > goal:
            train.a = -self.brake
        else:
            train.a = 0.0

    def _hard_stop(self, room: float) -> float:
        """Deceleration that ends at the limit; past it, within the clear length behind it."""
        v = self._train.v
        if room > 0.0:
            return v * v / (2.0 * room)
        room += self._train.headway_um
        return max(self.brake, v * v / (2.0 * room)) if room > 0.0 else inf

    def _slow(self, rate: float) -> None:
        train = self._train
        if rate == inf:
            train.v = 0.0
        train.a = -rate if train.v > 0.0 else 0.0

    def _keep_pace(self, leader: RunningTrain, goal: float) -> tuple[float, float]:
        """Goal and acceleration behind one that goes the same way: the law of following.

        ``goal`` is what its own throttle asks for.  Behind one that keeps its speed the
        train goes for that speed.  Behind one that gathers speed it gathers speed with
        it, at the lesser of the two rates, to the lesser of the two goals.  Behind one
        that slows down a little (what slows down for good is stopped for, see
        :meth:`_mind`) it brakes to the speed that it sees, and again, until that takes
        less than ``PACE_S``; then straight to where that one's slowing ends.  All
        motions are parabolas until the one ahead has an event of its own, so what comes
        next is a root, and nothing is stepped.

        The trap is the speed of the one ahead "now".  Events fall on whole microseconds:
        a train that comes to its own goal just as the one ahead passes that speed may
        find it slower still, by what it gains in half a microsecond.  Taken for a lead
        this is braked away in no time, and gained back in no time, without end: the
        clock stands, each turn moves the train by a rounding (some 10 nm), and millions
        of events take it to the next place of its path at one instant.  And behind one
        that brakes as hard as itself a train never gets down to the speed it sees: it
        runs after it in steps as short as the lead it began with.
        """
        ahead = leader.speed_now()
        lead = self._train.v - ahead
        if leader.a > 0.0 and lead <= 0.0:
            return min(goal, leader.goal), min(self.rate, leader.a)
        if lead > 0.0 and self._passed_at_once(leader, lead, goal):
            return goal, self.rate
        if leader.a < 0.0 and k.LEAST_S < lead / self.brake < PACE_S:
            return min(goal, leader.goal), self.rate
        return min(goal, ahead), self.rate

    def _passed_at_once(self, leader: RunningTrain, lead: float, goal: float) -> bool:
        """Whether the train has come to its goal, and the leader will at this instant.

        Not where that is the leader's goal too: its own event at this instant settles it.
        """
        if not (leader.a > 0.0 and goal <= self._train.v and goal < leader.goal):
            return False
        return lead / min(self.brake, self.rate, leader.a) < k.LEAST_S

    def _must_follow(self, leader: RunningTrain) -> bool:
        return self._following or self._slack(leader) <= CLOSE_UM

    def _slack(self, leader: RunningTrain) -> float:
        """Room to the leader beyond what it takes to stop."""
        train = self._train
        room = leader.place_now() + self._leader_offset - train.s
        return room - train.v * train.v / (2.0 * self.brake)

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
        train = self._train
        s, v, a = train.s, train.v, train.a
        distance, kind = place_um - s, Next.PLACE
        if push_until_um is not None:
            room = min(push_until_um, train.limit_um) - s
            if room < distance:
                distance, kind = room, Next.PUSHED
        elif a != 0.0:
            to_goal = k.distance_to_speed(v, train.goal, a)
            if to_goal < distance:
                distance, kind = to_goal, Next.SPEED
        if push_until_um is None and train.limit_um < inf and train.goal > 0.0:
            to_brake = k.distance_until_braking(v, a, self.brake, train.limit_um - s)
            if to_brake < distance:
                distance, kind = to_brake, Next.BRAKE
        distance = max(distance, 0.0)
        # By speed, not by distance: that would round to a hair past where it stops.
        after = (train.goal - v) / a if kind is Next.SPEED else k.time_over(v, a, distance)
        if self._leader is not None and not self._following and push_until_um is None:
            t = self._time_to_follow(self._leader)
            if t < after:
                place = min(s + v * t + a * t * t / 2.0, place_um)
                return Coming(t, Next.FOLLOW, place, v + a * t)
        if after == inf:
            return None
        if kind is Next.SPEED:
            return Coming(after, kind, s + distance, train.goal)
        place = place_um if kind is Next.PLACE else s + distance
        return Coming(after, kind, place, k.speed_after(v, a, distance))

    def _time_to_follow(self, leader: RunningTrain) -> float:
        """When the room to the leader is just enough to stop in."""
        train, b = self._train, self.brake
        rate = leader.speed_now() - train.v - train.v * train.a / b
        curve = (leader.a - train.a - train.a * train.a / b) / 2.0
        return k.first_root(curve, rate, self._slack(leader))
