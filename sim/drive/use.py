"""Settings, routes and trains that a layout is judged by: those in use.

A rail that no train stands on in a setting may be dead in it.  In use is what the
timetable uses; without one it is every route in every setting of the gangs, driven
by two trains that common practice would try.  What points shut in is not in use: a
siding may be dead while the points lie for the main line.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

from sim.drive.lane import Lanes, Projections
from sim.layout.traffic import Case, Motor, Order, Train, Vehicle
from sim.power.parts import parts_of
from sim.power.settings import timetable_settings
from sim.run.timetable import STOP_SHORT_MM
from sim.scenario.defaults import defaults_for

Positions = tuple[int, ...]


def _stop_um(order: Order, train: Train, length_um: int) -> int:
    """How far into a route the front stops, as the run has it."""
    if order.place_mm is not None:
        return min(round(order.place_mm * 1000), length_um)
    middle = (length_um + round(train.length_mm * 1000)) // 2
    return min(middle, length_um - round(STOP_SHORT_MM * 1000))


@dataclass(frozen=True, slots=True)
class Use:
    """Settings in use, and what is driven in each of them where it is set.

    ``reached`` has (route, toward its finish) by train: an index into the trains that
    are judged by.
    """

    settings: tuple[Positions, ...]
    reached: tuple[tuple[tuple[int, bool], ...], ...]


def trains_of(case: Case) -> tuple[Train, ...]:
    """The trains that ``case`` is judged by: its own, or two that practice would try.

    Their speed is the least of those that their orders give.
    """
    own = (replace(t, speed_mm_s=_slowest_mm_s(t)) for t in case.trains)
    return tuple(own) or _practice_trains(case)


def _slowest_mm_s(train: Train) -> float:
    moving = (order for order in train.orders if order.do not in ("wait", "throw"))
    return min((o.speed_mm_s or train.speed_mm_s for o in moving), default=train.speed_mm_s)


def stands_of(case: Case) -> dict[tuple[int, int, bool], tuple[int, ...]]:
    """Where each train is put down or told to stop: µm from where it enters the route.

    By (train, route, toward its finish), as in :class:`Use`.  It may come to a stop
    from either side.
    """
    found: dict[tuple[int, int, bool], set[int]] = {}
    routes = case.layout.routes
    for number, train in enumerate(case.trains):
        front_um = round(train.place_mm * 1000)
        if not train.toward_finish:
            front_um = routes[train.route].length_um - front_um
        found.setdefault((number, train.route, train.toward_finish), set()).add(front_um)
        for order in train.orders:
            if order.do != "stop":
                continue
            for route in case.layout.pieces[order.piece].routes:
                into_um = _stop_um(order, train, routes[route].length_um)
                for forward in (True, False):
                    found.setdefault((number, route, forward), set()).add(into_um)
    return {key: tuple(sorted(places)) for key, places in found.items()}


def has_timetable(case: Case) -> bool:
    """Whether any train is told to do anything."""
    return any(train.orders for train in case.trains)


def in_use(
    case: Case,
    lanes: Lanes,
    every_setting: bool = False,
    stuck: Mapping[int, int] | None = None,
) -> tuple[Use, ...]:
    """The settings in use and what is driven in them, settings in the order of first use.

    With ``every_setting``, and without a timetable, every setting of the gangs and
    every route, both ways, part by part (see :func:`sim.power.parts.parts_of`).

    Settings are as they are asked for.  Levers in ``stuck`` stay at the position given
    there, which may lead a train elsewhere.
    """
    if every_setting or not has_timetable(case):
        count = len(trains_of(case))
        return tuple(
            Use(
                part.settings,
                (tuple((r, way) for r in part.routes for way in (True, False)),) * count,
            )
            for part in parts_of(case).parts
        )
    asked = timetable_settings(case)
    lying = [with_stuck(positions, stuck or {}) for positions in asked]
    settings = Projections(dict.fromkeys((*asked, *lying)))
    reached = (
        tuple(sorted(_reached(train, lanes, settings))) if train.orders else ()
        for train in case.trains
    )
    return (Use(tuple(asked), tuple(reached)),)


def with_stuck(positions: Positions, stuck: Mapping[int, int]) -> Positions:
    """How levers lie of which some stay where they are."""
    return tuple(stuck.get(n, p) for n, p in enumerate(positions)) if stuck else positions


def _reached(train: Train, lanes: Lanes, settings: Projections) -> set[tuple[int, bool]]:
    """The routes that a train can come to, and which way it goes over them."""
    turns = any(order.backward for order in train.orders)
    todo = [(train.route, train.toward_finish)]
    todo += [(train.route, not train.toward_finish)] if turns else []
    seen = set(todo)
    while todo:
        for route, forward in lanes.onward(*todo.pop(), settings):
            new = {(route, forward), *([(route, not forward)] if turns else [])} - seen
            seen |= new
            todo += sorted(new)
    return seen


#: Engines of common practice, no source, in mm of 9 mm gauge: (length, pickups, coaches,
#: scale mph). Other gauges in proportion.
_PRACTICE = (
    ("short engine", 58.0, (11.0, 24.0, 37.0), 0, 25.0),
    ("long engine", 110.0, (11.0, 23.0, 87.0, 99.0), 4, 45.0),
)
_COACH_MM = 120.0
_MPH_MM_S = 447.04


def _practice_trains(case: Case) -> tuple[Train, ...]:
    conduct = case.conduct
    values = defaults_for(conduct.gauge_mm)
    size = conduct.gauge_mm / 9.0
    trains = []
    for name, length, pickups, coaches, mph in _PRACTICE:
        speed = round(mph * _MPH_MM_S / conduct.scale_ratio, 6)
        motor = Motor(
            speed_mm_s=round(60.0 * _MPH_MM_S / conduct.scale_ratio, 6),
            at_voltage_v=12.0,
            start_voltage_v=values["start_voltage_v"].value,
            turns_down_to_v=values["turns_down_to_v"].value,
            running_a=values["running_a"].value,
            starting_a=values["starting_a"].value,
            minimum_v=values["minimum_v"].value,
        )
        places = tuple(round(p * size, 3) for p in pickups)
        engine = Vehicle(name, round(length * size, 3), places, places, motor)
        coach = Vehicle("coach", round(_COACH_MM * size, 3), (), ())
        trains.append(
            Train(
                name=name,
                vehicles=(engine, *[coach] * coaches),
                route=0,
                place_mm=0.0,
                toward_finish=True,
                orders=(),
                repeat=False,
                speed_mm_s=speed,
                acceleration_mm_s2=values["acceleration_mm_s2"].value,
                braking_mm_s2=values["braking_mm_s2"].value,
                coasting_mm=values["coasting_mm"].value,
                coasting_from_mm_s=round(25.0 * _MPH_MM_S / conduct.scale_ratio, 6),
                energy_store_s=values["energy_store_s"].value,
                refill_s=values["refill_s"].value,
            )
        )
    return tuple(trains)
