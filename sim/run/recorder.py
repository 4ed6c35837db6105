"""Writing down what happens in a run: legs, passes, stalls, and the motion itself.

Writes down what happens in one run, and closes what is open when it ends.

Legs and passes under way, and what becomes of them.

Writes a train's motion into a watched record, each piece of it as it begins.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING

from sim.layout.traffic import Case
from sim.records.model import (
    Change,
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
)
from sim.run import kinematics as k
from sim.run.consist import UM_PER_MM
from sim.run.kinematics import US_PER_S
from sim.run.path import Segment

if TYPE_CHECKING:
    from sim.run.agenda import World
    from sim.run.train import Mover


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

    def worsen(self, outcome: Outcome) -> None:
        """Note something that happened during it."""
        if RANK[outcome] > RANK[self.outcome]:
            self.outcome = outcome


@dataclass(slots=True)
class Ledger:
    """The record of a run while it is being written."""

    legs: list[Leg] = field(default_factory=list)
    passes: list[Pass] = field(default_factory=list)
    stalls: list[Stall] = field(default_factory=list)
    hesitations: list[Hesitation] = field(default_factory=list)
    dropouts: list[Dropout] = field(default_factory=list)
    trips: list[Trip] = field(default_factory=list)
    derailments: list[Derailment] = field(default_factory=list)
    run_throughs: list[RunThrough] = field(default_factory=list)
    reversals: list[Reversal] = field(default_factory=list)
    events: list[Event] = field(default_factory=list)
    motions: list[Motion] = field(default_factory=list)
    changes: list[Change] = field(default_factory=list)

    def close_leg(self, leg: Open, now_us: int, finished: bool) -> None:
        """End a leg; one that is cut short is at best not finished."""
        if not finished:
            leg.worsen("not finished")
        self.legs.append(
            Leg(leg.train, leg.name, leg.outcome, seconds(leg.start_us), seconds(now_us))
        )

    def close_pass(self, passing: Open, now_us: int | None) -> None:
        """End a pass; ``now_us`` is None when the train never left."""
        if now_us is None:
            passing.worsen("not finished")
        leave = None if now_us is None else seconds(now_us)
        self.passes.append(
            Pass(passing.train, passing.name, passing.outcome, seconds(passing.start_us), leave)
        )

    def nudged(self, number: int) -> None:
        """One more nudge for stall ``number``."""
        stall = self.stalls[number]
        self.stalls[number] = replace(stall, nudges=stall.nudges + 1)

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


def seconds(time_us: int) -> float:
    """Whole microseconds as seconds."""
    return time_us / US_PER_S


@dataclass(slots=True)
class Page:
    """What is under way for one train: its leg, and its passes by segment."""

    leg: Open | None = None
    legs: int = 0
    passes: dict[Segment, Open] = field(default_factory=dict)
    held: bool = False


class Journal:
    """Opens and closes legs and passes, and marks what happens to them."""

    def __init__(self, world: World) -> None:
        self._world = world
        self._pages = [Page() for _ in world.case.trains]

    def open_leg(self, mover: Mover, what: str) -> None:
        """A leg begins; its name is its number and what is done."""
        page = self._pages[mover.index]
        page.legs += 1
        page.leg = Open(mover.train.name, f"{page.legs}: {what}", self._world.now)
        self._mark_pushed(mover, page.leg)

    @staticmethod
    def _mark_pushed(mover: Mover, begun: Open) -> None:
        """What begins while a hand pushes a stalled train has stalled from the start."""
        if mover.pushing and mover.power.stalled is not None:
            begun.worsen("stalled")

    def end_leg(self, mover: Mover) -> None:
        """The leg under way, if any, is done."""
        page = self._pages[mover.index]
        if page.leg is not None:
            self._world.ledger.close_leg(page.leg, self._world.now, True)
            page.leg = None

    def has_leg(self, mover: Mover) -> bool:
        """Whether a leg is under way."""
        return self._pages[mover.index].leg is not None

    def entered(self, mover: Mover, segment: Segment) -> None:
        """The first wheel is on a piece with levers."""
        route = self._world.layout.routes[segment.route].id
        passes = self._pages[mover.index].passes
        passes[segment] = Open(mover.train.name, route, self._world.now)
        self._mark_pushed(mover, passes[segment])
        self._world.faults.entered(self._world.tracks.piece(segment))

    def left(self, mover: Mover, segment: Segment) -> None:
        """The last wheel is off a piece with levers."""
        passing = self._pages[mover.index].passes.pop(segment, None)
        if passing is not None:
            self._world.ledger.close_pass(passing, self._world.now)

    def moved(self, mover: Mover, now: Mapping[Segment, Segment]) -> None:
        """Segments have given way to others: passes under way go with them.

        A pass is named by the route that the train takes in the end.
        """
        page = self._pages[mover.index]
        before, page.passes = page.passes, {}
        for segment, passing in before.items():
            other = now.get(segment, segment)
            if segment.route != other.route:
                passing.name = self._world.layout.routes[other.route].id
            page.passes[other] = passing

    def mark(self, mover: Mover, outcome: Outcome) -> None:
        """Something happened to the train: its leg and its passes show it."""
        page = self._pages[mover.index]
        if page.leg is not None:
            page.leg.worsen(outcome)
        for passing in page.passes.values():
            passing.worsen(outcome)

    def look(self, mover: Mover) -> None:
        """The train stands: is that because of another one?"""
        page = self._pages[mover.index]
        held = mover.steering.held_by_train and mover.power.asked and not mover.gone
        if held == page.held:
            return
        page.held = held
        other = mover.steering.wall_other
        if held and other is not None:
            self._world.tell("held", mover.train.name, f"by {other.train.name}")
            self.mark(mover, "held")
        elif not held:
            self._world.tell("go on", mover.train.name, "")

    def close(self, mover: Mover) -> None:
        """The run ends for this train: close what is under way."""
        page = self._pages[mover.index]
        for passing in page.passes.values():
            self._world.ledger.close_pass(passing, None)
        page.passes.clear()
        if page.leg is not None:
            self._world.ledger.close_leg(page.leg, self._world.now, False)
            page.leg = None


def on_route_mm(place: float, segment: Segment) -> float:
    """A path place as mm from the start end of the segment's route."""
    along = place - segment.begin_um
    if not segment.forward:
        along = (segment.end_um - segment.begin_um) - along
    return round(along / UM_PER_MM, 3)


def note(world: World, mover: Mover) -> None:
    """The train moves otherwise from now on."""
    if world.watch:
        _write(world, mover, world.now, mover.s, mover.v)


def note_entered(world: World, mover: Mover, place: float) -> None:
    """Write down each route that the front comes onto on its way to ``place``.

    Worked out afterwards: watching a run must not change it by as much as a
    rounding.
    """
    if not world.watch:
        return
    for segment in mover.road.path.segments:
        if mover.s < segment.begin_um <= place:
            way = segment.begin_um - mover.s
            after_us = k.time_over(mover.v, mover.a, way) * k.US_PER_S
            time_us = mover.t + round(min(after_us, world.now - mover.t))
            speed = k.speed_after(mover.v, mover.a, way)
            _write(world, mover, time_us, float(segment.begin_um), speed)


def _write(world: World, mover: Mover, time_us: int, place: float, speed: float) -> None:
    segment = mover.road.path.at(place)
    sign = 1.0 if segment.forward else -1.0
    world.ledger.motions.append(
        Motion(
            seconds(time_us),
            mover.train.name,
            world.layout.routes[segment.route].id,
            on_route_mm(place, segment),
            round(sign * speed / UM_PER_MM, 6),
            round(sign * mover.a / UM_PER_MM, 6),
            mover.power.drives,
            _under(world, mover, place),
            mover.road.rear_leads,
        )
    )


def _under(world: World, mover: Mover, place: float) -> tuple[tuple[str, bool], ...]:
    """Routes under the train, the front's first, each with whether it runs forward."""
    routes, rear = world.layout.routes, place - mover.length_um
    path = mover.road.path
    front = path.at(place)
    return tuple(
        (routes[segment.route].id, segment.forward)
        for segment in reversed(path.segments)
        if segment is front or (segment.begin_um < front.begin_um and segment.end_um > rear)
    )
