"""The way before and behind one train: looked up ahead, claimed, taken back, turned."""

from __future__ import annotations

from math import inf
from typing import TYPE_CHECKING

from sim.layout.model import NOWHERE
from sim.run.consist import UM_PER_MM, Consist
from sim.run.path import Mark, Path, Segment
from sim.run.reservations import WAIT_BEFORE_UM

if TYPE_CHECKING:
    from sim.run.agenda import World
    from sim.run.train import Mover


#: Known track a train keeps ahead beyond what it needs to stop in (µm).
SPARE_UM = 50_000


class Road:
    """The path of one train. Every segment on it is claimed, no other is.

    ``look_um`` is where the front has to look further ahead; ``blocked`` tells
    why the path goes no further, ``waits_for`` the piece that has no route set
    (-1 for none).
    """

    __slots__ = (
        "_fastest_um_s",
        "_lookahead_um",
        "_mover",
        "_world",
        "blocked",
        "look_um",
        "path",
        "rear_leads",
        "waits_for",
    )

    def __init__(self, world: World, mover: Mover, consist: Consist) -> None:
        self._world = world
        self._mover = mover
        self.path = Path(world.tracks, consist, world.supply.same_metal)
        self.blocked: str | None = None
        self.look_um = inf
        self.waits_for = -1
        self.rear_leads = False  #: the end that the timetable calls the rear goes first
        self._fastest_um_s = 0.0
        train = mover.train
        speeds = [o.speed_mm_s for o in train.orders if o.speed_mm_s is not None]
        self._look_ahead_for(max([train.speed_mm_s, *speeds]) * UM_PER_MM)

    def _look_ahead_for(self, speed_um_s: float) -> None:
        """Stopping distance at that speed, clear length, and some to spare."""
        self._fastest_um_s = speed_um_s
        brake_um_s2 = self._mover.train.braking_mm_s2 * UM_PER_MM
        need_um = speed_um_s * speed_um_s / (2.0 * brake_um_s2)
        clear_um = self._world.conduct.headway_mm * UM_PER_MM + WAIT_BEFORE_UM + SPARE_UM
        self._lookahead_um = round(need_um + clear_um)

    def expect(self, speed_um_s: float) -> None:
        """A DC throttle drives the train faster than its own orders ever will."""
        if speed_um_s > self._fastest_um_s:
            self._look_ahead_for(speed_um_s)
            self.extend()

    def put_down(self) -> None:
        """Stand where the description says, on the track that the levers give behind."""
        mover, world = self._mover, self._world
        train, route = mover.train, world.layout.routes[mover.train.route]
        place = round(train.place_mm * UM_PER_MM)
        forward = train.toward_finish
        mover.s = float(place if forward else route.length_um - place)
        self.path.segments = [Segment(train.route, forward, 0, route.length_um)]
        self._extend_behind()
        self.path.done_um = mover.s
        self.path.relay()
        for segment in self.path.segments:
            world.claims.claim(mover, segment)
        self.set_pickups()

    def _extend_behind(self) -> None:
        tracks, segments = self._world.tracks, self.path.segments
        while segments[0].begin_um > self._mover.s - self._mover.length_um:
            end = tracks.last_entry(segments[0])
            if end == NOWHERE:
                return
            chosen = tracks.choose(end, self._world.levers.heading_for)
            if chosen is None:
                return
            route, forward = chosen
            begin = segments[0].begin_um - self._world.layout.routes[route].length_um
            segments.insert(0, Segment(route, not forward, begin, segments[0].begin_um))

    def set_pickups(self) -> None:
        """Tell the supply what is under every pickup."""
        for p in self.path.consist.pickups:
            node = self.path.node_under(p, self._mover.s)
            self._world.supply.move(p.side, p.slot, node)
        self._world.request_solve()

    def extend(self) -> None:
        """Make the path known as far ahead as the train may need, and claim it."""
        world, path, mover = self._world, self.path, self._mover
        self.blocked, self.waits_for = None, -1
        reach = mover.s + self._lookahead_um
        while path.end_um <= reach and path.end_um < mover.steering.stop_um:
            end = world.tracks.next_entry(path.segments[-1])
            if end == NOWHERE:
                self.blocked = "end of track"
                break
            chosen = world.tracks.choose(end, world.levers.heading_for)
            if chosen is None:
                self.blocked, self.waits_for = "no route set", world.layout.ends[end].piece
                break
            segment = path.append(*chosen)
            world.claims.claim(mover, segment)
            world.yard.appended(mover, segment)
        done = self.blocked or path.end_um >= mover.steering.stop_um
        self.look_um = inf if done else path.end_um - self._lookahead_um
        self.shed()

    def shed(self) -> None:
        """Give up what the rear coupling has left."""
        for segment in self.path.drop_behind(self._mover.s - self._mover.length_um):
            self._world.claims.release(self._mover, segment)

    def reroute(self, piece: int) -> None:
        """Levers of ``piece`` have moved: take the route they now give, if not too late."""
        for number, segment in enumerate(self.path.segments):
            if self._world.tracks.piece(segment) == piece and self._turns_off(segment):
                self._leave(number, segment)
                break

    def _turns_off(self, segment: Segment) -> bool:
        """Whether facing points that the first wheel has yet to reach lie otherwise."""
        tracks, heading_for = self._world.tracks, self._world.levers.heading_for
        for number, points in enumerate(self._world.layout.routes[segment.route].points):
            if (
                heading_for(points.lever) != points.position
                and tracks.is_facing(segment, number)
                and self.path.is_ahead(Mark.POINTS, segment, number)
            ):
                entry = tracks.entry_end(segment.route, segment.forward)
                return tracks.choose(entry, heading_for) is not None
        return False

    def _leave(self, number: int, segment: Segment) -> None:
        """Take back the path from ``segment`` on, and lay the way that is set instead.

        The front may be in the piece already; up to the blades all its routes
        are one track.
        """
        world, path, mover = self._world, self.path, self._mover
        entry = world.tracks.entry_end(segment.route, segment.forward)
        chosen = world.tracks.choose(entry, world.levers.heading_for)
        assert chosen is not None, "a train is only turned off where a route is set"
        if number == 0:
            length = world.layout.routes[chosen[0]].length_um
            new = Segment(*chosen, segment.begin_um, segment.begin_um + length)
            dropped, path.segments = path.segments, [new]
            path.relay()
        else:
            dropped = path.truncate(number)
            new = path.append(*chosen)
        world.claims.claim(mover, new)
        for gone in dropped:
            world.claims.release(mover, gone)
        world.journal.moved(mover, {segment: new})
        world.yard.appended(mover, new)
        self.extend()
        self.set_pickups()

    def stands_on(self, lever: int) -> Segment | None:
        """The segment on which wheels of this train are between blades of ``lever``."""
        for segment in self.path.segments:
            for number, points in enumerate(self._world.layout.routes[segment.route].points):
                if (
                    points.lever == lever
                    and not self.path.is_ahead(Mark.POINTS, segment, number)
                    and self.path.is_ahead(Mark.CLEAR, segment, number)
                ):
                    return segment
        return None

    def turn(self) -> None:
        """Run the other way from here, over what the train stands on."""
        mover, claims, path = self._mover, self._world.claims, self.path
        rear = mover.s - mover.length_um
        kept = [x for x in path.segments if x.begin_um < mover.s and x.end_um > rear]
        dropped, path.segments = path.segments, kept or [path.at(mover.s)]
        self.path, mover.s = path.turned(mover.s)
        self.rear_leads = not self.rear_leads
        for segment in dropped:
            if segment in path.segments:
                claims.turned(mover, segment)
            else:
                claims.release(mover, segment)
        turned = dict(zip(reversed(path.segments), self.path.segments, strict=True))
        self._world.journal.moved(mover, turned)
        self.set_pickups()

    def give_up(self) -> None:
        """The train is lifted: nothing is under it, nothing is claimed."""
        for p in self.path.consist.pickups:
            self._world.supply.move(p.side, p.slot, -1)
        self._world.request_solve()
        for segment in self.path.segments:
            self._world.claims.release(self._mover, segment)
