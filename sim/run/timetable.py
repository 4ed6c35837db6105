"""Carries out the timetable: one order after the other, leg by leg."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from math import inf

from sim.layout.model import UM_PER_MM, Layout
from sim.layout.traffic import Order
from sim.run.agenda import Agenda, Turn
from sim.run.kinematics import US_PER_S
from sim.run.lever_drive import LeverDrive
from sim.run.operator import Operator
from sim.run.path import Mark, Segment, TrackMap
from sim.run.recorder import Journal
from sim.run.route_setting import RouteSetting
from sim.run.throttles import Throttles
from sim.run.train import NO_ROOM_UM, RunningTrain

#: A train stops with its front no nearer than this to the end of the piece (mm).
STOP_SHORT_MM = 5.0
#: Repeated orders that take less than this are carried out once only (µs).
ROUND_AT_LEAST_US = 100_000


@dataclass(slots=True)
class Duty:
    """Where one train is in its timetable.

    ``serial`` counts orders, so that places laid out for an earlier one do not
    count for this; ``mark`` is where a lap ends: route, direction, place in it.
    ``then`` is what is done as soon as the train stands.
    """

    line: int = -1
    serial: int = 0
    lap: int = 0
    round_us: int = -1
    mark: tuple[int, bool, float] | None = None
    then: Callable[[], None] | None = None
    backward: bool = False


class RunningTimetable:
    """The timetable of all trains, being carried out."""

    def __init__(
        self,
        agenda: Agenda,
        layout: Layout,
        tracks: TrackMap,
        trains: Sequence[RunningTrain],
        throttles: Throttles,
        lever_drive: LeverDrive,
        route_setting: RouteSetting,
        journal: Journal,
        operator: Operator,
    ) -> None:
        self._agenda, self._layout, self._tracks = agenda, layout, tracks
        self._trains = trains
        self._throttles, self._lever_drive = throttles, lever_drive
        self._route_setting = route_setting
        self._journal, self._operator = journal, operator
        self._duties = [Duty() for _ in trains]

    def start(self) -> None:
        """Give every train its first order."""
        for train in self._trains:
            self._next_order(train)

    # -- orders -----------------------------------------------------------------

    def _next_order(self, train: RunningTrain) -> None:
        """Take the next order; throws are carried out on the way."""
        duty, orders = self._duties[train.index], train.description.orders
        while True:
            duty.line += 1
            duty.serial += 1
            if duty.line >= len(orders) and not self._begin_anew(train, duty):
                return
            order = orders[duty.line]
            if order.do != "throw":
                break
            self._lever_drive.throw(self._layout.controls[order.control], order.position)
            if train.gone:
                return
        if order.do == "wait":
            self._wait(train, order.for_s)
        elif order.backward != duty.backward:
            self._when_it_stands(train, lambda: self._face_and_begin(train, order))
        else:
            self._begin(train, order)

    def _begin_anew(self, train: RunningTrain, duty: Duty) -> bool:
        """Start the orders again if they are to be repeated; otherwise there are no more."""
        now = self._agenda.now
        too_short = duty.round_us >= 0 and now - duty.round_us < ROUND_AT_LEAST_US
        if train.description.repeat and train.description.orders and not too_short:
            duty.line, duty.round_us = 0, now
            return True
        train.ordered = False
        self._want(train, 0.0)
        return False

    def _when_it_stands(self, train: RunningTrain, then: Callable[[], None]) -> None:
        """Bring the train to a stand, and do ``then``."""
        self._duties[train.index].then = then
        self._want(train, 0.0)
        if train.v == 0.0:
            self.stood(train)

    def _face_and_begin(self, train: RunningTrain, order: Order) -> None:
        duty = self._duties[train.index]
        duty.backward = order.backward
        self._throttles.reverse(train)
        train.motion.turn_round()
        self._begin(train, order)

    def _wait(self, train: RunningTrain, for_s: float) -> None:
        """Stand, from the moment it stands, for ``for_s``."""
        delay_us = round(for_s * US_PER_S)
        self._when_it_stands(
            train, lambda: self._agenda.at(delay_us, Turn.ORDERS, self._waited, train)
        )

    def _waited(self, train: RunningTrain) -> None:
        if not train.gone:
            self._next_order(train)

    def _begin(self, train: RunningTrain, order: Order) -> None:
        """Begin a leg, or the first of several."""
        duty = self._duties[train.index]
        duty.lap, duty.mark = 1, None
        self._open_leg(train, order)
        train.motion.advance()
        train.stop_um = inf
        path = train.path
        path.forget_places()
        if order.do == "cross":
            self._route_setting.ask(train, order.piece)
        if order.do == "circulate":
            here = path.at(train.s)
            duty.mark = here.route, here.forward, train.s - here.begin_um
        for segment in list(path.segments):
            self.appended(train, segment)
        speed = (
            order.speed_mm_s if order.speed_mm_s is not None else train.description.speed_mm_s
        )
        self._want(train, speed * UM_PER_MM)
        train.motion.extend_and_replan()

    def _open_leg(self, train: RunningTrain, order: Order) -> None:
        where = f" {self._layout.pieces[order.piece].id}" if order.piece >= 0 else ""
        self._journal.open_leg(train, order.do + where)

    def _want(self, train: RunningTrain, speed_um_s: float) -> None:
        train.motion.advance()
        train.want = speed_um_s
        self._throttles.look()
        train.motion.power_changed()

    # -- what happens on the way ------------------------------------------------

    def _order(self, train: RunningTrain) -> Order | None:
        """The order whose leg is under way."""
        if not self._journal.has_leg(train):
            return None
        return train.description.orders[self._duties[train.index].line]

    def appended(self, train: RunningTrain, segment: Segment) -> None:
        """A piece is on the path ahead: does the present order speak of it?"""
        order, duty = self._order(train), self._duties[train.index]
        if order is None:
            return
        if segment.begin_um <= train.s:
            self._stop_here(train, order, segment)
            return
        if duty.mark is not None and duty.mark[:2] == (segment.route, segment.forward):
            self._watch_for(train, segment, segment.begin_um + round(duty.mark[2]))
        if self._tracks.piece(segment) != order.piece:
            return
        if order.do == "run":
            self._watch_for(train, segment, segment.begin_um)
        elif order.do == "stop" and train.stop_um == inf:
            into_um = self._stop_place_um(train, order, segment)
            train.stop_um = segment.begin_um + into_um
        elif order.do == "cross":
            train.motion.look_again()

    def _stop_here(self, train: RunningTrain, order: Order, segment: Segment) -> None:
        """Stop on the piece that the front is on already, if there is room to brake in."""
        if order.do != "stop" or segment.end_um <= train.s or train.stop_um < inf:
            return
        if self._tracks.piece(segment) != order.piece:
            return
        place = segment.begin_um + self._stop_place_um(train, order, segment)
        brake_um_s2 = train.description.braking_mm_s2 * UM_PER_MM
        if place - train.s > train.v * train.v / (2.0 * brake_um_s2) + NO_ROOM_UM:
            train.stop_um = place

    def _watch_for(self, train: RunningTrain, segment: Segment, place_um: int) -> None:
        serial = self._duties[train.index].serial
        train.path.add([(place_um, Mark.PLACE, (), segment, serial)])

    def _stop_place_um(self, train: RunningTrain, order: Order, segment: Segment) -> float:
        """How far in the front stops: as told, or with the train in the middle.

        A place is told from the route's start, whichever way the train comes.
        """
        length = segment.end_um - segment.begin_um
        if order.place_mm is not None:
            place = min(order.place_mm * UM_PER_MM, length)
            return place if segment.forward else length - place
        middle = (length + train.length_um) / 2
        return min(middle, length - STOP_SHORT_MM * UM_PER_MM)

    def reached(self, train: RunningTrain, serial: int) -> None:
        """A place that the timetable waited for."""
        order, duty = self._order(train), self._duties[train.index]
        if order is None or serial != duty.serial:
            return
        if order.do == "circulate" and duty.lap < order.laps:
            self._journal.end_leg(train)
            duty.lap += 1
            self._open_leg(train, order)
        else:
            self._finish(train)

    def crossed(self, train: RunningTrain) -> None:
        """The last wheel has left the piece that the train was to cross in."""
        order = self._order(train)
        if order is not None and order.do == "cross":
            self._finish(train)

    def stood(self, train: RunningTrain) -> None:
        """A train has come to a stand: was that what it was told?"""
        duty, order = self._duties[train.index], self._order(train)
        if duty.then is not None:
            then, duty.then = duty.then, None
            then()
        elif order is not None and order.do == "stop" and train.s >= train.stop_um - NO_ROOM_UM:
            self._journal.end_leg(train)
            self._operator.over(train)
            train.stop_um = inf
            # On DC it may run along with others before its own orders go on.
            train.motion.extend()
            self._wait(train, order.for_s)

    def turned(self, train: RunningTrain) -> None:
        """The train runs the other way: a lap ends where it began, met from there."""
        duty = self._duties[train.index]
        if duty.mark is not None:
            route, forward, place = duty.mark
            length = self._layout.routes[route].length_um
            duty.mark = route, not forward, length - place

    def _finish(self, train: RunningTrain) -> None:
        self._journal.end_leg(train)
        self._duties[train.index].mark = None
        self._next_order(train)
