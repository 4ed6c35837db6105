"""One train in motion: exact places, one pending event, and what its motor gets."""

from __future__ import annotations

from enum import IntEnum
from math import inf
from typing import TYPE_CHECKING, Any

from sim.layout.model import NOWHERE
from sim.layout.traffic import Train
from sim.motion import kinematics as k
from sim.motion.claims import WAIT_BEFORE_UM
from sim.motion.consist import UM_PER_MM, compile_train
from sim.motion.ledger import seconds
from sim.motion.path import Entry, Mark, Path, Segment
from sim.motion.power_at import PowerAt
from sim.motion.world import Alarm, Turn
from sim.records.model import Derailment, Motion, Reversal, RunThrough

if TYPE_CHECKING:
    from sim.motion.world import World

#: Room below which a standing train does not start: it would only creep (µm).
NO_ROOM_UM = 1_000.0
#: Known track a train keeps ahead beyond what it needs to stop in (µm).
SPARE_UM = 50_000
#: Replans of one train at one instant, after which it leaves well alone.
REPLANS_AT_ONE_INSTANT = 50


class Next(IntEnum):
    """What a train's pending event is."""

    PLACE = 0
    SPEED = 1
    BRAKE = 2
    FOLLOW = 3
    PUSHED = 4


class Mover:
    """A train on its path. Places in µm along the path, speeds in µm/s."""

    __slots__ = (
        "_braking",
        "_following",
        "_goal",
        "_kind",
        "_pending",
        "_replan_due",
        "_replans",
        "_token",
        "_world",
        "a",
        "blocked",
        "brake",
        "coast",
        "followers",
        "forward_um",
        "gone",
        "headway_um",
        "hold_at",
        "index",
        "leader",
        "leader_offset",
        "length_um",
        "limit",
        "look",
        "lookahead",
        "path",
        "power",
        "push_until",
        "pushing",
        "pushing_until_live",
        "rate",
        "rear_leads",
        "s",
        "stop_at",
        "t",
        "train",
        "v",
        "wall_other",
        "want",
    )

    def __init__(self, world: World, index: int, train: Train, first_unit: int) -> None:
        self._world = world
        self.index = index
        self.train = train
        consist, _ = compile_train(train, first_unit)
        self.length_um = consist.length_um
        self.rate = train.acceleration_mm_s2 * UM_PER_MM
        self.brake = train.braking_mm_s2 * UM_PER_MM
        self.coast = (
            k.coasting_deceleration(train.coasting_from_mm_s, train.coasting_mm) * UM_PER_MM
        )
        self.headway_um = world.conduct.headway_mm * UM_PER_MM
        self.lookahead = self._lookahead()
        self.s = self.v = self.a = 0.0
        self._goal = 0.0
        self.t = 0
        self._token = 0
        self._kind = Next.PLACE
        self._pending = (0.0, 0.0)
        self.want = 0.0
        self.limit = inf
        self.stop_at = inf
        self.hold_at = inf
        self.blocked: str | None = None
        self.leader: Mover | None = None
        self.leader_offset = 0.0
        self.wall_other: Mover | None = None
        self.followers: dict[Mover, None] = {}
        self._braking = self._following = False
        self.pushing = self.pushing_until_live = False
        self.push_until = inf
        self.gone = False
        self.rear_leads = False
        self._replan_due = False
        self._replans = (0, 0)
        self.look = inf
        self.path = Path(world.tracks, consist, world.supply.same_metal)
        self.power = PowerAt(world, self)

    def _lookahead(self) -> int:
        speeds = [o.speed_mm_s for o in self.train.orders if o.speed_mm_s is not None]
        fastest = max([self.train.speed_mm_s, *speeds]) * UM_PER_MM
        need = fastest * fastest / (2.0 * self.brake)
        return round(need + self.headway_um + WAIT_BEFORE_UM + SPARE_UM)

    # -- placing ----------------------------------------------------------------

    def put_down(self) -> None:
        """Stand on the track where the description says, and look ahead."""
        train, routes = self.train, self._world.layout.routes
        route = routes[train.route]
        place = round(train.place_mm * UM_PER_MM)
        forward = train.toward_finish
        first = Segment(train.route, forward, 0, route.length_um)
        self.s = float(place if forward else route.length_um - place)
        self.path.segments = [first]
        self._extend_behind()
        self.path.relay(self.s)
        for segment in self.path.segments:
            self._world.claims.claim(self, segment)
        self._set_pickups()
        self._extend()

    def _extend_behind(self) -> None:
        tracks = self._world.tracks
        while self.path.segments[0].begin_um > self.s - self.length_um:
            first = self.path.segments[0]
            end = self._world.layout.ends[tracks.entry_end(first.route, first.forward)].joined
            chosen = (
                None if end == NOWHERE else tracks.choose(end, self._world.levers.heading_for)
            )
            if chosen is None:
                return
            route, forward = chosen
            begin = first.begin_um - self._world.layout.routes[route].length_um
            self.path.segments.insert(0, Segment(route, not forward, begin, first.begin_um))

    def _set_pickups(self) -> None:
        for p in self.path.consist.pickups:
            self._world.supply.move(p.side, p.slot, self.path.node_under(p, self.s))
        self._world.request_solve()

    # -- the path ahead ---------------------------------------------------------

    def _extend(self) -> None:
        """Make the path known as far ahead as the train may need, and claim it."""
        world, path = self._world, self.path
        self.blocked = None
        while path.end_um <= self.s + self.lookahead and path.end_um < self.stop_at:
            end = world.tracks.next_entry(path.segments[-1])
            if end == NOWHERE:
                self.blocked = "end of track"
                break
            chosen = world.tracks.choose(end, world.levers.heading_for)
            if chosen is None:
                self.blocked = "no route set"
                break
            segment = path.append(*chosen, self.s, world.watch)
            world.claims.claim(self, segment)
            world.yard.appended(self, segment)
        done = self.blocked or path.end_um >= self.stop_at
        self.look = inf if done else path.end_um - self.lookahead
        for segment in path.drop_behind(self.s - self.length_um):
            world.claims.release(self, segment)

    def extend_past_stop(self) -> None:
        """A stop has been lifted: look ahead again."""
        self._extend()
        self.replan()

    def levers_moved(self, piece: int) -> None:
        """Levers of ``piece`` have moved: take the route they now give, if not too late."""
        if self.gone:
            return
        self.advance()
        for number, segment in enumerate(self.path.segments):
            route = self._world.layout.routes[segment.route]
            if route.piece == piece and self._turns_off(segment):
                self._leave_route(number, segment)
                break
        self._extend()
        self.replan()

    def _leave_route(self, number: int, segment: Segment) -> None:
        """Take back the path from ``segment`` on."""
        world, tracks = self._world, self._world.tracks
        if number == 0:
            # The whole train is on it, short of the points: the new route begins here.
            entry = tracks.entry_end(segment.route, segment.forward)
            chosen = tracks.choose(entry, world.levers.heading_for)
            assert chosen is not None
            length = world.layout.routes[chosen[0]].length_um
            new = Segment(*chosen, segment.begin_um, segment.begin_um + length)
            dropped = self.path.segments
            self.path.segments = [new]
            self.path.relay(self.s)
            world.claims.claim(self, new)
        else:
            dropped = self.path.truncate(number, self.s)
        for gone in dropped:
            world.claims.release(self, gone)

    def _turns_off(self, segment: Segment) -> bool:
        """Whether facing points that the first wheel has yet to reach lie otherwise."""
        route = self._world.layout.routes[segment.route]
        wheel = self.s - self.path.consist.first_wheel_um
        for number, points in enumerate(route.points):
            ahead = self.path.blades(segment, number)[0] > wheel
            wrong = self._world.levers.heading_for(points.lever) != points.position
            if ahead and wrong and self.path.is_facing(segment, number):
                tracks = self._world.tracks
                entry = tracks.entry_end(segment.route, segment.forward)
                return tracks.choose(entry, self._world.levers.heading_for) is not None
        return False

    def stands_on(self, lever: int) -> Segment | None:
        """The segment on which wheels of this train are between blades of ``lever``."""
        if self.gone:
            return None
        s = self.place_now()
        consist = self.path.consist
        for segment in self.path.segments:
            for number, points in enumerate(self._world.layout.routes[segment.route].points):
                if points.lever == lever:
                    near, far = self.path.blades(segment, number)
                    if s - consist.first_wheel_um > near and s - consist.last_wheel_um < far:
                        return segment
        return None

    # -- motion -----------------------------------------------------------------

    def place_now(self) -> float:
        """Where the front is at this instant."""
        dt = (self._world.now - self.t) / k.US_PER_S
        if dt == 0.0 or (self.v == 0.0 and self.a == 0.0):
            return self.s
        return min(self.s + self.v * dt + self.a * dt * dt / 2.0, self._bound())

    def speed_now(self) -> float:
        """How fast it is at this instant."""
        dt = (self._world.now - self.t) / k.US_PER_S
        v = self.v + self.a * dt
        if self.a > 0.0:
            return min(v, max(self._goal, self.v))
        return max(v, self._goal) if self.a < 0.0 else v

    def _bound(self) -> float:
        """The next place at which something happens: never passed before it has."""
        entries, i = self.path.entries, self.path.next
        return min(entries[i][0] if i < len(entries) else inf, self.look)

    def advance(self) -> None:
        """Bring place and speed up to this instant."""
        now = self._world.now
        if now != self.t:
            self.s, self.v = max(self.s, self.place_now()), self.speed_now()
            self.t = now

    def request_replan(self) -> None:
        """Look at obstacles again, later in this instant."""
        if not self._replan_due and not self.gone:
            self._replan_due = True
            self._world.at(0, Turn.MOTION, self._replan_alarm)

    def _replan_alarm(self, _: Alarm) -> None:
        self._replan_due = False
        now = self._world.now
        count = self._replans[1] + 1 if self._replans[0] == now else 1
        self._replans = now, count
        if count <= REPLANS_AT_ONE_INSTANT:
            self.replan()

    def replan(self) -> None:
        """Find what has to be stopped for, and steer by it."""
        if self.gone:
            return
        self.advance()
        self._world.yard.try_throw(self)
        wall = self._world.claims.wall(self)
        if self.wall_other is not None:
            self.wall_other.followers.pop(self, None)
        self.leader = None
        self.wall_other = wall.other if wall else None
        limit = min(self.stop_at, self.hold_at)
        if self.blocked:
            limit = min(limit, self.path.end_um - WAIT_BEFORE_UM)
        if wall is not None:
            v, a = wall.other.speed_now(), wall.other.a
            if wall.follow:
                wall.other.followers[self] = None
            if wall.follow and v > 0.0 and a >= 0.0:
                self.leader = wall.other
                self.leader_offset = wall.room_um + self.s - wall.other.place_now()
            else:
                # One that is slowing down is taken to go on doing so until it stands.
                run_out = v * v / (-2.0 * a) if wall.follow and v > 0.0 else 0.0
                limit = min(limit, self.s + wall.room_um + run_out)
        self.limit = limit
        self._braking = self._following = False
        self.steer()

    @property
    def held(self) -> bool:
        """Stands for want of room, not of supply."""
        return self.limit - self.s < NO_ROOM_UM

    @property
    def held_by_train(self) -> bool:
        """Stands because of another train, not for a stop of its own."""
        return self.held and self.wall_other is not None and self.limit < self.stop_at

    def steer(self) -> None:
        """Choose acceleration and goal for the present state; schedule what comes next."""
        before = self.a, self.v
        if self.pushing:
            self._push()
        elif self.power.drives:
            self._drive()
        else:
            self._coast()
        self._schedule()
        if (self.a, self.v) != before:
            for follower in self.followers:
                follower.request_replan()
        if self._world.watch:
            self._note()

    def _push(self) -> None:
        speed = self._world.conduct.nudge_speed_mm_s * UM_PER_MM
        room = min(self.limit, self.push_until) - self.s
        if room <= 0.0:
            speed = 0.0
        self.v, self.a, self._goal = speed, 0.0, speed

    def _coast(self) -> None:
        self._goal = 0.0
        room = self.limit - self.s
        rate = self.coast
        if self.v > 0.0 and room > 0.0 and self.v * self.v > 2.0 * rate * room:
            # A hand, or the train ahead, is in the way: it does not roll through it.
            rate = self.v * self.v / (2.0 * room)
        if rate == inf:
            self.v = 0.0
        self.a = -rate if self.v > 0.0 else 0.0

    def _drive(self) -> None:
        room = self.limit - self.s
        goal = self.power.goal_um_s
        if self.leader is not None and self._must_follow(self.leader):
            goal = min(goal, self.leader.speed_now())
            self._following = True
        if self.v == 0.0 and room < NO_ROOM_UM:
            goal = 0.0
        if room < inf and goal > 0.0 and self.v > 0.0:
            brake_at = k.distance_until_braking(self.v, 0.0, self.brake, room)
            self._braking = self._braking or brake_at <= 0.0
        if self._braking:
            self._goal = 0.0
            need = self.v * self.v / (2.0 * room) if room > 0.0 else self.brake
            self.a = -need if self.v > 0.0 else 0.0
            return
        self._goal = goal
        if self.v < goal:
            self.a = self.rate
        elif self.v > goal:
            self.a = -self.brake
        else:
            self.a = 0.0

    def _must_follow(self, leader: Mover) -> bool:
        return self._following or self._slack(leader) <= 1.0

    def _slack(self, leader: Mover) -> float:
        """Room to the leader beyond what it takes to stop."""
        room = leader.place_now() + self.leader_offset - self.s
        return room - self.v * self.v / (2.0 * self.brake)

    def _schedule(self) -> None:
        """Find the next thing that happens to this train, and set the alarm for it."""
        self._token += 1
        s, v, a = self.s, self.v, self.a
        if v == 0.0 and a == 0.0:
            return
        place = self._bound()
        d, kind = place - s, Next.PLACE
        if a != 0.0:
            to_goal = k.distance_to_speed(v, self._goal, a)
            if to_goal < d:
                d, kind = to_goal, Next.SPEED
        if self.limit < inf and self._goal > 0.0 and not self._braking and not self.pushing:
            to_brake = k.distance_until_braking(v, a, self.brake, self.limit - s)
            if to_brake < d:
                d, kind = to_brake, Next.BRAKE
        if self.pushing and min(self.push_until, self.limit) - s < d:
            d, kind = min(self.push_until, self.limit) - s, Next.PUSHED
        d = max(d, 0.0)
        seconds_ahead = k.time_over(v, a, d)
        then = (float(place), 0.0) if kind is Next.PLACE else (s + d, 0.0)
        if kind in (Next.PLACE, Next.BRAKE):
            then = then[0], k.speed_after(v, a, d)
        elif kind is Next.SPEED:
            then = then[0], self._goal
        if self.leader is not None and not self._following and not self.pushing:
            t = self._time_to_follow(self.leader)
            if t < seconds_ahead:
                seconds_ahead, kind = t, Next.FOLLOW
                then = min(s + v * t + a * t * t / 2.0, float(place)), v + a * t
        if seconds_ahead == inf:
            return
        self._kind, self._pending = kind, then
        turn = Turn.WHEELS if kind is Next.PLACE else Turn.MOTION
        self._world.at(round(seconds_ahead * k.US_PER_S), turn, self._alarm, self._token)

    def _time_to_follow(self, leader: Mover) -> float:
        """When the room to the leader is just enough to stop in."""
        b = self.brake
        rate = leader.speed_now() - self.v - self.v * self.a / b
        curve = (leader.a - self.a - self.a * self.a / b) / 2.0
        return k.first_root(curve, rate, self._slack(leader))

    def _alarm(self, alarm: Alarm) -> None:
        if alarm.what != self._token:
            return
        self.s, self.v = self._pending
        self.t = self._world.now
        if self._kind is Next.PLACE:
            self._arrive()
        elif self._kind is Next.PUSHED:
            self.end_push()
        else:
            self._braking = self._braking or self._kind is Next.BRAKE
            self._following = self._following or self._kind is Next.FOLLOW
            if self.v == 0.0:
                self._stood()
            else:
                self.steer()

    def _arrive(self) -> None:
        """Everything that happens at the place the front has just reached."""
        token, path, s = self._token, self.path, self.s
        dirty = False
        while path.next < len(path.entries) and path.entries[path.next][0] == s:
            _, mark, payload = path.entries[path.next]
            path.next += 1
            if mark is Mark.CROSS:
                for side, slot, node in payload:
                    if self._world.supply.move(side, slot, node):
                        dirty = True
            else:
                self._pass(mark, payload)
                if self.gone or self.path is not path:
                    return
        if dirty:
            self._world.request_solve()
        if s >= self.look:
            self._extend()
            self.replan()
        if self._token == token:
            self._schedule()

    # -- pieces with levers -----------------------------------------------------

    def _pass(self, mark: Mark, payload: Any) -> None:
        world = self._world
        if mark is Mark.PLACE:
            world.yard.reached(self, payload)
        elif mark is Mark.FRONT:
            self._note()
        elif mark in (Mark.POINTS, Mark.CLEAR):
            segment, number = payload
            (self._meet if mark is Mark.POINTS else self._clear)(segment, number)
        elif isinstance(payload, Segment):
            if mark is Mark.FIRST:
                world.yard.entered(self, payload)
            elif mark is Mark.LAST:
                world.yard.left(self, payload)
            else:
                world.yard.cleared(self, payload)

    def _meet(self, segment: Segment, number: int) -> None:
        """The first wheel reaches blades: follow them, force them, or derail."""
        world = self._world
        route = world.layout.routes[segment.route]
        points = route.points[number]
        position = world.levers.position(points.lever)
        if position == points.position:
            return
        lever = world.layout.levers[points.lever]
        if position < 0:
            self.derail(route.id, lever.id, "met points that were moving")
        elif self.path.is_facing(segment, number):
            self.derail(route.id, lever.id, "met points set for no route")
        else:
            then = lever.run_through
            world.ledger.run_throughs.append(
                RunThrough(seconds(world.now), self.train.name, route.id, lever.id, then)
            )
            if then == "derails":
                self.derail(route.id, lever.id, "came from the leg that was not set")
            else:
                world.yard.force(points.lever, points.position, self, then)

    def _clear(self, segment: Segment, number: int) -> None:
        points = self._world.layout.routes[segment.route].points[number]
        self._world.yard.spring_back(points.lever, self)

    def derail(self, route: str, lever: str, cause: str) -> None:
        """Leave the run."""
        world = self._world
        self.advance()
        world.ledger.derailments.append(
            Derailment(seconds(world.now), self.train.name, route, lever, cause)
        )
        self.v = self.a = 0.0
        self._token += 1
        self.gone = True
        self._note()
        for p in self.path.consist.pickups:
            world.supply.move(p.side, p.slot, -1)
        world.request_solve()
        for segment in self.path.segments:
            world.claims.release(self, segment)
        for follower in list(self.followers):
            follower.request_replan()
        world.yard.lost(self)

    # -- supply -----------------------------------------------------------------

    def power_changed(self) -> None:
        """The supply at the pickups, the throttle or the timetable has changed."""
        if self.gone:
            return
        self.advance()
        self.power.assess()
        if self.pushing_until_live and self.power.usable:
            self.end_push()
        elif self.power.fights and self.v == 0.0 and not self.pushing and self.power.asked:
            self.turn_round()
        else:
            self.steer()

    def _stood(self) -> None:
        """The train has come to a stand."""
        self.a = 0.0
        self.power.assess()
        if self.power.fights:
            self.turn_round()
            return
        self._world.yard.stood(self)
        self.steer()
        if self.held_by_train and self.want > 0.0:
            self._world.yard.held(self)

    def turn_round(self) -> None:
        """Run the other way from here: the path is laid anew from what it stands on."""
        world = self._world
        if self.power.fights:
            segment = self.path.at(self.s)
            world.ledger.reversals.append(
                Reversal(
                    seconds(world.now),
                    self.train.name,
                    world.layout.routes[segment.route].id,
                    self.place_mm(segment),
                    self.power.supply_name(),
                )
            )
        rear = self.s - self.length_um
        keep = [x for x in self.path.segments if x.begin_um < self.s and x.end_um > rear]
        for segment in self.path.segments:
            world.claims.release(self, segment)
        self.path.segments = keep
        self.path, self.s = self.path.turned(self.s)
        self.rear_leads = not self.rear_leads
        self.stop_at = self.hold_at = inf
        self.path.relay(self.s)
        for segment in self.path.segments:
            world.claims.claim(self, segment)
        world.yard.turned(self)
        self._extend()
        self.power.assess()
        self.replan()

    # -- a hand -----------------------------------------------------------------

    def push(self, distance_um: float | None) -> None:
        """A hand moves the train on: by a distance, or (None) until it has supply."""
        self.advance()
        if self.held:
            self._world.hand.let_go(self)
            return
        self.pushing = True
        self.pushing_until_live = distance_um is None
        self.push_until = inf if distance_um is None else self.s + distance_um
        self.steer()

    def end_push(self) -> None:
        """The hand lets go."""
        self.pushing = self.pushing_until_live = False
        self.push_until = inf
        if not self.power.usable:
            self.v = 0.0
        self.a = 0.0
        self.power.assess()
        self._world.hand.let_go(self)
        self.replan()

    # -- telling ----------------------------------------------------------------

    def place_mm(self, segment: Segment | None = None) -> float:
        """The front's place on its route, mm from the route's start end."""
        segment = segment or self.path.at(self.s)
        along = self.s - segment.begin_um
        if not segment.forward:
            along = (segment.end_um - segment.begin_um) - along
        return round(along / UM_PER_MM, 3)

    def route_id(self) -> str:
        """The route the front is on."""
        return self._world.layout.routes[self.path.at(self.s).route].id

    def _note(self) -> None:
        if not self._world.watch:
            return
        segment = self.path.at(self.s)
        sign = 1.0 if segment.forward else -1.0
        self._world.ledger.motions.append(
            Motion(
                seconds(self._world.now),
                self.train.name,
                self._world.layout.routes[segment.route].id,
                self.place_mm(segment),
                round(sign * self.v / UM_PER_MM, 6),
                round(sign * self.a / UM_PER_MM, 6),
                self.power.drives,
                self._under(),
                self.rear_leads,
            )
        )

    def _under(self) -> tuple[tuple[str, bool], ...]:
        """Routes under the train, the front's first, each with whether it runs forward."""
        routes, rear = self._world.layout.routes, self.s - self.path.consist.length_um
        front = self.path.at(self.s)
        return tuple(
            (routes[segment.route].id, segment.forward)
            for segment in reversed(self.path.segments)
            if segment is front or (segment.begin_um < front.begin_um and segment.end_um > rear)
        )


__all__ = ["Entry", "Mover", "Next"]
