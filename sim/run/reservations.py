"""Who is on which piece or about to come, so that trains stop behind each other.

A train claims every piece on its known path.  On the same route trains follow
each other by distance; on routes that conflict the one that claimed first goes
first, and the other waits at the entry.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from sim.run.path import Mark, Segment

if TYPE_CHECKING:
    from sim.run.agenda import World
    from sim.run.train import Mover


#: Where a train waits before a piece that it may not enter (µm before its end).
WAIT_BEFORE_UM = 10_000


#: Where it waits before blades, when it is nearer than that already (µm before them).
SHORT_OF_UM = 1_000


@dataclass(slots=True)
class Wall:
    """What a train must stop for: ``room_um`` from its front, and who it is.

    ``follow`` is set when the obstacle is a train on the same route that may
    itself be moving the same way.
    """

    room_um: float
    other: Mover
    follow: bool


class Claims:
    """The claims on all pieces, in the order they were made."""

    def __init__(self, world: World) -> None:
        self._world = world
        self._on: list[list[Mover]] = [[] for _ in world.layout.pieces]
        self._reserved: dict[int, Mover] = {}

    def claim(self, mover: Mover, segment: Segment) -> None:
        """``mover`` has put ``segment`` on its path."""
        piece = self._piece(segment)
        others = self._others(piece, mover)
        self._on[piece].append(mover)
        for other in others:
            # One that goes the same way ahead of it has nothing new to look out for.
            if any(
                s.route != segment.route or s.forward != segment.forward
                for s in self._segments(other, piece)
            ):
                other.attention.request()

    def release(self, mover: Mover, segment: Segment) -> None:
        """``segment`` is no longer on the path of ``mover``."""
        piece = self._piece(segment)
        on = self._on[piece]
        # The latest of its claims: an earlier one keeps its place in line.
        del on[len(on) - 1 - on[::-1].index(mover)]
        if mover not in self._on[piece] and self._reserved.get(piece) is mover:
            del self._reserved[piece]
        for other in self._others(piece, mover):
            other.attention.request()

    def turned(self, mover: Mover, segment: Segment) -> None:
        """``mover`` stays on ``segment`` but runs the other way now."""
        for other in self._others(self._piece(segment), mover):
            other.attention.request()

    def claimers(self, piece: int) -> list[Mover]:
        """Trains that have ``piece`` on their path, first claim first."""
        return list(dict.fromkeys(self._on[piece]))

    def reserve(self, mover: Mover, piece: int) -> None:
        """Let nobody enter ``piece`` who has not claimed it before ``mover``."""
        if piece not in self._reserved:
            self._reserved[piece] = mover
            for other in self._others(piece, mover):
                other.attention.request()

    def may_throw(self, mover: Mover, piece: int) -> bool:
        """Whether ``mover`` is first in line at ``piece``, with nobody on it."""
        if self._reserved.get(piece, mover) is not mover:
            return False
        if self._on[piece][0] is not mover:
            return False
        return not any(
            self._inside(other, segment)
            for other in self._others(piece, mover)
            for segment in self._segments(other, piece)
        )

    def wall(self, mover: Mover) -> Wall | None:
        """The nearest obstacle ahead of ``mover`` on its known path."""
        front = mover.s
        for segment in mover.road.path.segments:
            if segment.end_um <= front:
                continue
            others = self._others(self._piece(segment), mover)
            walls = [w for other in others if (w := self._against(mover, segment, other))]
            if walls:
                return min(walls, key=lambda w: w.room_um)
        return None

    def gate(self, mover: Mover) -> Wall | None:
        """The entry of the next piece that is kept for a crossing of another train.

        Its levers go back once that train is clear, so none may follow it in,
        however far ahead its tail is.
        """
        if not self._reserved:
            return None
        for segment in mover.road.path.segments:
            if segment.begin_um > mover.s:
                piece = self._piece(segment)
                holder = self._reserved.get(piece, mover)
                if holder is not mover and self._first(piece, holder, mover):
                    return self._at_entry(mover, segment, holder)
        return None

    def _against(self, mover: Mover, segment: Segment, other: Mover) -> Wall | None:
        for their in self._segments(other, self._piece(segment)):
            if their.route == segment.route and their.forward == segment.forward:
                found = self._behind(mover, segment, other, their)
            else:
                found = self._conflict(mover, segment, other, their)
            if found is not None:
                return found
        return None

    def _behind(
        self, mover: Mover, segment: Segment, other: Mover, their: Segment
    ) -> Wall | None:
        """Same route, same way: the other one's tail, if it is ahead."""
        front = other.place_now() - their.begin_um
        rear = front - other.length_um
        mine = mover.s - segment.begin_um
        if front <= 0 or rear >= their.end_um - their.begin_um:
            return None
        if front <= mine:
            return None
        return Wall(rear - mine - mover.steering.headway_um, other, True)

    def _conflict(
        self, mover: Mover, segment: Segment, other: Mover, their: Segment
    ) -> Wall | None:
        """Another way through the same piece, or the same one head on."""
        ours, route = self._world.layout.routes[segment.route], their.route
        same = route == segment.route
        piece = self._piece(segment)
        reserved = self._reserved.get(piece) is other
        if not same and route not in ours.conflicts and not reserved:
            return None
        place, inside = other.place_now(), self._inside(other, their)
        if mover.s <= segment.begin_um:
            if inside or self._first(piece, other, mover):
                return self._at_entry(mover, segment, other)
            return None
        if not inside:
            return None
        if (short := self._before_points(mover, segment)) is not None:
            # Levers have moved before it: it stops short of the blades, if it can.
            return Wall(short, other, False)
        if same:
            # Head on within one piece: each may use half of what lies between.
            between = (their.end_um - place) - (mover.s - segment.begin_um)
            room = between / 2 - mover.steering.headway_um
            return Wall(room, other, False) if between > 0 else None
        return None

    def _before_points(self, mover: Mover, segment: Segment) -> float | None:
        """Room to the first facing blades that are still ahead on ``segment``."""
        tracks, path = self._world.tracks, mover.road.path
        tips = [
            tracks.blades(segment, number)[0]
            for number in range(len(self._world.layout.routes[segment.route].points))
            if tracks.is_facing(segment, number) and path.is_ahead(Mark.POINTS, segment, number)
        ]
        if not tips:
            return None
        return min(tips) + path.consist.first_wheel_um - SHORT_OF_UM - mover.s

    def _inside(self, mover: Mover, segment: Segment) -> bool:
        """Whether any part of the train is on that segment of its path."""
        place = mover.place_now()
        return place > segment.begin_um and place - mover.length_um < segment.end_um

    def _at_entry(self, mover: Mover, segment: Segment, other: Mover) -> Wall:
        return Wall(segment.begin_um - WAIT_BEFORE_UM - mover.s, other, False)

    def _first(self, piece: int, one: Mover, other: Mover) -> bool:
        on = self._on[piece]
        return one in on and (other not in on or on.index(one) < on.index(other))

    def _others(self, piece: int, mover: Mover) -> list[Mover]:
        on = self._on[piece]
        if not on or (len(on) == 1 and on[0] is mover):
            return []
        return [m for m in dict.fromkeys(on) if m is not mover]

    def _segments(self, mover: Mover, piece: int) -> list[Segment]:
        return [s for s in mover.road.path.segments if self._piece(s) == piece]

    def _piece(self, segment: Segment) -> int:
        return self._world.tracks.piece(segment)
