"""The one place that throws levers, and what happens at the points.

Wheels follow the blades, force them over, or derail on them.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from sim.layout.model import Control, Layout
from sim.layout.traffic import Throw
from sim.records.model import RunThrough
from sim.run.agenda import Agenda, Turn
from sim.run.connections import Connections
from sim.run.faults import Faults
from sim.run.kinematics import US_PER_S
from sim.run.levers import MOVING, LeverFrame, ThrowStep
from sim.run.path import Segment, TrackMap
from sim.run.recorder import Recorder
from sim.run.reservations import Reservations
from sim.run.train import RunningTrain


class LeverDrive:
    """Throws by the clock and by order, and levers that wheels force over."""

    def __init__(
        self,
        agenda: Agenda,
        recorder: Recorder,
        layout: Layout,
        tracks: TrackMap,
        levers: LeverFrame,
        connections: Connections,
        faults: Faults,
        reservations: Reservations,
        trains: Sequence[RunningTrain],
    ) -> None:
        self._agenda, self._recorder = agenda, recorder
        self._layout, self._tracks, self._levers = layout, tracks, levers
        self._connections, self._faults = connections, faults
        self._reservations, self._trains = reservations, trains
        #: by lever that wheels have forced over: where it goes back to, and whose wheels
        self._forced: dict[int, tuple[int, RunningTrain]] = {}

    def start(self, throws: Iterable[Throw]) -> None:
        """Set the clock's own throws."""
        plans = [(round(throw.at_s * US_PER_S), throw) for throw in throws]
        self._agenda.plan(Turn.LEVERS, self._by_the_clock, plans)

    def _by_the_clock(self, throw: Throw) -> None:
        self.throw(self._layout.controls[throw.control], throw.position)

    def throw(self, control: Control, position: str) -> None:
        """Throw ``control``; a train that stands on its blades derails."""
        steps, moving = self._levers.begin(control, position)
        self._faults.thrown(moving)
        for lever in moving:
            self._recorder.changed("lever", self._layout.levers[lever].id, "moving")
            self._forced.pop(lever, None)
            self._derail_on(lever)
        for step in steps:
            if step.after_us == 0:
                self._reach(step)
            else:
                self._agenda.at(step.after_us, Turn.LEVERS, self._reach, step)
        self._tell_trains(moving)

    def _derail_on(self, lever: int) -> None:
        name = self._layout.levers[lever].id
        for train in self._trains:
            segment = None if train.gone else train.stands_on(lever)
            if segment is not None:
                route = self._layout.routes[segment.route].id
                train.motion.derail(route, name, "moved under it")

    def _reach(self, step: ThrowStep) -> None:
        self._connections.change(*self._levers.reach(step))
        if step.fraction >= 1.0 and self._levers.is_latest(step):
            self._lies(step.lever)
            if step.after_us > 0:
                self._tell_trains([step.lever])

    def _lies(self, lever: int) -> None:
        for name, position in self._levers.words([lever]):
            self._recorder.changed("lever", name, position)

    # -- what happens at the points -----------------------------------------------

    def meet(self, train: RunningTrain, segment: Segment, number: int) -> None:
        """The first wheel reaches blades: follow them, force them over, or derail."""
        route = self._layout.routes[segment.route]
        points = route.points[number]
        position = self._levers.position(points.lever)
        if position == points.position:
            return
        lever = self._layout.levers[points.lever]
        if position == MOVING:
            train.motion.derail(route.id, lever.id, "moving points")
        elif self._tracks.is_facing(segment, number):
            train.motion.derail(route.id, lever.id, "points set for nothing")
        else:
            self._run_through(train, segment, number)

    def _run_through(self, train: RunningTrain, segment: Segment, number: int) -> None:
        """It comes from the leg that is not set: the turnout declares what follows."""
        route = self._layout.routes[segment.route]
        points = route.points[number]
        lever = self._layout.levers[points.lever]
        self._recorder.run_throughs.append(
            RunThrough(self._recorder.now_s, train.name, route.id, lever.id, lever.run_through)
        )
        if lever.run_through == "derails":
            train.motion.derail(route.id, lever.id, "wrong leg")
        else:
            springs = lever.run_through == "springs back"
            self._force(points.lever, points.position, train if springs else None)

    def clear(self, train: RunningTrain, segment: Segment, number: int) -> None:
        """The last wheel is off blades: those that spring back do."""
        points = self._layout.routes[segment.route].points[number]
        self._spring_back(points.lever, train)

    def _force(self, lever: int, position: int, returns_for: RunningTrain | None) -> None:
        """Wheels push ``lever`` over; it springs back after ``returns_for`` is off it."""
        if returns_for is not None:
            self._forced[lever] = self._levers.heading_for(lever), returns_for
        self._connections.change(*self._levers.force(lever, position))
        self._lies(lever)
        self._tell_trains([lever])

    def _spring_back(self, lever: int, train: RunningTrain) -> None:
        """The last wheel of ``train`` is off the blades."""
        back = self._forced.get(lever)
        if back is not None and back[1] is train:
            del self._forced[lever]
            self._connections.change(*self._levers.force(lever, back[0]))
            self._lies(lever)
            self._tell_trains([lever])

    def lifted(self, train: RunningTrain) -> None:
        """``train`` is off the track: whatever it held over springs back."""
        for lever in [x for x, (_, by) in self._forced.items() if by is train]:
            self._spring_back(lever, train)

    def _tell_trains(self, levers: Iterable[int]) -> None:
        for piece in dict.fromkeys(self._layout.levers[x].piece for x in levers):
            told = self._reservations.claimers(piece)
            told += [m for m in self._trains if m.waits_for == piece and m not in told]
            for train in told:
                train.motion.levers_moved(piece)
