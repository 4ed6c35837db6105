"""Writes a train's motion into a watched record, each piece of it as it begins."""

from __future__ import annotations

from typing import TYPE_CHECKING

from sim.motion import kinematics as k
from sim.motion.consist import UM_PER_MM
from sim.motion.ledger import seconds
from sim.motion.tracks import Segment
from sim.records.model import Motion

if TYPE_CHECKING:
    from sim.motion.mover import Mover
    from sim.motion.world import World


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
