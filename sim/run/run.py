"""Run a case once: from description to record."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from math import inf

from sim.layout.model import UM_PER_MM
from sim.layout.traffic import Case, Order, Train
from sim.power.wiring import Wiring, wire
from sim.records.model import Record
from sim.run.agenda import Agenda, Once, Turn
from sim.run.connections import Connections
from sim.run.consist import Consist, compile_train
from sim.run.driver import TrainDriver
from sim.run.evidence import Evidence
from sim.run.faults import Faults, can_break, has_dirt, may_happen, with_dirt
from sim.run.ideal_supply import IdealSupply
from sim.run.kinematics import US_PER_S, time_over
from sim.run.lever_drive import LeverDrive
from sim.run.levers import LeverFrame
from sim.run.motion import Movement
from sim.run.operator import Operator
from sim.run.path import Path, TrackMap
from sim.run.path_ahead import PathAhead
from sim.run.protection import Breakers, Protection
from sim.run.recorder import Journal, Recorder
from sim.run.reservations import Reservations
from sim.run.route_setting import RouteSetting
from sim.run.supply import SupplyModel, ThrottleSettings
from sim.run.throttles import Throttles
from sim.run.timetable import RunningTimetable
from sim.run.traced_supply import TracedSupply, clusters_of
from sim.run.trackside import Trackside
from sim.run.traction import Traction
from sim.run.train import RunningTrain


def is_random(case: Case) -> bool:
    """Whether anything in the case is left to chance."""
    return may_happen(case)


#: Laps that no run comes to the end of.
ENDLESS = 1_000_000_000


@dataclass(frozen=True, slots=True)
class RollingStart:
    """One train alone, under way from the first instant, with nothing left to chance.

    ``train`` begins where its ``route``, ``place_mm`` and ``toward_finish`` say, its
    energy store full, its throttle set for ``speed_mm_s`` and rolling at that speed
    (or ``standing``, and about to start); its orders are not looked at.  ``levers``
    gives positions by lever, as indices; the others are at rest.  The run is over
    when the front has gone ``way_mm``, when it has reached the end of the track that
    the levers give it (it does not brake for that), when the train has come to a
    stand or off the rails, and at the latest after the duration of the case.
    """

    train: Train
    speed_mm_s: float
    levers: Mapping[int, int] = field(default_factory=dict)
    way_mm: float = inf
    standing: bool = False

    @property
    def rolls_um_s(self) -> float:
        """How fast it is at the first instant (µm/s)."""
        return 0.0 if self.standing else self.speed_mm_s * UM_PER_MM

    def alone(self, case: Case) -> Case:
        """``case`` with this train only: no throws, no faults that come in the run."""
        order = Order("circulate", laps=ENDLESS, speed_mm_s=self.speed_mm_s)
        train = replace(self.train, orders=(order,), repeat=False)
        return replace(case, trains=(train,), throws=(), wear=())


def run(
    case: Case,
    seed: int,
    motions: bool = False,
    circuit: bool = True,
    *,
    start: RollingStart | None = None,
    protection: Protection = "trips",
    ideal: bool = False,
) -> Record:
    """Run the timetable of ``case`` from start to end.

    The same case and seed give the same record, on every machine.  With
    ``motions`` the record also holds every change of motion, for pictures.
    Without ``circuit`` the supply is only traced: every place that is connected
    has all the volts there are, and every short trips.

    With ``start`` the case is run with that one train instead.  Protection that
    ``only tells`` lets shorts and overloads be: see :class:`Breakers`.

    With ``ideal`` every motor has the volts that its throttle asks for, and nothing
    fails, shorts or trips: what the timetable would come to with sound supply
    everywhere, see :class:`sim.run.ideal_supply.IdealSupply`.
    """
    live = LiveRun(case, seed, motions, circuit and not ideal, start, protection, ideal)
    live.begin()
    end_us = round(case.conduct.duration_s * US_PER_S)
    if start is None:
        live.agenda.run_until(end_us)
    else:
        _run_alone(live, start, end_us)
    return live.finish()


def _run_alone(live: LiveRun, start: RollingStart, end_us: int) -> None:
    """Run until the one train has gone its way, stands, or is off the rails."""
    (train,), agenda = live.trains, live.agenda
    goal = train.s + start.way_mm * UM_PER_MM
    while not train.gone and (train.v > 0.0 or train.a > 0.0 or agenda.now == 0):
        way = min(goal, train.path.end_um if train.blocked else inf) - train.s
        left_s = time_over(train.v, train.a, way) if way < inf else inf
        over_us = end_us if left_s == inf else train.t + round(left_s * US_PER_S)
        over_us = min(over_us, end_us)
        if over_us <= agenda.next_us:
            agenda.run_until(max(over_us, agenda.now))
            return
        agenda.do_next()


class LiveRun:
    """One case under way: everything that takes part in it, made in the order of need.

    What comes first knows nothing of what comes later, but for two conversations that
    go both ways: a train is told of by :class:`sim.run.train.TrainMotion`, and what has
    been solved is handed on by :meth:`_solve`.
    """

    def __init__(
        self,
        case: Case,
        seed: int,
        watch: bool = False,
        circuit: bool = True,
        start: RollingStart | None = None,
        protection: Protection = "trips",
        ideal: bool = False,
    ) -> None:
        if ideal:
            case = replace(case, wear=())
        self.case = case = with_dirt(case, seed) if start is None else start.alone(case)
        self._seed, self._start = seed, start
        self._luck = start is None and not ideal
        self.layout = layout = case.layout
        self.agenda = Agenda()
        self.recorder = Recorder(self.agenda, layout, watch)
        self.journal = Journal(self.agenda, self.recorder, layout, len(case.trains))
        self.tracks = TrackMap(layout)
        self.levers = LeverFrame(
            layout,
            seed,
            case.conduct.throw_s,
            self.recorder.tell,
            None if start is None else start.levers,
            self._luck,
        )
        self.throttle_settings = ThrottleSettings(layout.supplies)
        self._make_trains_and_supply(circuit, ideal)
        self._make_what_can_fail(protection)
        self._make_traffic()
        self._movements = [self._movement(train) for train in self.trains]

    def _make_trains_and_supply(self, circuit: bool, ideal: bool) -> None:
        case = self.case
        apart = _kept_apart(case, circuit)
        wiring = wire(case.layout, switched=apart)
        compiled = _compiled(case.trains)
        same_metal = _same_metal(wiring)
        self.trains = [
            RunningTrain(
                self.agenda,
                case.layout,
                self.throttle_settings,
                case.conduct,
                index,
                train,
                Path(self.tracks, consist, same_metal),
            )
            for index, (train, (consist, _)) in enumerate(
                zip(case.trains, compiled, strict=True)
            )
        ]
        #: by unit: the train that it is in
        self.owners = [t for t in self.trains for _ in t.path.consist.units]
        slots = [n for _, own in compiled for n in own]
        closed = [*self.levers.closed, *apart]
        traced = TracedSupply(case.layout, slots, closed, wiring)
        self.supply: SupplyModel = traced
        if circuit:
            self.supply = _solved(case, traced, closed, self.owners)
        elif ideal and case.layout.supplies:
            self.supply = IdealSupply(traced, self.throttle_settings, len(self.owners))
        self.solution = Once(self.agenda, Turn.SOLVE, self._solve)

    def _make_what_can_fail(self, kind: Protection) -> None:
        agenda, recorder, layout, supply = self.agenda, self.recorder, self.layout, self.supply
        broken, bad = set[int](), set[int]()
        dirt = has_dirt(self.case)
        self.evidence = Evidence(
            layout, self.tracks, self.levers, supply, self.owners, broken, bad, dirt
        )
        self._operator = Operator(
            agenda, recorder, self.journal, self.evidence, self.case.conduct
        )
        self.protection = Breakers(
            agenda,
            recorder,
            layout,
            supply,
            self.solution,
            self.trains,
            self.evidence,
            self._operator,
            kind,
        )
        self._connections = Connections(recorder, layout, supply, self.solution)
        self._faults = Faults(
            agenda,
            recorder,
            self.case,
            self._seed,
            self._luck,
            self.levers,
            supply,
            self.solution,
            self._connections,
            self.protection,
            broken,
            bad,
        )

    def _make_traffic(self) -> None:
        agenda, recorder, layout, tracks = self.agenda, self.recorder, self.layout, self.tracks
        self.reservations = Reservations(layout, tracks)
        self._lever_drive = LeverDrive(
            agenda,
            recorder,
            layout,
            tracks,
            self.levers,
            self._connections,
            self._faults,
            self.reservations,
            self.trains,
        )
        self._throttles = Throttles(
            layout, self.supply, self.solution, self.throttle_settings, self.trains
        )
        self._route_setting = RouteSetting(
            recorder, layout, tracks, self.levers, self.reservations, self._lever_drive
        )
        self._timetable = RunningTimetable(
            agenda,
            layout,
            tracks,
            self.trains,
            self._throttles,
            self._lever_drive,
            self._route_setting,
            self.journal,
            self._operator,
        )
        self._trackside = Trackside(
            tracks,
            self.journal,
            self._faults,
            self._lever_drive,
            self._route_setting,
            self._timetable,
        )

    def _movement(self, train: RunningTrain) -> Movement:
        """What moves ``train``."""
        path_ahead = PathAhead(
            self.layout,
            self.tracks,
            self.levers,
            self.supply,
            self.solution,
            self.reservations,
            self._timetable,
            self.journal,
            train,
        )
        traction = Traction(
            self.agenda,
            self.recorder,
            self.journal,
            self.layout,
            self.supply,
            self.solution,
            self.throttle_settings,
            self._operator,
            train,
        )
        conduct, minds_ends = self.case.conduct, self._start is None
        return Movement(
            self.agenda,
            self.recorder,
            self.journal,
            self.tracks,
            conduct,
            self.supply,
            self.solution,
            self._throttles,
            self._faults,
            self._operator,
            self._route_setting,
            self._timetable,
            self._trackside,
            path_ahead,
            traction,
            TrainDriver(self.reservations, conduct, train, minds_ends),
            train,
        )

    def begin(self) -> None:
        """Put the trains down, switch the supplies on, give the first orders."""
        for e in sorted(self.levers.closed):
            self.recorder.changed("contact", self.layout.elements[e].id, "closed")
        for movement in self._movements:
            if self._start is None:
                movement.put_down()
            else:
                movement.put_down(self._start.rolls_um_s, self._start.speed_mm_s * UM_PER_MM)
        self._faults.start()
        self.supply.solve()
        self.protection.look()
        self._throttles.start()
        for movement in self._movements:
            movement.power_changed()
            movement.extend_and_replan()
        self._lever_drive.start(self.case.throws)
        self._timetable.start()

    def _solve(self) -> None:
        """Have the supply solved, and tell everybody whom that concerns."""
        changed = self.supply.solve()
        self.protection.look()
        owners = list(dict.fromkeys(self.owners[u] for u in changed))
        self._throttles.meet(owners)
        for owner in owners:
            owner.motion.power_changed()
        if owners:
            self._throttles.look()

    def finish(self) -> Record:
        """Time is up: what is under way ends as it stands, and the record is made."""
        for train in self.trains:
            if not train.gone:
                train.motion.advance()
        for movement in self._movements:
            movement.finish()
        by_luck = self._luck and is_random(self.case)
        return self.recorder.record(self.case, self._seed, by_luck)


def _compiled(trains: Sequence[Train]) -> list[tuple[Consist, list[int]]]:
    """By train: its consist, and the number of pickups of each of its sides."""
    compiled: list[tuple[Consist, list[int]]] = []
    units = 0
    for train in trains:
        compiled.append(compile_train(train, units))
        units += len(compiled[-1][0].units)
    return compiled


def _kept_apart(case: Case, circuit: bool) -> list[int]:
    """Permanent elements whose two sides are told apart: a run may open them, or a wheel
    bridge them where they are worn.
    """
    apart = [*can_break(case)]
    if circuit:
        from sim.run.solved_supply import worn

        apart = [*worn(case.layout), *apart]
    return list(dict.fromkeys(apart))


def _same_metal(wiring: Wiring) -> Callable[[int, int], bool]:
    """Whether a pickup that goes from one node to another can change nothing."""
    cluster_of = clusters_of(wiring)
    return lambda a, b: cluster_of[a] == cluster_of[b]


def _solved(
    case: Case, traced: TracedSupply, closed: Sequence[int], owners: Sequence[RunningTrain]
) -> SupplyModel:
    """The traced supply with its circuit solved; loaded only where one is."""
    from sim.circuit.live import LiveCircuit
    from sim.run.solved_supply import Places, SolvedSupply

    trains = dict.fromkeys(owners)
    motors = [unit.motors for train in trains for unit in train.path.consist.units]
    circuit = LiveCircuit(case.layout, closed)
    where = Places(owners).spot
    breaks = bool(can_break(case))
    return SolvedSupply(case.layout, traced, circuit, closed, motors, where, breaks)
