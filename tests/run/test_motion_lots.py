"""What must hold in every run: random layouts, trains and throws, looked at all the time."""

from __future__ import annotations

import os

from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from sim.run.agenda import Turn, World
from sim.run.train import Mover
from tests.run import slow
from tests.run.lots import plans
from tests.run.plans import Plan, set_up

FEW = settings(
    max_examples=int(os.environ.get("LOTS", "40")),
    deadline=None,
    suppress_health_check=list(HealthCheck),
)
#: Places are compared as floats of µm: this much is rounding.
ROUNDING_UM = 1e-3


def watched(plan: Plan, circuit: bool, seed: int = 3) -> World:
    """Run ``plan`` to its end, looking at everything whenever an instant's wheels are done."""
    case = plan.case(ring=True)
    world = set_up(case, seed, circuit)
    end = round(case.conduct.duration_s * 1e6)
    last = 0
    while world.env.peek() < end:
        turn = world.env._queue[0][1]
        world.env.step()
        assert world.env.now >= last
        last = world.env.now
        if turn >= Turn.SOLVE and not world._solve_due:
            look(world)
    return world


def look(world: World) -> None:
    one_place_each(world)
    readings_as_the_twin_says(world, pickups_where_the_path_says(world))


def one_place_each(world: World) -> None:
    """No two trains overlap, on one route or on two that conflict past their points.

    Only a lever that is thrown by the clock just before a train, too late to stop,
    may still send it where another is.
    """
    strict = not world.case.throws and not any(
        order.do == "throw" for train in world.case.trains for order in train.orders
    )
    taken: list[tuple[Mover, int, float, float]] = []
    for mover in world.movers:
        if mover.gone:
            continue
        for route, low, high in slow.stands(mover):
            for other, at, a, b in taken:
                apart = at != route or high <= a + ROUNDING_UM or b <= low + ROUNDING_UM
                assert apart, (world.env.now, mover.train.name, other.train.name, route)
                if strict and other is not mover and at in world.layout.routes[route].conflicts:
                    assert short_of_points(world, mover, route) or short_of_points(
                        world, other, at
                    )
            taken.append((mover, route, low, high))


def short_of_points(world: World, mover: Mover, route: int) -> bool:
    """Whether its first wheel has yet to reach facing points of that route."""
    front_wheel = mover.s - mover.road.path.consist.first_wheel_um
    for segment in mover.road.path.segments:
        if segment.route == route:
            for points in world.layout.routes[route].points:
                tip = (
                    points.tip_um
                    if segment.forward
                    else segment.end_um - segment.begin_um - points.tip_um
                )
                facing = (points.tip_um < points.heel_um) == segment.forward
                if facing and front_wheel <= segment.begin_um + tip + ROUNDING_UM:
                    return True
    return False


def pickups_where_the_path_says(world: World) -> dict[int, list[int]]:
    """By side: the nodes under its pickups, the supply's knowledge checked against them.

    Where a pickup is at a boundary to within rounding, either side of it will do.
    """
    cluster_of = world.supply.wiring.cluster_of  # type: ignore[attr-defined]
    known = world.supply._under  # type: ignore[attr-defined]
    plastic = len(world.layout.nodes)

    def agrees(sides: dict[int, list[int]]) -> bool:
        return all(
            sorted(plastic if n < 0 else cluster_of[n] for n in nodes) == sorted(known[side])
            for side, nodes in sides.items()
        )

    found: dict[int, list[int]] = {}
    for mover in world.movers:
        if not mover.gone:
            either = [slow.under(world, mover, d) for d in (ROUNDING_UM, -ROUNDING_UM)]
            assert any(map(agrees, either)), mover.train.name
            found.update(next(filter(agrees, either)))
    return found


def readings_as_the_twin_says(world: World, sides: dict[int, list[int]]) -> None:
    for unit, verdict in slow.verdicts(world, sides).items():
        told = world.supply._readings[unit]  # type: ignore[attr-defined]
        assert told.verdict == verdict, (world.env.now, unit)


@FEW
@given(plans(), st.booleans())
def test_every_instant(plan: Plan, circuit: bool) -> None:
    watched(plan, circuit)
