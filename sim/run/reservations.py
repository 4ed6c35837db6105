"""Who is on which piece or about to come, so that trains stop behind each other.

A train claims every piece on its known path.  On the same route trains follow
each other by distance; on routes that conflict the one that claimed first goes
first, and the other waits at the entry.
"""

from __future__ import annotations

from dataclasses import dataclass

from sim.layout.model import Layout
from sim.run.path import Mark, Segment, TrackMap
from sim.run.train import RunningTrain

#: Where a train waits before a piece that it may not enter (µm before its end).
WAIT_BEFORE_UM = 10_000


#: Where it waits before blades, when it is nearer than that already (µm before them).
SHORT_OF_UM = 1_000


@dataclass(slots=True)
class Obstacle:
    """What a train must stop for: ``room_um`` from its front, and who it is.

    ``follow`` is set when the obstacle is a train on the same route that may
    itself be moving the same way.
    """

    room_um: float
    other: RunningTrain
    follow: bool


class Reservations:
    """The reservations of all pieces, in the order they were made.

    A train that has a piece on its path *claims* it; a piece that is *kept* for a train
    is entered by nobody who has not claimed it before.
    """

    def __init__(self, layout: Layout, tracks: TrackMap) -> None:
        self._layout, self._tracks = layout, tracks
        self._piece_of = tracks.piece_of
        self._on: list[list[RunningTrain]] = [[] for _ in layout.pieces]
        self._kept: dict[int, RunningTrain] = {}

    def claim(self, train: RunningTrain, segment: Segment) -> None:
        """``train`` has put ``segment`` on its path."""
        piece = self._piece_of[segment.route]
        others = self._others(piece, train)
        self._on[piece].append(train)
        for other in others:
            # One that goes the same way ahead of it has nothing new to look out for.
            if any(
                s.route != segment.route or s.forward != segment.forward
                for s in self._segments(other, piece)
            ):
                other.motion.look_again()

    def release(self, train: RunningTrain, segment: Segment) -> None:
        """``segment`` is no longer on the path of ``train``."""
        piece = self._piece_of[segment.route]
        on = self._on[piece]
        # The latest of its claims: an earlier one keeps its place in line.
        del on[len(on) - 1 - on[::-1].index(train)]
        if train not in self._on[piece] and self._kept.get(piece) is train:
            del self._kept[piece]
        for other in self._others(piece, train):
            other.motion.look_again()

    def turned(self, train: RunningTrain, segment: Segment) -> None:
        """``train`` stays on ``segment`` but runs the other way now."""
        for other in self._others(self._piece_of[segment.route], train):
            other.motion.look_again()

    def claimers(self, piece: int) -> list[RunningTrain]:
        """Trains that have ``piece`` on their path, first claim first."""
        return list(dict.fromkeys(self._on[piece]))

    def keep(self, train: RunningTrain, piece: int) -> None:
        """Let nobody enter ``piece`` who has not claimed it before ``train``."""
        if piece not in self._kept:
            self._kept[piece] = train
            for other in self._others(piece, train):
                other.motion.look_again()

    def may_throw(self, train: RunningTrain, piece: int) -> bool:
        """Whether ``train`` is first in line at ``piece``, with nobody on it."""
        if self._kept.get(piece, train) is not train:
            return False
        if self._on[piece][0] is not train:
            return False
        return not any(
            self._inside(other, segment)
            for other in self._others(piece, train)
            for segment in self._segments(other, piece)
        )

    def obstacle(self, train: RunningTrain) -> Obstacle | None:
        """The nearest obstacle ahead of ``train`` on its known path."""
        front = train.s
        for segment in train.path.segments:
            if segment.end_um <= front:
                continue
            on = self._on[self._piece_of[segment.route]]
            if len(on) == 1:
                continue  # it is its own
            others = self._others(self._piece_of[segment.route], train)
            obstacles = [o for other in others if (o := self._against(train, segment, other))]
            if obstacles:
                return min(obstacles, key=lambda o: o.room_um)
        return None

    def gate(self, train: RunningTrain) -> Obstacle | None:
        """The entry of the next piece that is kept for a crossing of another train.

        Its levers go back once that train is clear, so none may follow it in,
        however far ahead its tail is.
        """
        if not self._kept:
            return None
        for segment in train.path.segments:
            if segment.begin_um > train.s:
                piece = self._piece_of[segment.route]
                holder = self._kept.get(piece, train)
                if holder is not train and self._first(piece, holder, train):
                    return self._at_entry(train, segment, holder)
        return None

    def _against(
        self, train: RunningTrain, segment: Segment, other: RunningTrain
    ) -> Obstacle | None:
        for their in self._segments(other, self._piece_of[segment.route]):
            if their.route == segment.route and their.forward == segment.forward:
                found = self._behind(train, segment, other, their)
            else:
                found = self._conflict(train, segment, other, their)
            if found is not None:
                return found
        return None

    def _behind(
        self, train: RunningTrain, segment: Segment, other: RunningTrain, their: Segment
    ) -> Obstacle | None:
        """Same route, same way: the other one's tail, if it is ahead."""
        front = other.place_now() - their.begin_um
        rear = front - other.length_um
        mine = train.s - segment.begin_um
        if front <= 0 or rear >= their.end_um - their.begin_um:
            return None
        if front <= mine:
            return None
        return Obstacle(rear - mine - train.headway_um, other, True)

    def _conflict(
        self, train: RunningTrain, segment: Segment, other: RunningTrain, their: Segment
    ) -> Obstacle | None:
        """Another way through the same piece, or the same one head on."""
        ours, route = self._layout.routes[segment.route], their.route
        same = route == segment.route
        piece = self._piece_of[segment.route]
        reserved = self._kept.get(piece) is other
        if not same and route not in ours.conflicts and not reserved:
            return None
        place, inside = other.place_now(), self._inside(other, their)
        if train.s <= segment.begin_um:
            if inside or self._first(piece, other, train):
                return self._at_entry(train, segment, other)
            return None
        if not inside:
            return None
        if (short := self._before_points(train, segment)) is not None:
            # Levers have moved before it: it stops short of the blades, if it can.
            return Obstacle(short, other, False)
        if same:
            # Head on within one piece: each may use half of what lies between.
            between = (their.end_um - place) - (train.s - segment.begin_um)
            room = between / 2 - train.headway_um
            return Obstacle(room, other, False) if between > 0 else None
        return None

    def _before_points(self, train: RunningTrain, segment: Segment) -> float | None:
        """Room to the first facing blades that are still ahead on ``segment``."""
        tracks, path = self._tracks, train.path
        tips = [
            tracks.blades(segment, number)[0]
            for number in range(len(self._layout.routes[segment.route].points))
            if tracks.is_facing(segment, number) and path.is_ahead(Mark.POINTS, segment, number)
        ]
        if not tips:
            return None
        return min(tips) + path.consist.first_wheel_um - SHORT_OF_UM - train.s

    def _inside(self, train: RunningTrain, segment: Segment) -> bool:
        """Whether any part of the train is on that segment of its path."""
        place = train.place_now()
        return place > segment.begin_um and place - train.length_um < segment.end_um

    def _at_entry(self, train: RunningTrain, segment: Segment, other: RunningTrain) -> Obstacle:
        return Obstacle(segment.begin_um - WAIT_BEFORE_UM - train.s, other, False)

    def _first(self, piece: int, one: RunningTrain, other: RunningTrain) -> bool:
        on = self._on[piece]
        return one in on and (other not in on or on.index(one) < on.index(other))

    def _others(self, piece: int, train: RunningTrain) -> list[RunningTrain]:
        on = self._on[piece]
        if not on or (len(on) == 1 and on[0] is train):
            return []
        return [m for m in dict.fromkeys(on) if m is not train]

    def _segments(self, train: RunningTrain, piece: int) -> list[Segment]:
        return [s for s in train.path.segments if self._piece_of[s.route] == piece]
