"""Carries out the timetable: one order after the other, leg by leg."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from math import inf
from typing import TYPE_CHECKING

from sim.layout.traffic import Order
from sim.run.agenda import Turn
from sim.run.consist import UM_PER_MM
from sim.run.driver import NO_ROOM_UM
from sim.run.kinematics import US_PER_S
from sim.run.path import Mark, Segment

if TYPE_CHECKING:
    from sim.run.agenda import World
    from sim.run.train import Mover


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


class Yard:
    """The timetable of all trains."""

    def __init__(self, world: World) -> None:
        self._world = world
        self._duties = [Duty() for _ in world.case.trains]

    def start(self) -> None:
        """Give every train its first order."""
        for mover in self._world.movers:
            self._next_order(mover)

    # -- orders -----------------------------------------------------------------

    def _next_order(self, mover: Mover) -> None:
        """Take the next order; throws are carried out on the way."""
        duty, orders = self._duties[mover.index], mover.train.orders
        while True:
            duty.line += 1
            duty.serial += 1
            if duty.line >= len(orders) and not self._begin_anew(mover, duty):
                return
            order = orders[duty.line]
            if order.do != "throw":
                break
            self._world.box.throw(self._world.layout.controls[order.control], order.position)
            if mover.gone:
                return
        if order.do == "wait":
            self._wait(mover, order.for_s)
        elif order.backward != duty.backward:
            self._when_it_stands(mover, lambda: self._face_and_begin(mover, order))
        else:
            self._begin(mover, order)

    def _begin_anew(self, mover: Mover, duty: Duty) -> bool:
        """Start the orders again if they are to be repeated; otherwise there are no more."""
        now = self._world.now
        too_short = duty.round_us >= 0 and now - duty.round_us < ROUND_AT_LEAST_US
        if mover.train.repeat and mover.train.orders and not too_short:
            duty.line, duty.round_us = 0, now
            return True
        mover.ordered = False
        self._want(mover, 0.0)
        return False

    def _when_it_stands(self, mover: Mover, then: Callable[[], None]) -> None:
        """Bring the train to a stand, and do ``then``."""
        self._duties[mover.index].then = then
        self._want(mover, 0.0)
        if mover.v == 0.0:
            self.stood(mover)

    def _face_and_begin(self, mover: Mover, order: Order) -> None:
        duty = self._duties[mover.index]
        duty.backward = order.backward
        self._world.throttles.reverse(mover)
        mover.turn_round()
        self._begin(mover, order)

    def _wait(self, mover: Mover, for_s: float) -> None:
        """Stand, from the moment it stands, for ``for_s``."""
        delay_us = round(for_s * US_PER_S)
        self._when_it_stands(
            mover, lambda: self._world.at(delay_us, Turn.ORDERS, self._waited, mover)
        )

    def _waited(self, mover: Mover) -> None:
        if not mover.gone:
            self._next_order(mover)

    def _begin(self, mover: Mover, order: Order) -> None:
        """Begin a leg, or the first of several."""
        duty = self._duties[mover.index]
        duty.lap, duty.mark = 1, None
        self._open_leg(mover, order)
        mover.advance()
        mover.steering.stop_um = inf
        path = mover.road.path
        path.forget_places()
        if order.do == "cross":
            self._world.crossings.ask(mover, order.piece)
        if order.do == "circulate":
            here = path.at(mover.s)
            duty.mark = here.route, here.forward, mover.s - here.begin_um
        for segment in list(path.segments):
            self.appended(mover, segment)
        speed = order.speed_mm_s if order.speed_mm_s is not None else mover.train.speed_mm_s
        self._want(mover, speed * UM_PER_MM)
        mover.extend_and_replan()

    def _open_leg(self, mover: Mover, order: Order) -> None:
        where = f" {self._world.layout.pieces[order.piece].id}" if order.piece >= 0 else ""
        self._world.journal.open_leg(mover, order.do + where)

    def _want(self, mover: Mover, speed_um_s: float) -> None:
        mover.advance()
        mover.want = speed_um_s
        self._world.throttles.look()
        mover.power_changed()

    # -- what happens on the way ------------------------------------------------

    def _order(self, mover: Mover) -> Order | None:
        """The order whose leg is under way."""
        if not self._world.journal.has_leg(mover):
            return None
        return mover.train.orders[self._duties[mover.index].line]

    def appended(self, mover: Mover, segment: Segment) -> None:
        """A piece is on the path ahead: does the present order speak of it?"""
        order, duty = self._order(mover), self._duties[mover.index]
        if order is None:
            return
        if segment.begin_um <= mover.s:
            self._stop_here(mover, order, segment)
            return
        if duty.mark is not None and duty.mark[:2] == (segment.route, segment.forward):
            self._watch_for(mover, segment, segment.begin_um + round(duty.mark[2]))
        if self._world.tracks.piece(segment) != order.piece:
            return
        if order.do == "run":
            self._watch_for(mover, segment, segment.begin_um)
        elif order.do == "stop" and mover.steering.stop_um == inf:
            into_um = self._stop_place_um(mover, order, segment)
            mover.steering.stop_um = segment.begin_um + into_um
        elif order.do == "cross":
            mover.attention.request()

    def _stop_here(self, mover: Mover, order: Order, segment: Segment) -> None:
        """Stop on the piece that the front is on already, if there is room to brake in."""
        if order.do != "stop" or segment.end_um <= mover.s or mover.steering.stop_um < inf:
            return
        if self._world.tracks.piece(segment) != order.piece:
            return
        place = segment.begin_um + self._stop_place_um(mover, order, segment)
        brake_um_s2 = mover.train.braking_mm_s2 * UM_PER_MM
        if place - mover.s > mover.v * mover.v / (2.0 * brake_um_s2) + NO_ROOM_UM:
            mover.steering.stop_um = place

    def _watch_for(self, mover: Mover, segment: Segment, place_um: int) -> None:
        serial = self._duties[mover.index].serial
        mover.road.path.add([(place_um, Mark.PLACE, (), segment, serial)])

    def _stop_place_um(self, mover: Mover, order: Order, segment: Segment) -> float:
        """How far in the front stops: as told, or with the train in the middle."""
        length = segment.end_um - segment.begin_um
        if order.place_mm is not None:
            return min(order.place_mm * UM_PER_MM, length)
        middle = (length + mover.length_um) / 2
        return min(middle, length - STOP_SHORT_MM * UM_PER_MM)

    def reached(self, mover: Mover, serial: int) -> None:
        """A place that the timetable waited for."""
        order, duty = self._order(mover), self._duties[mover.index]
        if order is None or serial != duty.serial:
            return
        if order.do == "circulate" and duty.lap < order.laps:
            self._world.journal.end_leg(mover)
            duty.lap += 1
            self._open_leg(mover, order)
        else:
            self._finish(mover)

    def crossed(self, mover: Mover) -> None:
        """The last wheel has left the piece that the train was to cross in."""
        order = self._order(mover)
        if order is not None and order.do == "cross":
            self._finish(mover)

    def stood(self, mover: Mover) -> None:
        """A train has come to a stand: was that what it was told?"""
        duty, order = self._duties[mover.index], self._order(mover)
        if duty.then is not None:
            then, duty.then = duty.then, None
            then()
        elif (
            order is not None
            and order.do == "stop"
            and mover.s >= mover.steering.stop_um - NO_ROOM_UM
        ):
            self._world.journal.end_leg(mover)
            self._world.hand.over(mover)
            mover.steering.stop_um = inf
            # On DC it may run along with others before its own orders go on.
            mover.road.extend()
            self._wait(mover, order.for_s)

    def turned(self, mover: Mover) -> None:
        """The train runs the other way: a lap ends where it began, met from there."""
        duty = self._duties[mover.index]
        if duty.mark is not None:
            route, forward, place = duty.mark
            length = self._world.layout.routes[route].length_um
            duty.mark = route, not forward, length - place

    def _finish(self, mover: Mover) -> None:
        self._world.journal.end_leg(mover)
        self._duties[mover.index].mark = None
        self._next_order(mover)

    def finish(self) -> None:
        """The run ends: close every leg and pass under way."""
        for mover in self._world.movers:
            if not mover.gone:
                mover.power.finish()
            self._world.journal.close(mover)
