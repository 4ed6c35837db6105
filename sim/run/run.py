"""Run a case once: from description to record."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from math import inf

from sim.layout.traffic import Case, Motor, Order, Train
from sim.records.model import Record
from sim.run.agenda import World
from sim.run.consist import UM_PER_MM, compile_train
from sim.run.driver import Throttles
from sim.run.faults import Faults, can_break, may_happen, with_dirt
from sim.run.kinematics import US_PER_S, time_over
from sim.run.lever_drive import SignalBox
from sim.run.levers import LeverFrame
from sim.run.operator import Hand
from sim.run.protection import Breakers, Protection
from sim.run.recorder import Journal
from sim.run.reservations import Claims
from sim.run.route_setting import Crossings
from sim.run.solved_supply import Places
from sim.run.supply import SupplyModel
from sim.run.timetable import Yard
from sim.run.traced_supply import TracedSupply
from sim.run.train import Mover


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
    case = with_dirt(case, seed) if start is None else start.alone(case)
    world = World(case, seed, motions, start is None)
    build(world, circuit, start, protection)
    begin(world, start)
    end_us = round(case.conduct.duration_s * US_PER_S)
    if start is not None:
        _run_alone(world, start, end_us)
    elif end_us > 0:
        world.env.run(until=end_us)
    for mover in world.movers:  # as it stands when time is up
        if not mover.gone:
            mover.advance()
    world.yard.finish()
    return world.ledger.record(case, seed, start is None and is_random(case))


def _run_alone(world: World, start: RollingStart, end_us: int) -> None:
    """Run until the one train has gone its way, stands, or is off the rails."""
    (mover,) = world.movers
    goal = mover.s + start.way_mm * UM_PER_MM
    while not mover.gone and (mover.v > 0.0 or mover.a > 0.0 or world.now == 0):
        path = mover.road.path
        way = min(goal, path.end_um if mover.road.blocked else inf) - mover.s
        left_s = time_over(mover.v, mover.a, way) if way < inf else inf
        there_us = mover.t + round(left_s * US_PER_S) if left_s < inf else end_us
        due_us = world.env.peek()
        if min(there_us, end_us) <= due_us:
            if (over_us := min(there_us, end_us)) > world.now:
                world.env.run(until=over_us)
            return
        while world.env.peek() == due_us:
            world.env.step()


def build(
    world: World,
    circuit: bool = True,
    start: RollingStart | None = None,
    protection: Protection = "trips",
) -> None:
    """Put together everything that takes part."""
    case, layout = world.case, world.layout
    positions = None if start is None else start.levers
    world.levers = LeverFrame(
        layout, world.seed, case.conduct.throw_s, world.tell, positions, world.luck
    )
    slots: list[int] = []
    first_units = []
    for train in case.trains:
        first_units.append(len(slots) // 2)
        slots += compile_train(train, len(slots) // 2)[1]
    world.supply = _supply(case, slots, world.levers.closed, circuit)
    world.claims = Claims(world)
    world.breakers = Breakers(world, protection)
    world.faults = Faults(world)
    world.throttles = Throttles(world)
    world.hand = Hand(world)
    world.box = SignalBox(world)
    world.journal = Journal(world)
    world.crossings = Crossings(world)
    world.yard = Yard(world)
    world.movers = [
        Mover(world, i, train, first_units[i]) for i, train in enumerate(case.trains)
    ]
    world.unit_owner = [m for m in world.movers for _ in m.road.path.consist.units]
    world.supply.locate(Places(world).spot)


def _supply(
    case: Case, slots: Sequence[int], closed: Iterable[int], circuit: bool
) -> SupplyModel:
    if not circuit:
        closed = [*closed, *can_break(case)]
        return TracedSupply(case.layout, slots, closed, can_break(case))
    from sim.run.solved_supply import SolvedSupply

    motors: list[tuple[Motor, ...]] = []
    for train in case.trains:
        motors += [unit.motors for unit in compile_train(train, len(motors))[0].units]
    return SolvedSupply(case.layout, slots, closed, motors, can_break(case))


def begin(world: World, start: RollingStart | None = None) -> None:
    """Put the trains down, switch the supplies on, give the first orders."""
    for e in sorted(world.levers.closed):
        world.changed("contact", world.layout.elements[e].id, "closed")
    for mover in world.movers:
        mover.road.put_down()
        mover.open_band()
        if start is not None:
            mover.set_rolling(start.speed_mm_s * UM_PER_MM, start.standing)
    world.faults.start()
    world.supply.solve()
    world.breakers.look()
    world.throttles.start()
    for mover in world.movers:
        mover.power_changed()
        mover.extend_and_replan()
    world.box.start()
    world.yard.start()
