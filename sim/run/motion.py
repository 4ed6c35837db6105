"""One train in motion: its one pending event, and all that follows when it comes."""

from __future__ import annotations

from math import inf

from sim.layout.traffic import Conduct
from sim.records.causes import DerailReason
from sim.records.model import Derailment, Reversal
from sim.run.agenda import Agenda, Once, Turn
from sim.run.consist import UM_PER_MM
from sim.run.driver import Attention, Coming, Next, TrainDriver
from sim.run.faults import Faults
from sim.run.kinematics import US_PER_S
from sim.run.operator import Operator
from sim.run.path import Mark, TrackMap
from sim.run.path_ahead import PathAhead
from sim.run.recorder import Journal, Recorder
from sim.run.route_setting import RouteSetting
from sim.run.supply import SupplyModel
from sim.run.throttles import Throttles
from sim.run.timetable import RunningTimetable
from sim.run.trackside import Trackside
from sim.run.traction import Traction
from sim.run.train import RunningTrain

#: A change of speed that is no reason to brake at once (µm/s).
TRIFLE_UM_S = 1_000.0
#: A train that is driven back within this of where it last was has got nowhere (µm).
NOWHERE_UM = 10.0


class Movement:
    """Moves one train; see :class:`sim.run.train.TrainMotion`, which this implements.

    Of its alarms only the one that carries the latest token counts.
    """

    __slots__ = (
        "_agenda",
        "_arriving",
        "_attention",
        "_coming",
        "_conduct",
        "_driver",
        "_faults",
        "_journal",
        "_operator",
        "_path_ahead",
        "_place",
        "_recorder",
        "_reroute",
        "_route_setting",
        "_shown",
        "_solution",
        "_supply",
        "_throttles",
        "_timetable",
        "_token",
        "_tracks",
        "_trackside",
        "_traction",
        "_train",
        "_turned",
    )

    def __init__(
        self,
        agenda: Agenda,
        recorder: Recorder,
        journal: Journal,
        tracks: TrackMap,
        conduct: Conduct,
        supply: SupplyModel,
        solution: Once,
        throttles: Throttles,
        faults: Faults,
        operator: Operator,
        route_setting: RouteSetting,
        timetable: RunningTimetable,
        trackside: Trackside,
        path_ahead: PathAhead,
        traction: Traction,
        driver: TrainDriver,
        train: RunningTrain,
    ) -> None:
        self._agenda, self._recorder, self._journal = agenda, recorder, journal
        self._tracks, self._conduct = tracks, conduct
        self._supply, self._solution, self._throttles = supply, solution, throttles
        self._faults, self._operator = faults, operator
        self._route_setting, self._timetable = route_setting, timetable
        self._trackside = trackside
        self._path_ahead, self._traction, self._driver = path_ahead, traction, driver
        self._train = train
        self._attention = Attention(agenda, train, self.replan)
        self._token = 0
        self._turned = inf  #: where it was last driven back, as it faces now
        self._coming = Coming(0.0, Next.PLACE, 0.0, 0.0)
        self._place = 0.0  #: where it rolls to at one speed
        self._arriving = False
        self._reroute: dict[int, None] = {}
        self._shown = (0.0, 0.0)  #: acceleration and speed that followers know of
        train.motion = self

    def put_down(self, speed_um_s: float = 0.0, want_um_s: float = 0.0) -> None:
        """Stand, or roll, where the description says, the throttle set for ``want_um_s``."""
        self._path_ahead.put_down()
        self._open_band()
        self._train.v, self._train.want = speed_um_s, want_um_s

    def finish(self) -> None:
        """The run is over: close what is under way."""
        if not self._train.gone:
            self._traction.finish()
        self._journal.close(self._train)

    # -- what others ask for ------------------------------------------------------

    def look_again(self) -> None:
        """Look out later in this instant."""
        self._attention.request()

    def look_in_a_moment(self) -> None:
        """The train ahead goes on otherwise, but not to a stand."""
        self._attention.react()

    def _open_band(self) -> None:
        """The present solution of the supply holds for so much way from here."""
        self._train.band_um = self._train.s + self._supply.band_um

    def advance(self) -> None:
        """Bring place and speed up to this instant."""
        train, now = self._train, self._agenda.now
        if now != train.t:
            place, speed = train.place_now(), train.speed_now()
            self._recorder.went(train, place)
            train.s, train.v = place, speed
            train.t = now

    # -- deciding ---------------------------------------------------------------

    def replan(self) -> None:
        """Find what has to be stopped for, and drive by it."""
        train = self._train
        if train.gone:
            return
        self.advance()
        self._route_setting.look(train)
        self._driver.look_out()
        if train.v == 0.0:
            self._journal.look(train)
            self._traction.check_stall()
        self._drive_on()

    def _drive_on(self) -> None:
        """Choose acceleration and goal for the present state; schedule what comes next."""
        train, driver, traction = self._train, self._driver, self._traction
        if train.v == 0.0 and train.push_until is None and traction.tell_load():
            traction.assess()  # what it gets standing idle says nothing of starting
        if train.push_until is not None:
            driver.push()
        elif train.power.drives:
            driver.drive()
        else:
            driver.roll()
        self._schedule()
        traction.tell_load()
        if (train.a, train.v) != self._shown:
            self._shown = train.a, train.v
            urgent = train.v == 0.0 or (train.a < 0.0 and train.goal < train.v - TRIFLE_UM_S)
            for follower in train.followers:
                if urgent:
                    follower.motion.look_again()
                else:
                    follower.motion.look_in_a_moment()
        self._recorder.moves(train)

    def extend(self) -> None:
        """Make the path known as far ahead as the train may need."""
        self._path_ahead.extend()

    def extend_and_replan(self) -> None:
        """Orders have changed: look ahead again."""
        self._path_ahead.extend()
        self.replan()

    def levers_moved(self, piece: int) -> None:
        """Levers of ``piece`` have moved: take the route they now give, if not too late."""
        if self._train.gone:
            return
        if self._arriving:
            self._reroute[piece] = None
            return
        self.advance()
        self._path_ahead.reroute(piece)
        self.extend_and_replan()

    # -- events -----------------------------------------------------------------

    def _schedule(self) -> None:
        """Find the next thing that happens to this train, and set the alarm for it."""
        self._token = token = self._token + 1
        train = self._train
        v, place = train.v, train.bound()
        if train.a == 0.0:
            if v == 0.0:
                return
            if train.ahead is None and train.limit_um == inf and train.push_until is None:
                # Most of the time: it rolls at one speed, with nothing in its way.
                if place < inf:
                    self._place = place
                    after_us = round(max(place - train.s, 0.0) / v * US_PER_S)
                    self._agenda.at(after_us, Turn.WHEELS, self._roll_on, token)
                return
        coming = self._driver.coming(place, train.push_until)
        if coming is None:
            return
        self._coming = coming
        turn = Turn.WHEELS if coming.kind is Next.PLACE else Turn.MOTION
        self._agenda.at(round(coming.after_s * US_PER_S), turn, self._alarm, token)

    def _roll_on(self, token: int) -> None:
        """Rolling at one speed, the front has reached the next place of its path."""
        if token == self._token:
            self._come_to(self._place)
            self._arrive()

    def _come_to(self, place_um: float) -> None:
        train = self._train
        place = float(place_um) if place_um > train.s else train.s
        if self._recorder.watch:
            self._recorder.went(train, place)
        train.s, train.t = place, self._agenda.now

    def _alarm(self, token: int) -> None:
        if token != self._token:
            return
        train, coming = self._train, self._coming
        self._come_to(coming.place_um)
        train.v = coming.speed_um_s
        if coming.kind is Next.PLACE:
            self._arrive()
        elif coming.kind is Next.PUSHED:
            self._end_push()
        else:
            self._driver.note(coming.kind)
            if train.v == 0.0:
                self._stood()
            else:
                self._drive_on()

    def _arrive(self) -> None:
        """Everything that happens at the place the front has just reached."""
        train = self._train
        token, path, s = self._token, train.path, train.s
        dirty = False
        self._arriving = True
        move = self._supply.move
        while path.next < len(path.entries) and path.entries[path.next][0] <= s:
            _, mark, moves, segment, number = path.entries[path.next]
            path.next += 1
            if mark is Mark.CROSS:
                for side, slot, node in moves:
                    if move(side, slot, node):
                        dirty = True
            elif mark is Mark.TAIL:
                self._path_ahead.shed()
            else:
                self._trackside.passes(train, mark, segment, number)
                if train.gone:
                    return
        path.done_um = s
        self._arriving = False
        if self._reroute:
            pieces, self._reroute = self._reroute, {}
            for piece in pieces:
                self.levers_moved(piece)
        if s >= train.band_um:
            dirty = True
            self._supply.drift(u.number for u in path.consist.units)
            self._open_band()
        if dirty:
            self._solution.request()
        if s >= train.look_um:
            self._look_on()
        if self._token == token:
            self._schedule()

    def _look_on(self) -> None:
        """A piece further ahead: as a rule the way is free, and it just rolls on."""
        train = self._train
        free = train.is_free
        self._path_ahead.extend()
        self._route_setting.look(train)
        self._driver.look_out()
        if not (free and train.is_free and train.a == 0.0):
            self.replan()

    def _stood(self) -> None:
        """The train has come to a stand."""
        train = self._train
        train.a = 0.0
        self._traction.assess()
        if train.power.fights:
            self._fight()
            return
        self._timetable.stood(train)
        self._journal.look(train)
        self._drive_on()

    def power_changed(self) -> None:
        """The supply at the pickups, the throttle or the timetable has changed."""
        train, power = self._train, self._train.power
        if train.gone:
            return
        self.advance()
        self._traction.assess()
        self._path_ahead.expect(power.goal_um_s)
        if train.push_until == inf and power.usable:
            self._end_push()
        elif power.fights and train.v == 0.0 and not train.pushing and train.asked:
            self._fight()
        else:
            self._drive_on()

    # -- the other way, out of the run, by hand ---------------------------------

    def _fight(self) -> None:
        """It stands on supply of the other direction, and is driven back.

        Where two throttles meet under it, each way has the other one against it:
        sent back again before it has got anywhere, it hums on the spot.
        """
        train = self._train
        if abs(train.s - self._turned) < NOWHERE_UM:
            train.power.torn = True
            self.power_changed()
            return
        self._turned = train.length_um - train.s
        segment = train.path.at(train.s)
        self._recorder.reversals.append(
            Reversal(
                self._recorder.now_s,
                train.name,
                train.route_id(),
                train.place_mm(segment),
                self._traction.supply_name(),
            )
        )
        self.turn_round()

    def turn_round(self) -> None:
        """Run the other way from here; it stands."""
        self._train.stop_um = inf
        self._path_ahead.turn()
        self._open_band()
        self._timetable.turned(self._train)
        self._traction.assess()
        self.extend_and_replan()

    def derail(self, route: str, lever: str, cause: DerailReason) -> None:
        """The train leaves the run; what it held over, or had set, is given back."""
        train = self._train
        self.advance()
        self._recorder.derailments.append(
            Derailment(self._recorder.now_s, train.name, route, lever, cause)
        )
        self._lift()
        self._trackside.lost(train)
        self._throttles.look()

    def _lift(self) -> None:
        """It is taken off the track, and out of the run."""
        train = self._train
        train.v = train.a = 0.0
        self._token += 1
        self._recorder.moves(train)
        self._traction.finish()
        train.gone = True
        self._path_ahead.give_up()
        for follower in list(train.followers):
            follower.motion.look_again()

    def push(self, until_live: bool) -> None:
        """A hand moves the train on: by the usual distance, or until it has supply."""
        train = self._train
        self._faults.nudged(self._tracks.piece(train.path.at(train.s)), train.index)
        self.advance()
        if train.held:
            return
        train.power.torn = False
        distance = self._conduct.nudge_mm * UM_PER_MM
        train.push_until = inf if until_live else train.s + distance
        self._drive_on()

    def _end_push(self) -> None:
        """The hand lets go."""
        train = self._train
        train.push_until = None
        self._traction.assess()
        if not train.power.drives:
            train.v = 0.0
        self._operator.let_go(train)
        if train.v == 0.0:
            self._stood()
        self.replan()
