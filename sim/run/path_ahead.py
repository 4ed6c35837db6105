"""The way before and behind one train: looked up ahead, claimed, taken back, turned."""

from __future__ import annotations

from math import inf

from sim.layout.model import NOWHERE, UM_PER_MM, Layout
from sim.run.agenda import Once
from sim.run.levers import LeverFrame
from sim.run.path import Mark, Segment, TrackMap
from sim.run.recorder import Journal
from sim.run.reservations import WAIT_BEFORE_UM, Reservations
from sim.run.supply import SupplyModel
from sim.run.timetable import RunningTimetable
from sim.run.train import RunningTrain

#: Known track a train keeps ahead beyond what it needs to stop in (µm).
SPARE_UM = 50_000


class PathAhead:
    """Lays the path of one train. Every segment on it is claimed, no other is."""

    __slots__ = (
        "_fastest_um_s",
        "_journal",
        "_layout",
        "_levers",
        "_lookahead_um",
        "_reservations",
        "_solution",
        "_supply",
        "_timetable",
        "_tracks",
        "_train",
    )

    def __init__(
        self,
        layout: Layout,
        tracks: TrackMap,
        levers: LeverFrame,
        supply: SupplyModel,
        solution: Once,
        reservations: Reservations,
        timetable: RunningTimetable,
        journal: Journal,
        train: RunningTrain,
    ) -> None:
        self._layout, self._tracks, self._levers = layout, tracks, levers
        self._supply, self._solution = supply, solution
        self._reservations, self._timetable = reservations, timetable
        self._journal = journal
        self._train = train
        self._fastest_um_s = 0.0
        described = train.description
        speeds = [o.speed_mm_s for o in described.orders if o.speed_mm_s is not None]
        self._look_ahead_for(max([described.speed_mm_s, *speeds]) * UM_PER_MM)

    def _look_ahead_for(self, speed_um_s: float) -> None:
        """Stopping distance at that speed, clear length, and some to spare."""
        self._fastest_um_s = speed_um_s
        brake_um_s2 = self._train.description.braking_mm_s2 * UM_PER_MM
        need_um = speed_um_s * speed_um_s / (2.0 * brake_um_s2)
        clear_um = self._train.headway_um + WAIT_BEFORE_UM + SPARE_UM
        self._lookahead_um = round(need_um + clear_um)

    def expect(self, speed_um_s: float) -> None:
        """A DC throttle drives the train faster than its own orders ever will."""
        if speed_um_s > self._fastest_um_s:
            self._look_ahead_for(speed_um_s)
            self.extend()

    def put_down(self) -> None:
        """Stand where the description says, on the track that the levers give behind."""
        train, described = self._train, self._train.description
        length = self._layout.routes[described.route].length_um
        place, forward = round(described.place_mm * UM_PER_MM), described.toward_finish
        train.s = float(place if forward else length - place)
        path = train.path
        path.segments = [Segment(described.route, forward, 0, length)]
        self._extend_behind()
        path.done_um = train.s
        path.relay()
        for segment in path.segments:
            self._reservations.claim(train, segment)
        self.set_pickups()

    def _extend_behind(self) -> None:
        tracks, segments = self._tracks, self._train.path.segments
        while segments[0].begin_um > self._train.s - self._train.length_um:
            end = tracks.last_entry(segments[0])
            if end == NOWHERE:
                return
            chosen = tracks.choose(end, self._levers.heading_for)
            if chosen is None:
                return
            route, forward = chosen
            begin = segments[0].begin_um - self._layout.routes[route].length_um
            segments.insert(0, Segment(route, not forward, begin, segments[0].begin_um))

    def set_pickups(self) -> None:
        """Tell the supply what is under every pickup."""
        path = self._train.path
        for p in path.consist.pickups:
            self._supply.move(p.side, p.slot, path.node_under(p, self._train.s))
        self._solution.request()

    def extend(self) -> None:
        """Make the path known as far ahead as the train may need, and claim it."""
        path, train = self._train.path, self._train
        train.blocked, train.waits_for = None, -1
        reach = train.s + self._lookahead_um
        while path.end_um <= reach and path.end_um < train.stop_um:
            end = self._tracks.next_entry(path.segments[-1])
            if end == NOWHERE:
                train.blocked = "end of track"
                break
            chosen = self._tracks.choose(end, self._levers.heading_for)
            if chosen is None:
                train.blocked, train.waits_for = "no route set", self._layout.ends[end].piece
                break
            segment = path.append(*chosen)
            self._reservations.claim(train, segment)
            self._timetable.appended(train, segment)
        done = train.blocked or path.end_um >= train.stop_um
        train.look_um = inf if done else path.end_um - self._lookahead_um
        self.shed()

    def shed(self) -> None:
        """Give up what the rear coupling has left."""
        train = self._train
        for segment in train.path.drop_behind(train.s - train.length_um):
            self._reservations.release(train, segment)

    def reroute(self, piece: int) -> None:
        """Levers of ``piece`` have moved: take the route they now give, if not too late."""
        for number, segment in enumerate(self._train.path.segments):
            if self._tracks.piece(segment) == piece and self._turns_off(segment):
                self._leave(number, segment)
                break

    def _turns_off(self, segment: Segment) -> bool:
        """Whether facing points that the first wheel has yet to reach lie otherwise."""
        tracks, heading_for = self._tracks, self._levers.heading_for
        for number, points in enumerate(self._layout.routes[segment.route].points):
            if (
                heading_for(points.lever) != points.position
                and tracks.is_facing(segment, number)
                and self._train.path.is_ahead(Mark.POINTS, segment, number)
            ):
                entry = tracks.entry_end(segment.route, segment.forward)
                return tracks.choose(entry, heading_for) is not None
        return False

    def _leave(self, number: int, segment: Segment) -> None:
        """Take back the path from ``segment`` on, and lay the way that is set instead.

        The front may be in the piece already; up to the blades all its routes
        are one track.
        """
        path, train = self._train.path, self._train
        entry = self._tracks.entry_end(segment.route, segment.forward)
        chosen = self._tracks.choose(entry, self._levers.heading_for)
        assert chosen is not None, "a train is only turned off where a route is set"
        if number == 0:
            length = self._layout.routes[chosen[0]].length_um
            new = Segment(*chosen, segment.begin_um, segment.begin_um + length)
            dropped, path.segments = path.segments, [new]
            path.relay()
        else:
            dropped = path.truncate(number)
            new = path.append(*chosen)
        self._reservations.claim(train, new)
        for gone in dropped:
            self._reservations.release(train, gone)
        self._journal.moved(train, {segment: new})
        self._timetable.appended(train, new)
        self.extend()
        self.set_pickups()

    def turn(self) -> None:
        """Run the other way from here, over what the train stands on."""
        train, path = self._train, self._train.path
        rear = train.s - train.length_um
        kept = [x for x in path.segments if x.begin_um < train.s and x.end_um > rear]
        dropped, path.segments = path.segments, kept or [path.at(train.s)]
        train.path, train.s = path.turned(train.s)
        train.rear_leads = not train.rear_leads
        for segment in dropped:
            if segment in path.segments:
                self._reservations.turned(train, segment)
            else:
                self._reservations.release(train, segment)
        turned = dict(zip(reversed(path.segments), train.path.segments, strict=True))
        self._journal.moved(train, turned)
        self.set_pickups()

    def give_up(self) -> None:
        """The train is lifted: nothing is under it, nothing is claimed."""
        path = self._train.path
        for p in path.consist.pickups:
            self._supply.move(p.side, p.slot, -1)
        self._solution.request()
        for segment in path.segments:
            self._reservations.release(self._train, segment)
