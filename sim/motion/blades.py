"""What happens at the points: followed, forced over, or derailed on."""

from __future__ import annotations

from typing import TYPE_CHECKING

from sim.motion.ledger import seconds
from sim.motion.levers import MOVING
from sim.motion.tracks import Segment
from sim.records.model import Derailment, RunThrough

if TYPE_CHECKING:
    from sim.motion.mover import Mover
    from sim.motion.world import World


def meet(world: World, mover: Mover, segment: Segment, number: int) -> None:
    """The first wheel reaches blades: follow them, force them over, or derail."""
    route = world.layout.routes[segment.route]
    points = route.points[number]
    position = world.levers.position(points.lever)
    if position == points.position:
        return
    lever = world.layout.levers[points.lever]
    if position == MOVING:
        derail(world, mover, route.id, lever.id, "met points that were moving")
    elif world.tracks.is_facing(segment, number):
        derail(world, mover, route.id, lever.id, "met points set for no route")
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
        derail(world, mover, route.id, lever.id, "came from the leg that was not set")
    else:
        springs = lever.run_through == "springs back"
        world.box.force(points.lever, points.position, mover if springs else None)


def derail(world: World, mover: Mover, route: str, lever: str, cause: str) -> None:
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
