"""Run a case once: from description to record."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from math import inf

from sim.layout.model import Layout
from sim.layout.traffic import Case, Motor, Order, Train
from sim.power.wiring import Wiring, wire
from sim.records.model import Record
from sim.run.agenda import Agenda, Once, Turn
from sim.run.connections import Connections
from sim.run.consist import UM_PER_MM, Consist, compile_train
from sim.run.driver import Driver
from sim.run.evidence import Evidence
from sim.run.faults import Faults, can_break, has_dirt, may_happen, with_dirt
from sim.run.kinematics import US_PER_S, time_over
from sim.run.lever_drive import LeverDrive
from sim.run.levers import LeverFrame
from sim.run.motion import Motion
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
) -> Record:
    """Run the timetable of ``case`` from start to end.

    The same case and seed give the same record, on every machine.  With
    ``motions`` the record also holds every change of motion, for pictures.
    Without ``circuit`` the supply is only traced: every place that is connected
    has all the volts there are, and every short trips.

    With ``start`` the case is run with that one train instead.  Protection that
    ``only tells`` lets shorts and overloads be: see :class:`Breakers`.
    """
    live = Run(case, seed, motions, circuit, start, protection)
    live.begin()
    end_us = round(case.conduct.duration_s * US_PER_S)
    if start is None:
        live.agenda.run_until(end_us)
    else:
        _run_alone(live, start, end_us)
    return live.finish()


def _run_alone(live: Run, start: RollingStart, end_us: int) -> None:
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


class Run:
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
    ) -> None:
        case = with_dirt(case, seed) if start is None else start.alone(case)
        self.case, self._seed, self._start = case, seed, start
        luck = start is None
        self.layout = layout = case.layout
        self.agenda = agenda = Agenda()
        self.recorder = recorder = Recorder(agenda, layout, watch)
        self.journal = journal = Journal(agenda, recorder, layout, len(case.trains))
        self.tracks = tracks = TrackMap(layout)
        self.levers = levers = LeverFrame(
            layout,
            seed,
            case.conduct.throw_s,
            recorder.tell,
            None if start is None else start.levers,
            luck,
        )
        compiled = _compiled(case.trains)
        wiring = _wiring(case, circuit)
        self.throttle_settings = settings = ThrottleSettings(layout.supplies)
        same_metal = _same_metal(wiring)
        self.trains = trains = [
            RunningTrain(
                agenda,
                layout,
                settings,
                case.conduct,
                index,
                train,
                Path(tracks, compiled[index][0], same_metal),
            )
            for index, train in enumerate(case.trains)
        ]
        self.owners = owners = [t for t in trains for _ in t.path.consist.units]
        slots = [n for _, own in compiled for n in own]
        self.supply = supply = _supply(case, wiring, slots, levers, owners, circuit)
        self.solution = solution = Once(agenda, Turn.SOLVE, self._solve)
        broken: set[int] = set()
        self.evidence = evidence = Evidence(
            layout, tracks, levers, supply, owners, broken, has_dirt(case)
        )
        operator = Operator(agenda, recorder, journal, evidence, case.conduct)
        self.protection = Breakers(
            agenda, recorder, layout, supply, solution, trains, evidence, operator, protection
        )
        connections = Connections(recorder, layout, supply, solution)
        self._faults = faults = Faults(
            agenda,
            recorder,
            case,
            seed,
            luck,
            levers,
            supply,
            solution,
            connections,
            self.protection,
            broken,
        )
        self.reservations = reservations = Reservations(layout, tracks)
        self._lever_drive = lever_drive = LeverDrive(
            agenda, recorder, layout, tracks, levers, connections, faults, reservations, trains
        )
        self._throttles = throttles = Throttles(layout, supply, solution, settings, trains)
        route_setting = RouteSetting(
            recorder, layout, tracks, levers, reservations, lever_drive
        )
        self._timetable = timetable = RunningTimetable(
            agenda,
            layout,
            tracks,
            trains,
            throttles,
            lever_drive,
            route_setting,
            journal,
            operator,
        )
        trackside = Trackside(tracks, journal, faults, lever_drive, route_setting, timetable)
        self._motions = [
            Motion(
                agenda,
                recorder,
                journal,
                tracks,
                case.conduct,
                supply,
                solution,
                throttles,
                faults,
                operator,
                route_setting,
                timetable,
                trackside,
                PathAhead(
                    layout,
                    tracks,
                    levers,
                    supply,
                    solution,
                    reservations,
                    timetable,
                    journal,
                    train,
                ),
                Traction(
                    agenda,
                    recorder,
                    journal,
                    layout,
                    supply,
                    solution,
                    settings,
                    operator,
                    train,
                ),
                Driver(reservations, case.conduct, train, minds_ends=start is None),
                train,
            )
            for train in trains
        ]

    def begin(self) -> None:
        """Put the trains down, switch the supplies on, give the first orders."""
        for e in sorted(self.levers.closed):
            self.recorder.changed("contact", self.layout.elements[e].id, "closed")
        for motion in self._motions:
            if self._start is None:
                motion.put_down()
            else:
                motion.put_down(self._start.rolls_um_s, self._start.speed_mm_s * UM_PER_MM)
        self._faults.start()
        self.supply.solve()
        self.protection.look()
        self._throttles.start()
        for motion in self._motions:
            motion.power_changed()
            motion.extend_and_replan()
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
        for motion in self._motions:
            motion.finish()
        is_luck = self._start is None and is_random(self.case)
        return self.recorder.record(self.case, self._seed, is_luck)


def _compiled(trains: Sequence[Train]) -> list[tuple[Consist, list[int]]]:
    """By train: its consist, and the number of pickups of each of its sides."""
    compiled: list[tuple[Consist, list[int]]] = []
    units = 0
    for train in trains:
        compiled.append(compile_train(train, units))
        units += len(compiled[-1][0].units)
    return compiled


def _wiring(case: Case, circuit: bool) -> Wiring:
    """The metal of the layout, with what the run may open, or wheels bridge, kept apart."""
    return wire(case.layout, switched=_kept_apart(case, circuit))


def _kept_apart(case: Case, circuit: bool) -> list[int]:
    if not circuit:
        return [*can_break(case)]
    from sim.run.solved_supply import worn

    return list(dict.fromkeys([*worn(case.layout), *can_break(case)]))


def _same_metal(wiring: Wiring) -> Callable[[int, int], bool]:
    """Whether a pickup that goes from one node to another can change nothing."""
    cluster_of = clusters_of(wiring)
    return lambda a, b: cluster_of[a] == cluster_of[b]


def _supply(
    case: Case,
    wiring: Wiring,
    slots: Sequence[int],
    levers: LeverFrame,
    owners: Sequence[RunningTrain],
    circuit: bool,
) -> SupplyModel:
    """The supply: traced, and with ``circuit`` solved as well."""
    layout: Layout = case.layout
    closed = [*levers.closed, *_kept_apart(case, circuit)]
    traced = TracedSupply(layout, slots, closed, wiring)
    if not circuit:
        return traced
    from sim.circuit.live import LiveCircuit
    from sim.run.solved_supply import Places, SolvedSupply

    motors: list[tuple[Motor, ...]] = []
    for train in dict.fromkeys(owners):
        motors += [unit.motors for unit in train.path.consist.units]
    where = Places(owners).spot
    live = LiveCircuit(layout, closed)
    return SolvedSupply(layout, traced, live, closed, motors, where, bool(can_break(case)))
