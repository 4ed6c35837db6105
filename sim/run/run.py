"""Run a case once: from description to record."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from sim.layout.traffic import Case, Motor
from sim.records.model import Record
from sim.run.agenda import World
from sim.run.consist import compile_train
from sim.run.driver import Throttles
from sim.run.faults import Faults, can_break, may_happen, with_dirt
from sim.run.kinematics import US_PER_S
from sim.run.lever_drive import SignalBox
from sim.run.levers import LeverFrame
from sim.run.operator import Hand
from sim.run.protection import Breakers
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


def run(case: Case, seed: int, motions: bool = False, circuit: bool = True) -> Record:
    """Run the timetable of ``case`` from start to end.

    The same case and seed give the same record, on every machine.  With
    ``motions`` the record also holds every change of motion, for pictures.
    Without ``circuit`` the supply is only traced: every place that is connected
    has all the volts there are, and every short trips.
    """
    case = with_dirt(case, seed)
    world = World(case, seed, motions)
    build(world, circuit)
    start(world)
    end_us = round(case.conduct.duration_s * US_PER_S)
    if end_us > 0:
        world.env.run(until=end_us)
    for mover in world.movers:  # as it stands when time is up
        if not mover.gone:
            mover.advance()
    world.yard.finish()
    return world.ledger.record(case, seed, is_random(case))


def build(world: World, circuit: bool = True) -> None:
    """Put together everything that takes part."""
    case, layout = world.case, world.layout
    world.levers = LeverFrame(layout, world.seed, case.conduct.throw_s, world.tell)
    slots: list[int] = []
    first_units = []
    for train in case.trains:
        first_units.append(len(slots) // 2)
        slots += compile_train(train, len(slots) // 2)[1]
    world.supply = _supply(case, slots, world.levers.closed, circuit)
    world.claims = Claims(world)
    world.breakers = Breakers(world)
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


def start(world: World) -> None:
    """Put the trains down, switch the supplies on, give the first orders."""
    for e in sorted(world.levers.closed):
        world.changed("contact", world.layout.elements[e].id, "closed")
    for mover in world.movers:
        mover.road.put_down()
        mover.open_band()
    world.faults.start()
    world.supply.solve()
    world.breakers.look()
    world.throttles.start()
    for mover in world.movers:
        mover.power_changed()
        mover.extend_and_replan()
    world.box.start()
    world.yard.start()
