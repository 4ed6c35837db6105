"""Crossings that trains ask for: kept for them, set for them, and set back."""

from __future__ import annotations

from dataclasses import dataclass, field
from math import inf

from sim.layout.model import Control, Layout
from sim.run.lever_drive import LeverDrive
from sim.run.levers import MOVING, LeverFrame
from sim.run.path import Segment, TrackMap
from sim.run.recorder import Recorder
from sim.run.reservations import WAIT_BEFORE_UM, Reservations
from sim.run.train import RunningTrain


@dataclass(slots=True)
class AskedRoute:
    """A crossing that a train has asked for, and what was thrown for it: (control, back to)."""

    piece: int
    thrown: list[tuple[Control, str]] = field(default_factory=list)
    impossible: bool = False


class RouteSetting:
    """Sets the levers for a train that is to cross, once it is first in line.

    The piece is kept for the train from the moment it looks so far ahead.  The
    train waits at the entry until the levers have come to rest, and when its last
    wheel has left the piece they are put back to their rest positions.  A lever
    that did not follow may send it straight on; it then tries again.
    """

    def __init__(
        self,
        recorder: Recorder,
        layout: Layout,
        tracks: TrackMap,
        levers: LeverFrame,
        reservations: Reservations,
        lever_drive: LeverDrive,
    ) -> None:
        self._recorder, self._layout, self._tracks = recorder, layout, tracks
        self._levers, self._reservations = levers, reservations
        self._lever_drive = lever_drive
        self._asked: dict[RunningTrain, AskedRoute] = {}

    def ask(self, train: RunningTrain, piece: int) -> None:
        """``train`` is to cross over in ``piece``."""
        self._asked[train] = AskedRoute(piece)

    def look(self, train: RunningTrain) -> None:
        """Set the crossing that the train needs, if it can be set; hold the train if not."""
        train.hold_um = inf
        asked = self._asked.get(train)
        if asked is None or asked.impossible:
            return
        segment = self._ahead(train, asked.piece)
        if segment is None:
            return
        if not asked.thrown:
            self._reservations.keep(train, asked.piece)
            if self._reservations.may_throw(train, asked.piece):
                self._set(train, asked, segment)
                # Throwing has laid the path anew.
                segment = self._ahead(train, asked.piece)
        if segment is not None and not asked.impossible and not self._at_rest(asked):
            train.hold_um = segment.begin_um - WAIT_BEFORE_UM

    def _at_rest(self, asked: AskedRoute) -> bool:
        """Whether its levers have been thrown and move no more."""
        position = self._levers.position
        levers = [x for control, _ in asked.thrown for x in control.levers]
        return bool(levers) and all(position(x) != MOVING for x in levers)

    def _ahead(self, train: RunningTrain, piece: int) -> Segment | None:
        for segment in train.path.segments:
            if segment.begin_um >= train.s and self._tracks.piece(segment) == piece:
                return segment
        return None

    def _set(self, train: RunningTrain, asked: AskedRoute, segment: Segment) -> None:
        """Throw what the first way across from here needs."""
        layout = self._layout
        entry = self._tracks.entry_end(segment.route, segment.forward)
        needs = self._way_across(entry)
        if needs is None:
            asked.impossible = True
            self._recorder.tell("no crossing", train.name, layout.ends[entry].id)
            return
        chosen = []
        for control in layout.controls:
            lever = next((x for x in control.levers if x in needs), None)
            if lever is not None:
                described = layout.levers[lever]
                asked.thrown.append((control, described.positions[described.rest]))
                chosen.append((control, described.positions[needs[lever]]))
        for control, position in chosen:
            self._lever_drive.throw(control, position)

    def _way_across(self, entry: int) -> dict[int, int] | None:
        """Positions by lever of the first route from ``entry`` that is not the rest one."""
        layout = self._layout
        for route, _ in self._tracks.routes_at[entry]:
            needs = {p.lever: p.position for p in layout.routes[route].points}
            if any(layout.levers[x].rest != p for x, p in needs.items()):
                return needs
        return None

    def left(self, train: RunningTrain, segment: Segment) -> bool:
        """The last wheel has left a piece: set its levers back; True if it has crossed."""
        layout = self._layout
        asked = self._asked.get(train)
        route = layout.routes[segment.route]
        if asked is None or route.piece != asked.piece or not asked.thrown:
            return False
        done = any(p.position != layout.levers[p.lever].rest for p in route.points)
        self._put_back(asked)
        if done:
            self._asked.pop(train, None)  # its own throw may have derailed it
        return done

    def lost(self, train: RunningTrain) -> None:
        """The train is out of the run."""
        asked = self._asked.pop(train, None)
        if asked is not None:
            self._put_back(asked)

    def _put_back(self, asked: AskedRoute) -> None:
        thrown, asked.thrown = asked.thrown, []
        for control, rest in thrown:
            self._lever_drive.throw(control, rest)
