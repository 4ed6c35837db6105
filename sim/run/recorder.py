"""Writing down what happens in a run: legs, passes, stalls, and the motion itself."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace

from sim.layout.model import Layout
from sim.layout.traffic import Case
from sim.records.model import (
    Change,
    ChangeKind,
    Derailment,
    Dropout,
    Event,
    Hesitation,
    Leg,
    Motion,
    Outcome,
    Pass,
    Record,
    Reversal,
    RunThrough,
    Stall,
    Trip,
    WaitedFor,
)
from sim.run import kinematics as k
from sim.run.agenda import Agenda
from sim.run.consist import UM_PER_MM
from sim.run.kinematics import seconds
from sim.run.path import Segment
from sim.run.train import RunningTrain

#: The worst that happened names the outcome.
RANK: dict[Outcome, int] = {
    "clean": 0,
    "hesitated": 1,
    "held": 2,
    "not finished": 3,
    "tripped": 4,
    "stalled": 5,
}


@dataclass(slots=True)
class Open:
    """A leg or pass under way."""

    train: str
    name: str
    start_us: int
    outcome: Outcome = "clean"
    waited_for: WaitedFor | None = None

    def worsen(self, outcome: Outcome) -> None:
        """Note something that happened during it."""
        if RANK[outcome] > RANK[self.outcome]:
            self.outcome = outcome


class Recorder:
    """The record of one run while it is being written.

    With ``watch`` every change of motion, and of levers, contacts and supplies, is
    kept as well; a run that is watched goes as one that is not, to the last bit.
    """

    def __init__(self, agenda: Agenda, layout: Layout, watch: bool) -> None:
        self._agenda, self._layout = agenda, layout
        self.watch = watch
        self.legs: list[Leg] = []
        self.passes: list[Pass] = []
        self.stalls: list[Stall] = []
        self.hesitations: list[Hesitation] = []
        self.dropouts: list[Dropout] = []
        self.trips: list[Trip] = []
        self.derailments: list[Derailment] = []
        self.run_throughs: list[RunThrough] = []
        self.reversals: list[Reversal] = []
        self.events: list[Event] = []
        self.motions: list[Motion] = []
        self.changes: list[Change] = []

    @property
    def now_s(self) -> float:
        """Seconds since the start."""
        return seconds(self._agenda.now)

    def tell(self, what: str, who: str, detail: str) -> None:
        """Write an event into the record."""
        self.events.append(Event(self.now_s, what, who, detail))

    def changed(self, what: ChangeKind, who: str, state: str) -> None:
        """Keep in the record, when watched, how a thing is from now on."""
        if self.watch:
            self.changes.append(Change(self.now_s, what, who, state))

    def close_leg(self, leg: Open, finished: bool) -> None:
        """End a leg; one that is cut short is at best not finished."""
        if not finished:
            leg.worsen("not finished")
        self.legs.append(
            Leg(
                leg.train,
                leg.name,
                leg.outcome,
                seconds(leg.start_us),
                self.now_s,
                leg.waited_for,
                finished,
            )
        )

    def close_pass(self, passing: Open, left: bool) -> None:
        """End a pass; one that the train never left is at best not finished."""
        if not left:
            passing.worsen("not finished")
        leave = self.now_s if left else None
        self.passes.append(
            Pass(passing.train, passing.name, passing.outcome, seconds(passing.start_us), leave)
        )

    def nudged(self, number: int) -> None:
        """One more nudge for stall ``number``."""
        stall = self.stalls[number]
        self.stalls[number] = replace(stall, nudges=stall.nudges + 1)

    # -- motion -----------------------------------------------------------------

    def moves(self, train: RunningTrain) -> None:
        """The train moves otherwise from now on."""
        if self.watch:
            self._write(train, self._agenda.now, train.s, train.v)

    def went(self, train: RunningTrain, place: float) -> None:
        """Write down each route that the front has come onto on its way to ``place``.

        Worked out afterwards: watching a run must not change it by as much as a
        rounding.
        """
        if not self.watch:
            return
        for segment in train.path.segments:
            if train.s < segment.begin_um <= place:
                way = segment.begin_um - train.s
                after_us = k.time_over(train.v, train.a, way) * k.US_PER_S
                time_us = train.t + round(min(after_us, self._agenda.now - train.t))
                speed = k.speed_after(train.v, train.a, way)
                self._write(train, time_us, float(segment.begin_um), speed)

    def _write(self, train: RunningTrain, time_us: int, place: float, speed: float) -> None:
        segment = train.path.at(place)
        sign = 1.0 if segment.forward else -1.0
        self.motions.append(
            Motion(
                seconds(time_us),
                train.name,
                self._layout.routes[segment.route].id,
                segment.on_route_mm(place),
                round(sign * speed / UM_PER_MM, 6),
                round(sign * train.a / UM_PER_MM, 6),
                train.power.drives,
                self._under(train, place),
                train.rear_leads,
            )
        )

    def _under(self, train: RunningTrain, place: float) -> tuple[tuple[str, bool], ...]:
        """Routes under the train, the front's first, each with whether it runs forward."""
        routes, rear = self._layout.routes, place - train.length_um
        front = train.path.at(place)
        return tuple(
            (routes[segment.route].id, segment.forward)
            for segment in reversed(train.path.segments)
            if segment is front or (segment.begin_um < front.begin_um and segment.end_um > rear)
        )

    # -- the whole --------------------------------------------------------------

    def record(self, case: Case, seed: int, is_random: bool) -> Record:
        """The finished record; passes and legs in the order they began."""
        return Record(
            case.scenario,
            case.fix,
            seed,
            case.conduct.duration_s,
            tuple(sorted(self.legs, key=lambda x: (x.start_s, x.train, x.leg))),
            tuple(sorted(self.passes, key=lambda x: (x.enter_s, x.train, x.route))),
            tuple(self.stalls),
            tuple(sorted(self.hesitations, key=lambda x: (x.time_s, x.train))),
            tuple(sorted(self.dropouts, key=lambda x: (x.time_s, x.train, x.where))),
            tuple(self.trips),
            tuple(self.derailments),
            tuple(self.run_throughs),
            tuple(self.reversals),
            tuple(self.events),
            tuple(sorted(self.motions, key=lambda m: m.time_s)),
            is_random,
            tuple(self.changes),
        )


@dataclass(slots=True)
class UnderWay:
    """What is under way for one train: its leg, and its passes by segment."""

    leg: Open | None = None
    legs: int = 0
    passes: dict[Segment, Open] = field(default_factory=dict)
    held: bool = False


class Journal:
    """Opens and closes legs and passes, and marks what happens to them."""

    def __init__(self, agenda: Agenda, recorder: Recorder, layout: Layout, trains: int) -> None:
        self._agenda, self._recorder, self._layout = agenda, recorder, layout
        self._trains = [UnderWay() for _ in range(trains)]

    def open_leg(self, train: RunningTrain, what: str) -> None:
        """A leg begins; its name is its number and what is done."""
        here = self._trains[train.index]
        here.legs += 1
        here.leg = Open(train.name, f"{here.legs}: {what}", self._agenda.now)
        self._mark_pushed(train, here.leg)

    @staticmethod
    def _mark_pushed(train: RunningTrain, begun: Open) -> None:
        """What begins while a hand pushes a stalled train has stalled from the start."""
        if train.pushing and train.power.stalled is not None:
            begun.worsen("stalled")

    def end_leg(self, train: RunningTrain) -> None:
        """The leg under way, if any, is done."""
        here = self._trains[train.index]
        if here.leg is not None:
            self._recorder.close_leg(here.leg, True)
            here.leg = None

    def has_leg(self, train: RunningTrain) -> bool:
        """Whether a leg is under way."""
        return self._trains[train.index].leg is not None

    def entered(self, train: RunningTrain, segment: Segment) -> None:
        """The first wheel is on a piece with levers."""
        route = self._layout.routes[segment.route].id
        passes = self._trains[train.index].passes
        passes[segment] = Open(train.name, route, self._agenda.now)
        self._mark_pushed(train, passes[segment])

    def left(self, train: RunningTrain, segment: Segment) -> None:
        """The last wheel is off a piece with levers."""
        passing = self._trains[train.index].passes.pop(segment, None)
        if passing is not None:
            self._recorder.close_pass(passing, True)

    def moved(self, train: RunningTrain, now: Mapping[Segment, Segment]) -> None:
        """Segments have given way to others: passes under way go with them.

        A pass is named by the route that the train takes in the end.
        """
        here = self._trains[train.index]
        before, here.passes = here.passes, {}
        for segment, passing in before.items():
            other = now.get(segment, segment)
            if segment.route != other.route:
                passing.name = self._layout.routes[other.route].id
            here.passes[other] = passing

    def mark(self, train: RunningTrain, outcome: Outcome) -> None:
        """Something happened to the train: its leg and its passes show it."""
        here = self._trains[train.index]
        if here.leg is not None:
            here.leg.worsen(outcome)
        for passing in here.passes.values():
            passing.worsen(outcome)
        if outcome in ("stalled", "tripped"):
            self._keep_waiting(train)

    def _keep_waiting(self, train: RunningTrain) -> None:
        """Whoever stands behind ``train`` waits for one that has stopped."""
        todo, seen = [train], {train.index}
        while todo:
            for follower in todo.pop().followers:
                if self._trains[follower.index].held and follower.index not in seen:
                    seen.add(follower.index)
                    todo.append(follower)
                    self._wait(follower, "stopped train")

    def _wait(self, train: RunningTrain, for_what: WaitedFor) -> None:
        leg = self._trains[train.index].leg
        if leg is not None and leg.waited_for != "stopped train":
            leg.waited_for = for_what

    def _waits_for(self, train: RunningTrain) -> WaitedFor:
        """What the first train of those that stand in line before ``train`` does."""
        first, seen = train, {train.index}
        while first.held_by_train and first.ahead is not None and first.ahead.index not in seen:
            first = first.ahead
            seen.add(first.index)
        stopped = first.stands_without or first.power.stalled is not None
        halted = first.v == 0.0 and first.asked and first.power.kind() == "tripped"
        return "stopped train" if stopped or halted else "traffic"

    def look(self, train: RunningTrain) -> None:
        """The train stands: is that because of another one?"""
        here = self._trains[train.index]
        held = train.held_by_train and train.asked and not train.gone
        if held == here.held:
            return
        here.held = held
        other = train.ahead
        if held and other is not None:
            self._recorder.tell("held", train.name, f"by {other.name}")
            self.mark(train, "held")
            self._wait(train, self._waits_for(train))
        elif not held:
            self._recorder.tell("go on", train.name, "")

    def close(self, train: RunningTrain) -> None:
        """The run ends for this train: close what is under way."""
        here = self._trains[train.index]
        for passing in here.passes.values():
            self._recorder.close_pass(passing, False)
        here.passes.clear()
        if here.leg is not None:
            self._recorder.close_leg(here.leg, False)
            here.leg = None
