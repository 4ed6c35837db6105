"""What must hold in every run: random layouts, trains and throws, looked at all the time."""

from __future__ import annotations

import os
from collections.abc import Callable
from typing import TypeVar
from unittest.mock import patch

from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from sim.run.agenda import Agenda, Turn
from sim.run.run import LiveRun
from sim.run.solved_supply import SolvedSupply
from sim.run.traced_supply import TracedSupply
from sim.run.train import RunningTrain
from tests.run import slow
from tests.run.lots import plans
from tests.run.plans import Plan, set_up

T = TypeVar("T")

FEW = settings(
    max_examples=int(os.environ.get("LOTS", "40")),
    deadline=None,
    suppress_health_check=list(HealthCheck),
)
#: Places are compared as floats of µm: this much is rounding.
ROUNDING_UM = 1e-3


def watched(plan: Plan, circuit: bool, seed: int = 3) -> LiveRun:
    """Run ``plan`` to its end, looking at everything whenever an instant's wheels are done."""
    begun: list[LiveRun] = []

    def at_and_look(
        agenda: Agenda, delay_us: int, turn: Turn, call: Callable[[T], None], what: T
    ) -> None:
        def call_and_look(what: T) -> None:
            call(what)
            for live in begun:
                if turn >= Turn.SOLVE and not live.solution.due:
                    look(live)

        plain(agenda, delay_us, turn, call_and_look, what)

    plain = Agenda.at
    with patch.object(Agenda, "at", at_and_look):
        begun.append(set_up(plan.case(ring=True), seed, circuit))
        _to_the_end(*begun)
    return begun[0]


def _to_the_end(live: LiveRun) -> None:
    end, last = round(live.case.conduct.duration_s * 1e6), 0
    while live.agenda.next_us < end:
        live.agenda.do_next()
        assert live.agenda.now > last or last == 0
        last = live.agenda.now


def look(live: LiveRun) -> None:
    one_place_each(live)
    readings_as_the_twin_says(live, pickups_where_the_path_says(live))


def one_place_each(live: LiveRun) -> None:
    """No two trains overlap, on one route or on two that conflict past their points.

    Only a lever that is thrown by the clock just before a train, too late to stop,
    may still send it where another is.
    """
    strict = not live.case.throws and not any(
        order.do == "throw" for train in live.case.trains for order in train.orders
    )
    taken: list[tuple[RunningTrain, int, float, float]] = []
    for train in live.trains:
        if train.gone:
            continue
        for route, low, high in slow.stands(train):
            for other, at, a, b in taken:
                apart = at != route or high <= a + ROUNDING_UM or b <= low + ROUNDING_UM
                assert apart, (live.agenda.now, train.name, other.name, route)
                if strict and other is not train and at in live.layout.routes[route].conflicts:
                    assert short_of_points(live, train, route) or short_of_points(
                        live, other, at
                    )
            taken.append((train, route, low, high))


def short_of_points(live: LiveRun, train: RunningTrain, route: int) -> bool:
    """Whether its first wheel has yet to reach facing points of that route."""
    front_wheel = train.s - train.path.consist.first_wheel_um
    for segment in train.path.segments:
        if segment.route == route:
            for points in live.layout.routes[route].points:
                tip = (
                    points.tip_um
                    if segment.forward
                    else segment.end_um - segment.begin_um - points.tip_um
                )
                facing = (points.tip_um < points.heel_um) == segment.forward
                if facing and front_wheel <= segment.begin_um + tip + ROUNDING_UM:
                    return True
    return False


def traced_in(live: LiveRun) -> TracedSupply:
    """What tracing says, the circuit left out."""
    supply = live.supply
    traced = supply.traced if isinstance(supply, SolvedSupply) else supply
    assert isinstance(traced, TracedSupply)
    return traced


def pickups_where_the_path_says(live: LiveRun) -> dict[int, list[int]]:
    """By side: the nodes under its pickups, the supply's knowledge checked against them.

    Where a pickup is at a boundary to within rounding, either side of it will do.
    """
    traced = traced_in(live)
    cluster_of, known = traced.wiring.cluster_of, traced.under
    plastic = len(live.layout.nodes)

    def agrees(sides: dict[int, list[int]]) -> bool:
        return all(
            sorted(plastic if n < 0 else cluster_of[n] for n in nodes) == sorted(known[side])
            for side, nodes in sides.items()
        )

    found: dict[int, list[int]] = {}
    for train in live.trains:
        if not train.gone:
            either = [slow.under(live, train, d) for d in (ROUNDING_UM, -ROUNDING_UM)]
            assert any(map(agrees, either)), train.name
            found.update(next(filter(agrees, either)))
    return found


def readings_as_the_twin_says(live: LiveRun, sides: dict[int, list[int]]) -> None:
    for unit, verdict in slow.verdicts(live, sides).items():
        told = traced_in(live).reading(unit)
        assert told.verdict == verdict, (live.agenda.now, unit)


@FEW
@given(plans(), st.booleans())
def test_every_instant(plan: Plan, circuit: bool) -> None:
    watched(plan, circuit)
