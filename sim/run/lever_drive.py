"""The one place that throws levers and moves contacts, and what happens at the points.

What happens at the points: followed, forced over, or derailed on.

The signal box: the one place that throws levers and moves contacts in a run.
"""

from __future__ import annotations

from collections.abc import Iterable
from typing import TYPE_CHECKING

from sim.layout.model import Control
from sim.layout.traffic import Throw
from sim.records.causes import DerailReason
from sim.records.model import Derailment, RunThrough
from sim.run.agenda import Turn
from sim.run.kinematics import US_PER_S
from sim.run.levers import MOVING, Step
from sim.run.path import Segment
from sim.run.recorder import seconds

if TYPE_CHECKING:
    from sim.run.agenda import World
    from sim.run.train import Mover


def meet(world: World, mover: Mover, segment: Segment, number: int) -> None:
    """The first wheel reaches blades: follow them, force them over, or derail."""
    route = world.layout.routes[segment.route]
    points = route.points[number]
    position = world.levers.position(points.lever)
    if position == points.position:
        return
    lever = world.layout.levers[points.lever]
    if position == MOVING:
        derail(world, mover, route.id, lever.id, "moving points")
    elif world.tracks.is_facing(segment, number):
        derail(world, mover, route.id, lever.id, "points set for nothing")
    else:
        _run_through(world, mover, segment, number)


def _run_through(world: World, mover: Mover, segment: Segment, number: int) -> None:
    """It comes from the leg that is not set: the turnout declares what follows."""
    route = world.layout.routes[segment.route]
    points = route.points[number]
    lever = world.layout.levers[points.lever]
    world.ledger.run_throughs.append(
        RunThrough(seconds(world.now), mover.train.name, route.id, lever.id, lever.run_through)
    )
    if lever.run_through == "derails":
        derail(world, mover, route.id, lever.id, "wrong leg")
    else:
        springs = lever.run_through == "springs back"
        world.box.force(points.lever, points.position, mover if springs else None)


def derail(world: World, mover: Mover, route: str, lever: str, cause: DerailReason) -> None:
    """The train leaves the run; what it held over, or had kept for it, is given back."""
    mover.advance()
    world.ledger.derailments.append(
        Derailment(seconds(world.now), mover.train.name, route, lever, cause)
    )
    mover.lift()
    world.box.lifted(mover)
    world.crossings.lost(mover)
    world.journal.close(mover)
    world.throttles.look()


def clear(world: World, mover: Mover, segment: Segment, number: int) -> None:
    """The last wheel is off blades: those that spring back do."""
    points = world.layout.routes[segment.route].points[number]
    world.box.spring_back(points.lever, mover)


class SignalBox:
    """Throws by the clock and by order, and levers that wheels force over."""

    def __init__(self, world: World) -> None:
        self._world = world
        self._forced: dict[int, tuple[int, Mover]] = {}  # lever: (back to, by which train)

    def start(self) -> None:
        """Set the clock's own throws."""
        for throw in self._world.case.throws:
            at_us = round(throw.at_s * US_PER_S)
            self._world.at(at_us, Turn.LEVERS, self._by_the_clock, throw)

    def _by_the_clock(self, throw: Throw) -> None:
        self.throw(self._world.layout.controls[throw.control], throw.position)

    def throw(self, control: Control, position: str) -> None:
        """Throw ``control``; a train that stands on its blades derails."""
        world = self._world
        steps, moving = world.levers.begin(control, position)
        world.faults.thrown(moving)
        for lever in moving:
            world.changed("lever", world.layout.levers[lever].id, "moving")
            self._forced.pop(lever, None)
            self._derail_on(lever)
        for step in steps:
            if step.after_us == 0:
                self._reach(step)
            else:
                world.at(step.after_us, Turn.LEVERS, self._reach, step)
        self._tell_trains(moving)

    def _derail_on(self, lever: int) -> None:
        world = self._world
        name = world.layout.levers[lever].id
        for mover in world.movers:
            segment = None if mover.gone else mover.road.stands_on(lever)
            if segment is not None:
                route = world.layout.routes[segment.route].id
                derail(world, mover, route, name, "moved under it")

    def _reach(self, step: Step) -> None:
        self.connect(*self._world.levers.reach(step))
        if step.fraction >= 1.0 and self._world.levers.is_latest(step):
            self._lies(step.lever)
            if step.after_us > 0:
                self._tell_trains([step.lever])

    def _lies(self, lever: int) -> None:
        for name, position in self._world.levers.words([lever]):
            self._world.changed("lever", name, position)

    def force(self, lever: int, position: int, returns_for: Mover | None) -> None:
        """Wheels push ``lever`` over; it springs back after ``returns_for`` is off it."""
        if returns_for is not None:
            self._forced[lever] = self._world.levers.heading_for(lever), returns_for
        self.connect(*self._world.levers.force(lever, position))
        self._lies(lever)
        self._tell_trains([lever])

    def spring_back(self, lever: int, mover: Mover) -> None:
        """The last wheel of ``mover`` is off the blades."""
        back = self._forced.get(lever)
        if back is not None and back[1] is mover:
            del self._forced[lever]
            self.connect(*self._world.levers.force(lever, back[0]))
            self._lies(lever)
            self._tell_trains([lever])

    def lifted(self, mover: Mover) -> None:
        """``mover`` is off the track: whatever it held over springs back."""
        for lever in [x for x, (_, by) in self._forced.items() if by is mover]:
            self.spring_back(lever, mover)

    def connect(self, closed: list[int], opened: list[int]) -> None:
        """Contacts have just closed, and just opened."""
        elements = self._world.layout.elements
        for e in closed:
            self._world.changed("contact", elements[e].id, "closed")
        for e in opened:
            self._world.changed("contact", elements[e].id, "open")
        if closed or opened:
            self._world.supply.set_contacts(closed, opened)
            self._world.request_solve()

    def _tell_trains(self, levers: Iterable[int]) -> None:
        world = self._world
        for piece in dict.fromkeys(world.layout.levers[x].piece for x in levers):
            told = world.claims.claimers(piece)
            told += [m for m in world.movers if m.road.waits_for == piece and m not in told]
            for mover in told:
                mover.levers_moved(piece)
