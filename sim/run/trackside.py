"""What happens along the track as a train passes places on its path."""

from __future__ import annotations

from sim.run.faults import Faults
from sim.run.lever_drive import LeverDrive
from sim.run.path import Mark, Segment, TrackMap
from sim.run.recorder import Journal
from sim.run.route_setting import RouteSetting
from sim.run.timetable import RunningTimetable
from sim.run.train import RunningTrain


class Trackside:
    """Tells whom it concerns that wheels have reached blades, entered a piece, left it."""

    def __init__(
        self,
        tracks: TrackMap,
        journal: Journal,
        faults: Faults,
        lever_drive: LeverDrive,
        route_setting: RouteSetting,
        timetable: RunningTimetable,
    ) -> None:
        self._tracks, self._journal, self._faults = tracks, journal, faults
        self._lever_drive, self._route_setting = lever_drive, route_setting
        self._timetable = timetable

    def passes(self, train: RunningTrain, mark: Mark, segment: Segment, number: int) -> None:
        """``train`` has reached what ``mark`` says of ``segment``; see :class:`Mark`."""
        if mark is Mark.PLACE:
            self._timetable.reached(train, number)
        elif mark is Mark.POINTS:
            self._lever_drive.meet(train, segment, number)
        elif mark is Mark.CLEAR:
            self._lever_drive.clear(train, segment, number)
        elif mark is Mark.FIRST:
            self._journal.entered(train, segment)
            self._faults.entered(self._tracks.piece(segment), train.index)
        elif mark is Mark.LAST:
            self._journal.left(train, segment)
            self._faults.left(train.index, self._tracks.piece(segment))
            if self._route_setting.left(train, segment):
                self._timetable.crossed(train)

    def lost(self, train: RunningTrain) -> None:
        """``train`` is out of the run: what it held over, or had set, is given back."""
        self._lever_drive.lifted(train)
        self._faults.left(train.index)
        self._route_setting.lost(train)
        self._journal.close(train)
