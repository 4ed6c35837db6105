"""Crossings that trains ask for: kept for them, set for them, and set back."""

from __future__ import annotations

from dataclasses import dataclass, field
from math import inf
from typing import TYPE_CHECKING

from sim.layout.model import Control
from sim.run.levers import MOVING
from sim.run.path import Segment
from sim.run.reservations import WAIT_BEFORE_UM

if TYPE_CHECKING:
    from sim.run.agenda import World
    from sim.run.train import Mover


@dataclass(slots=True)
class Crossing:
    """A crossing that a train has asked for, and what was thrown for it: (control, back to)."""

    piece: int
    thrown: list[tuple[Control, str]] = field(default_factory=list)
    impossible: bool = False


class Crossings:
    """Sets the levers for a train that is to cross, once it is first in line.

    The piece is kept for the train from the moment it looks so far ahead.  The
    train waits at the entry until the levers have come to rest, and when its last
    wheel has left the piece they are put back to their rest positions.  A lever
    that did not follow may send it straight on; it then tries again.
    """

    def __init__(self, world: World) -> None:
        self._world = world
        self._asked: dict[Mover, Crossing] = {}

    def ask(self, mover: Mover, piece: int) -> None:
        """``mover`` is to cross over in ``piece``."""
        self._asked[mover] = Crossing(piece)

    def look(self, mover: Mover) -> None:
        """Set the crossing that the train needs, if it can be set; hold the train if not."""
        mover.steering.hold_um = inf
        crossing = self._asked.get(mover)
        if crossing is None or crossing.impossible:
            return
        segment = self._ahead(mover, crossing.piece)
        if segment is None:
            return
        if not crossing.thrown:
            claims = self._world.claims
            claims.reserve(mover, crossing.piece)
            if claims.may_throw(mover, crossing.piece):
                self._set(mover, crossing, segment)
                # Throwing has laid the path anew.
                segment = self._ahead(mover, crossing.piece)
        if segment is not None and not crossing.impossible and not self._at_rest(crossing):
            mover.steering.hold_um = segment.begin_um - WAIT_BEFORE_UM

    def _at_rest(self, crossing: Crossing) -> bool:
        """Whether its levers have been thrown and move no more."""
        position = self._world.levers.position
        levers = [x for control, _ in crossing.thrown for x in control.levers]
        return bool(levers) and all(position(x) != MOVING for x in levers)

    def _ahead(self, mover: Mover, piece: int) -> Segment | None:
        for segment in mover.road.path.segments:
            if segment.begin_um >= mover.s and self._world.tracks.piece(segment) == piece:
                return segment
        return None

    def _set(self, mover: Mover, crossing: Crossing, segment: Segment) -> None:
        """Throw what the first way across from here needs."""
        world = self._world
        layout = world.layout
        entry = world.tracks.entry_end(segment.route, segment.forward)
        needs = self._way_across(entry)
        if needs is None:
            crossing.impossible = True
            world.tell("no crossing", mover.train.name, layout.ends[entry].id)
            return
        chosen = []
        for control in layout.controls:
            lever = next((x for x in control.levers if x in needs), None)
            if lever is not None:
                described = layout.levers[lever]
                crossing.thrown.append((control, described.positions[described.rest]))
                chosen.append((control, described.positions[needs[lever]]))
        for control, position in chosen:
            world.box.throw(control, position)

    def _way_across(self, entry: int) -> dict[int, int] | None:
        """Positions by lever of the first route from ``entry`` that is not the rest one."""
        layout = self._world.layout
        for route, _ in self._world.tracks.routes_at[entry]:
            needs = {p.lever: p.position for p in layout.routes[route].points}
            if any(layout.levers[x].rest != p for x, p in needs.items()):
                return needs
        return None

    def left(self, mover: Mover, segment: Segment) -> None:
        """The last wheel has left a piece: set its levers back, end the order if it is done."""
        layout = self._world.layout
        crossing = self._asked.get(mover)
        route = layout.routes[segment.route]
        if crossing is None or route.piece != crossing.piece or not crossing.thrown:
            return
        done = any(p.position != layout.levers[p.lever].rest for p in route.points)
        self._put_back(crossing)
        if done:
            del self._asked[mover]
            self._world.yard.crossed(mover)

    def lost(self, mover: Mover) -> None:
        """The train is out of the run."""
        crossing = self._asked.pop(mover, None)
        if crossing is not None:
            self._put_back(crossing)

    def _put_back(self, crossing: Crossing) -> None:
        thrown, crossing.thrown = crossing.thrown, []
        for control, rest in thrown:
            self._world.box.throw(control, rest)
