"""Dirt: places of rail, and pickups, that are without contact throughout a run.

Where dirt lies is drawn from the seed before the run, and put into the description
as rail without metal; so the engine knows nothing of it.  Each route of a piece
has dirt of its own, also where routes share a rail.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace
from itertools import pairwise

from sim.layout.model import PLASTIC, Layout, Route, Span
from sim.layout.traffic import Case, Train, Wear
from sim.motion.draws import draw, happens

UM_PER_M = 1_000_000
UM_PER_MM = 1000
Stretch = tuple[int, int]


def with_dirt(case: Case, seed: int) -> Case:
    """``case`` with the dirt of this seed on its rails and pickups."""
    rails = [w for w in case.wear if w.what == "dirt" and w.kind == "piece"]
    wheels = [w for w in case.wear if w.what == "dirt" and w.kind == "train"]
    if not rails and not wheels:
        return case
    return replace(
        case,
        layout=_dirty_rails(case.layout, rails, seed),
        trains=tuple(
            _dirty_train(train, [w for w in wheels if w.index == i], seed)
            for i, train in enumerate(case.trains)
        ),
    )


def _dirty_rails(layout: Layout, rules: Sequence[Wear], seed: int) -> Layout:
    routes = list(layout.routes)
    for rule in rules:
        for number in layout.pieces[rule.index].routes:
            route = routes[number]
            left = list(_places(route, "left", rule, seed))
            right = list(_places(route, "right", rule, seed))
            routes[number] = replace(route, spans=tuple(_cut(route.spans, left, right)))
    return replace(layout, routes=tuple(routes))


def _places(route: Route, side: str, rule: Wear, seed: int) -> Iterator[Stretch]:
    """Dirty places on one rail of a route: at most one begins on each metre of it."""
    length_um = round((rule.length_mm or 0.0) * UM_PER_MM)
    for metre in range(-(-route.length_um // UM_PER_M)):
        from_um = metre * UM_PER_M
        here = min(UM_PER_M, route.length_um - from_um)
        name = f"{rule.name} {route.id} {side}"
        # A last piece of a metre has its share of the chance.
        if happens(seed, name, metre, (rule.chance or 0.0) * here / UM_PER_M):
            start = from_um + int(draw(seed, f"{name} where", metre) * here)
            yield start, min(start + length_um, route.length_um)


def _cut(
    spans: Sequence[Span], left: Sequence[Stretch], right: Sequence[Stretch]
) -> Iterator[Span]:
    """``spans`` with no metal where dirt lies; equal neighbours stay apart."""
    edges = sorted({x for stretch in (*left, *right) for x in stretch})
    for span in spans:
        at = [span.from_um, *(x for x in edges if span.from_um < x < span.to_um), span.to_um]
        for from_um, to_um in pairwise(at):
            yield Span(
                from_um,
                to_um,
                PLASTIC if _in(from_um, left) else span.left,
                PLASTIC if _in(from_um, right) else span.right,
            )


def _in(place_um: int, stretches: Sequence[Stretch]) -> bool:
    return any(a <= place_um < b for a, b in stretches)


def _dirty_train(train: Train, rules: Sequence[Wear], seed: int) -> Train:
    """``train`` without the pickups that dirt keeps off the rail for the whole run."""
    for rule in rules:
        vehicles = []
        for number, vehicle in enumerate(train.vehicles):
            sides = [
                tuple(
                    place
                    for n, place in enumerate(places)
                    if not happens(seed, f"{rule.name} {number} {side}", n, rule.chance or 0.0)
                )
                for side, places in (
                    ("left", vehicle.pickups_left_mm),
                    ("right", vehicle.pickups_right_mm),
                )
            ]
            vehicles.append(
                replace(vehicle, pickups_left_mm=sides[0], pickups_right_mm=sides[1])
            )
        train = replace(train, vehicles=tuple(vehicles))
    return train
