"""Carries out the timetable: orders, legs, passes, and the levers they need."""

from __future__ import annotations

from dataclasses import dataclass, field
from math import inf
from typing import TYPE_CHECKING

from sim.layout.model import Control
from sim.layout.traffic import Order
from sim.motion.claims import WAIT_BEFORE_UM
from sim.motion.consist import UM_PER_MM
from sim.motion.kinematics import US_PER_S
from sim.motion.ledger import Open
from sim.motion.levers import Step
from sim.motion.path import Mark, Segment
from sim.motion.world import Alarm, Turn
from sim.records.model import Outcome

if TYPE_CHECKING:
    from sim.motion.mover import Mover
    from sim.motion.world import World

#: A train stops with its front no nearer than this to the end of the piece (mm).
STOP_SHORT_MM = 5.0


@dataclass(slots=True)
class Crossing:
    """A crossing that a train has asked for: its piece, and what was thrown for it."""

    piece: int
    thrown: list[tuple[Control, str]] = field(default_factory=list)
    done: bool = False
    impossible: bool = False


@dataclass(slots=True)
class Duty:
    """Where one train is in its timetable."""

    line: int = -1  #: number of the order
    count: int = 0  #: legs begun so far
    lap: int = 0
    leg: Open | None = None
    passes: dict[Segment, Open] = field(default_factory=dict)
    mark: tuple[int, bool, float] | None = None  #: route, direction, place of a lap's end
    crossing: Crossing | None = None
    crossed: Segment | None = None
    waiting: bool = False
    backward: bool = False
    done: bool = False


class Yard:
    """The timetable of all trains, and the one place that throws levers."""

    def __init__(self, world: World) -> None:
        self._world = world
        self._duties = [Duty() for _ in world.case.trains]
        self._forced: dict[int, tuple[int, int]] = {}  # lever: (back to, by which train)

    def start(self) -> None:
        """Set the clock's own throws, and give every train its first order."""
        world = self._world
        for t in world.case.throws:
            what = world.layout.controls[t.control], t.position
            world.at(round(t.at_s * US_PER_S), Turn.LEVERS, self._throw_alarm, what)
        for mover in world.movers:
            self._next_order(mover)

    # -- levers -----------------------------------------------------------------

    def _throw_alarm(self, alarm: Alarm) -> None:
        control, position = alarm.what
        self.throw(control, position)

    def throw(self, control: Control, position: str) -> None:
        """Throw ``control``; a train that stands on its blades derails."""
        world = self._world
        steps, moving = world.levers.begin(control, position)
        for lever in moving:
            world.changed("lever", world.layout.levers[lever].id, "moving")
            self._forced.pop(lever, None)
            for mover in world.movers:
                segment = mover.stands_on(lever)
                if segment is not None:
                    route = world.layout.routes[segment.route].id
                    mover.derail(route, world.layout.levers[lever].id, "lever moved under it")
        for step in steps:
            if step.after_us == 0:
                self._reach(step)
            else:
                world.at(step.after_us, Turn.LEVERS, self._reach_alarm, step)
        self._tell_trains(moving)

    def _reach_alarm(self, alarm: Alarm) -> None:
        step: Step = alarm.what
        self._reach(step)
        if step.fraction >= 1.0:
            self._tell_trains([step.lever])

    def _reach(self, step: Step) -> None:
        self._connect(*self._world.levers.reach(step))
        if step.fraction >= 1.0:
            self._lies(step.lever)

    def _lies(self, lever: int) -> None:
        for name, position in self._world.levers.words([lever]):
            self._world.changed("lever", name, position)

    def _connect(self, closed: list[int], opened: list[int]) -> None:
        elements = self._world.layout.elements
        for e in closed:
            self._world.changed("contact", elements[e].id, "closed")
        for e in opened:
            self._world.changed("contact", elements[e].id, "open")
        if closed or opened:
            self._world.supply.set_contacts(closed, opened)
            self._world.request_solve()

    def _tell_trains(self, levers: list[int]) -> None:
        pieces = dict.fromkeys(self._world.layout.levers[x].piece for x in levers)
        for piece in pieces:
            for mover in self._world.claims.claimers(piece):
                mover.levers_moved(piece)

    def force(self, lever: int, position: int, mover: Mover, then: str) -> None:
        """Wheels push ``lever`` over; remember it if it is to spring back."""
        before = self._world.levers.heading_for(lever)
        if then == "springs back":
            self._forced[lever] = before, mover.index
        self._connect(*self._world.levers.force(lever, position))
        self._lies(lever)
        self._tell_trains([lever])

    def spring_back(self, lever: int, mover: Mover) -> None:
        """The last wheel of ``mover`` is off the blades."""
        back = self._forced.get(lever)
        if back is not None and back[1] == mover.index:
            del self._forced[lever]
            self._connect(*self._world.levers.force(lever, back[0]))
            self._lies(lever)
            self._tell_trains([lever])

    # -- orders -----------------------------------------------------------------

    def _order(self, mover: Mover) -> Order:
        return mover.train.orders[self._duties[mover.index].line]

    def _next_order(self, mover: Mover) -> None:
        """Take the next order; instant ones are carried out on the way."""
        duty, orders = self._duties[mover.index], mover.train.orders
        for _ in range(len(orders) + 1):
            duty.line += 1
            if duty.line >= len(orders):
                if not (mover.train.repeat and orders):
                    duty.done = True
                    self._want(mover, 0.0)
                    return
                duty.line = 0
            order = orders[duty.line]
            self._face(mover, order)
            if order.do == "throw":
                self.throw(self._world.layout.controls[order.control], order.position)
            elif order.do == "wait":
                self._wait(mover, order.for_s)
                return
            else:
                self._begin(mover, order)
                return
        # Nothing but throws in the timetable: once round is enough.
        duty.done = True

    def _face(self, mover: Mover, order: Order) -> None:
        duty = self._duties[mover.index]
        if order.backward == duty.backward:
            return
        duty.backward = order.backward
        self._want(mover, 0.0)
        self._world.throttles.reverse(mover)
        mover.turn_round()

    def _wait(self, mover: Mover, for_s: float) -> None:
        self._duties[mover.index].waiting = True
        self._want(mover, 0.0)
        self._world.at(round(for_s * US_PER_S), Turn.ORDERS, self._waited, mover)

    def _waited(self, alarm: Alarm) -> None:
        mover: Mover = alarm.what
        if mover.gone:
            return
        self._duties[mover.index].waiting = False
        self._next_order(mover)

    def _begin(self, mover: Mover, order: Order) -> None:
        """Begin a leg, or the first of several."""
        duty = self._duties[mover.index]
        duty.lap = 1
        duty.mark = None
        duty.crossing = Crossing(order.piece) if order.do == "cross" else None
        self._open_leg(mover, order)
        mover.advance()
        if order.do == "circulate":
            here = mover.path.at(mover.s)
            duty.mark = here.route, here.forward, mover.s - here.begin_um
        for segment in list(mover.path.segments):
            if segment.begin_um > mover.s:
                self.appended(mover, segment)
        speed = order.speed_mm_s if order.speed_mm_s is not None else mover.train.speed_mm_s
        self._want(mover, speed * UM_PER_MM)
        mover.extend_past_stop()

    def _open_leg(self, mover: Mover, order: Order) -> None:
        duty = self._duties[mover.index]
        duty.count += 1
        name = f"{duty.count}: {order.do}"
        if order.piece >= 0:
            name += f" {self._world.layout.pieces[order.piece].id}"
        duty.leg = Open(mover.train.name, name, self._world.now)

    def _want(self, mover: Mover, speed_um_s: float) -> None:
        mover.advance()
        mover.want = speed_um_s
        self._world.throttles.look()
        mover.power_changed()

    def _end_leg(self, mover: Mover) -> None:
        duty = self._duties[mover.index]
        if duty.leg is not None:
            self._world.ledger.close_leg(duty.leg, self._world.now, True)
            duty.leg = None

    # -- what happens on the way ------------------------------------------------

    def appended(self, mover: Mover, segment: Segment) -> None:
        """A piece has come onto the path: does the present order speak of it?"""
        duty = self._duties[mover.index]
        if duty.line < 0 or duty.done or duty.leg is None:
            return
        order = self._order(mover)
        piece = self._world.layout.routes[segment.route].piece
        if duty.mark is not None and duty.mark[:2] == (segment.route, segment.forward):
            place = segment.begin_um + duty.mark[2]
            mover.path.add([(round(place), Mark.PLACE, "lap")])
        if piece != order.piece or segment.begin_um <= mover.s:
            return
        if order.do == "run":
            mover.path.add([(segment.begin_um, Mark.PLACE, "run")])
        elif order.do == "stop" and mover.stop_at == inf:
            mover.stop_at = segment.begin_um + self._stop_place_um(mover, order, segment)
        elif order.do == "cross":
            self._world.claims.reserve(mover, piece)
            mover.request_replan()

    def _stop_place_um(self, mover: Mover, order: Order, segment: Segment) -> float:
        """How far in the front stops: as told, or with the train in the middle."""
        length = segment.end_um - segment.begin_um
        if order.place_mm is not None:
            return order.place_mm * UM_PER_MM
        middle = (length + mover.length_um) / 2
        return min(middle, length - STOP_SHORT_MM * UM_PER_MM)

    def try_throw(self, mover: Mover) -> None:
        """Set the crossing that the train needs, once it is first in line for it."""
        duty = self._duties[mover.index]
        crossing = duty.crossing
        mover.hold_at = inf
        if crossing is None or crossing.done or crossing.impossible or crossing.thrown:
            return
        segment = self._ahead(mover, crossing.piece)
        if segment is None:
            return
        claims = self._world.claims
        claims.reserve(mover, crossing.piece)
        if not claims.may_throw(mover, crossing.piece):
            mover.hold_at = segment.begin_um - WAIT_BEFORE_UM
            return
        self._set_crossing(mover, crossing, segment)

    def _ahead(self, mover: Mover, piece: int) -> Segment | None:
        for segment in mover.path.segments:
            if (
                self._world.layout.routes[segment.route].piece == piece
                and segment.begin_um >= mover.s
            ):
                return segment
        return None

    def _set_crossing(self, mover: Mover, crossing: Crossing, segment: Segment) -> None:
        layout = self._world.layout
        entry = self._world.tracks.entry_end(segment.route, segment.forward)
        for route, _ in self._world.tracks.routes_at[entry]:
            needs = {p.lever: p.position for p in layout.routes[route].points}
            if any(layout.levers[x].rest != p for x, p in needs.items()):
                break
        else:
            crossing.impossible = True
            self._world.tell("no crossing", mover.train.name, layout.ends[entry].id)
            return
        for control in layout.controls:
            lever = next((x for x in control.levers if x in needs), None)
            if lever is None:
                continue
            rest = layout.levers[lever].positions[layout.levers[lever].rest]
            crossing.thrown.append((control, rest))
            self.throw(control, layout.levers[lever].positions[needs[lever]])

    def entered(self, mover: Mover, segment: Segment) -> None:
        """The first wheel is on a piece with levers."""
        route = self._world.layout.routes[segment.route].id
        duty = self._duties[mover.index]
        duty.passes[segment] = Open(mover.train.name, route, self._world.now)

    def left(self, mover: Mover, segment: Segment) -> None:
        """The last wheel is off a piece with levers."""
        duty = self._duties[mover.index]
        passing = duty.passes.pop(segment, None)
        if passing is not None:
            self._world.ledger.close_pass(passing, self._world.now)
        crossing = duty.crossing
        route = self._world.layout.routes[segment.route]
        if crossing is None or route.piece != crossing.piece or not crossing.thrown:
            return
        rest = self._world.layout.levers
        crossing.done = any(p.position != rest[p.lever].rest for p in route.points)

    def cleared(self, mover: Mover, segment: Segment) -> None:
        """The rear coupling has left a piece on which routes conflict."""
        mover.path.drop_behind(mover.s - mover.length_um)
        self._world.claims.release(mover, segment)
        crossing = self._duties[mover.index].crossing
        piece = self._world.layout.routes[segment.route].piece
        if crossing is None or crossing.piece != piece or not crossing.thrown:
            return
        thrown, crossing.thrown = crossing.thrown, []
        for control, rest in thrown:
            self.throw(control, rest)
        if crossing.done:
            self._finish(mover)

    def reached(self, mover: Mover, payload: object) -> None:
        """A place that the timetable waited for."""
        duty = self._duties[mover.index]
        if duty.leg is None:
            return
        order = self._order(mover)
        if payload == "lap" and order.do == "circulate":
            if duty.lap >= order.laps:
                self._finish(mover)
            else:
                self._end_leg(mover)
                duty.lap += 1
                self._open_leg(mover, order)
        elif payload == "run" and order.do == "run":
            self._finish(mover)

    def stood(self, mover: Mover) -> None:
        """A train has come to a stand: was that what it was told?"""
        duty = self._duties[mover.index]
        if duty.leg is None or self._order(mover).do != "stop" or mover.s < mover.stop_at - 1.0:
            return
        self._end_leg(mover)
        mover.stop_at = inf
        self._wait(mover, self._order(mover).for_s)

    def _finish(self, mover: Mover) -> None:
        self._end_leg(mover)
        duty = self._duties[mover.index]
        duty.mark = duty.crossing = None
        self._next_order(mover)

    # -- outcomes ---------------------------------------------------------------

    def mark(self, mover: Mover, outcome: Outcome) -> None:
        """Something happened to the train: its leg and its passes show it."""
        duty = self._duties[mover.index]
        if duty.leg is not None:
            duty.leg.worsen(outcome)
        for passing in duty.passes.values():
            passing.worsen(outcome)

    def held(self, mover: Mover) -> None:
        """The train stands behind another."""
        other = mover.wall_other
        self._world.tell("held", mover.train.name, f"by {other.train.name}" if other else "")
        self.mark(mover, "held")

    def turned(self, mover: Mover) -> None:
        """The train runs the other way: what lies ahead is to be looked at anew."""
        duty = self._duties[mover.index]
        passes = list(duty.passes.values())
        duty.passes.clear()
        layout = self._world.layout
        spots = [
            s for s in mover.path.segments if layout.pieces[layout.routes[s.route].piece].levers
        ]
        for segment, passing in zip(spots, passes, strict=False):
            duty.passes[segment] = passing
        for passing in passes[len(spots) :]:
            self._world.ledger.close_pass(passing, self._world.now)

    def lost(self, mover: Mover) -> None:
        """The train has derailed and is out of the run."""
        self._close(mover)

    def finish(self) -> None:
        """The run ends: close every leg and pass under way."""
        for mover in self._world.movers:
            self._close(mover)

    def _close(self, mover: Mover) -> None:
        duty = self._duties[mover.index]
        for passing in duty.passes.values():
            self._world.ledger.close_pass(passing, None)
        duty.passes.clear()
        if duty.leg is not None:
            self._world.ledger.close_leg(duty.leg, self._world.now, False)
            duty.leg = None
        duty.done = True
