"""Random rings on which trains come up to each other, all invented, and the old law's twin."""

from __future__ import annotations

import random
from bisect import bisect_right
from collections.abc import Iterator
from contextlib import contextmanager
from itertools import accumulate
from unittest.mock import patch

from sim.run.driver import Coming, Next, TrainDriver
from sim.run.run import LiveRun
from sim.run.train import RunningTrain
from tests.run.plans import Plan, set_up


def chain(seed: int) -> Plan:
    """Two to four trains on a plain ring, unlike in speed, motor, acceleration and brakes.

    They stop, wait and change their speed by order; on DC they share one throttle.
    """
    draw = random.Random(seed)
    plan = Plan(50.0)
    plan.run = {"headway_mm": draw.choice([5.0, 20.0])}
    plan.supply(kind=draw.choice(["dc", "dc", "digital"]))
    count = draw.randint(4, 7)
    for i in range(count):
        fed = i == 0 or draw.random() < 0.5
        plan.straight(f"m{i}", draw.choice([200.0, 250.0]), "cab" if fed else None)
    for i in range(draw.randint(2, 4)):
        plan.train(
            f"t{i}",
            at=f"m{i}/P",
            place_mm=draw.choice([110.0, 150.0, 190.0]),
            orders=_orders(draw, count),
            repeat=True,
            speed_mm_s=draw.choice([40.0, 80.0, 100.0, 120.0]),
            acceleration_mm_s2=_like(draw, 30.0, 60.0, 100.0, 250.0),
            braking_mm_s2=_like(draw, 40.0, 100.0, 250.0),
            coasting_mm=draw.choice([3.0, 20.0, 60.0]),
            energy_store_s=draw.choice([0.0, 0.0, 0.5]),
            motor={
                "speed_mm_s": round(draw.uniform(97.0, 103.0), 3),
                "turns_down_to_v": draw.choice([0.5, 2.0]),
            },
        )
    return plan


def _like(draw: random.Random, *those: float) -> float:
    """One of ``those``, as many trains have it, or another one of that size."""
    own = round(draw.uniform(those[0], those[-1]), 3)
    return draw.choice([draw.choice(those), own])


def _orders(draw: random.Random, count: int) -> list[dict[str, object]]:
    orders: list[dict[str, object]] = [_circulate(40.0), _circulate(draw.choice([90.0, 150.0]))]
    if draw.random() < 0.5:  # slow and close up, then fast: all gather speed together
        return orders
    for _ in range(draw.randint(0, 3)):
        do = draw.choice(["circulate", "circulate", "wait", "stop", "run"])
        piece = f"m{draw.randrange(count)}/P"
        if do == "circulate":
            orders.append(_circulate(draw.choice([40.0, 90.0, 150.0])))
        elif do == "wait":
            orders.append({"do": do, "for_s": draw.choice([0.5, 2.0])})
        else:
            orders.append({"do": do, "on" if do == "stop" else "to": piece})
    return orders


def _circulate(speed_mm_s: float) -> dict[str, object]:
    return {"do": "circulate", "laps": 1, "speed_mm_s": speed_mm_s}


def crossings(live: LiveRun, places: list[float]) -> int:
    """How many joints between two pieces the pickups have passed since ``places``."""
    lengths = [route.length_um for route in live.layout.routes]
    ring, ends = sum(lengths), list(accumulate(lengths))

    def joints(place: float) -> int:
        laps, rest = divmod(place, ring)
        return int(laps) * len(ends) + bisect_right(ends, rest)

    found = 0
    for train, start in zip(live.trains, places, strict=True):
        piece = train.description.route
        for pickup in train.path.consist.pickups:
            first = ends[piece] - lengths[piece] + start - pickup.offset_um
            found += joints(first + train.place_now() - start) - joints(first)
    return found


def go_on(live: LiveRun, until_us: int, most: int) -> None:
    """Run on to that instant; a storm, which might never get there, fails."""
    events = live.agenda.asked
    while live.agenda.next_us < until_us:
        live.agenda.do_next()
        assert live.agenda.asked - events < most
    live.agenda.run_until(until_us)


def sampled(plan: Plan, seed: int) -> list[list[float]]:
    """By tenth of a second: how far each train has come (mm)."""
    live = set_up(plan.case(ring=True), seed)
    found = []
    for tenth in range(1, round(live.case.conduct.duration_s * 10.0)):
        go_on(live, tenth * 100_000, 1_000)
        found.append([train.place_now() / 1000.0 for train in live.trains])
    return found


@contextmanager
def old_law() -> Iterator[None]:
    """Follow as before: after the speed of the one ahead, anew at each event.

    It could go on for ever at one instant; so here a change of speed takes a microsecond
    at least.
    """
    coming = TrainDriver.coming

    def pace(self: TrainDriver, leader: RunningTrain, goal: float) -> tuple[float, float]:
        speed = leader.speed_now()
        if leader.a > 0.0 and self._train.v <= speed:
            return min(goal, leader.goal), min(self.rate, leader.a)
        return min(goal, speed), self.rate

    def later(self: TrainDriver, place_um: float, push_until_um: float | None) -> Coming | None:
        found = coming(self, place_um, push_until_um)
        if found is not None and found.kind is Next.SPEED:
            return found._replace(after_s=max(found.after_s, 1e-6))
        return found

    with (
        patch.object(TrainDriver, "_keep_pace", pace),
        patch.object(TrainDriver, "coming", later),
    ):
        yield
