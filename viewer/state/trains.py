"""Where a train's vehicles and pickups are when its front is at a place."""

from __future__ import annotations

from bisect import bisect_right
from dataclasses import dataclass

from sim.layout.model import PLASTIC, UM_PER_MM, Layout
from sim.layout.traffic import Train
from sim.records.model import Motion
from sim.run.consist import Consist, compile_train


@dataclass(frozen=True, slots=True)
class Spot:
    """A place on a route, and whether the train runs toward the route's finish."""

    route: int
    place_mm: float
    forward: bool


@dataclass(frozen=True, slots=True)
class StandingPickup:
    """A pickup on a rail: ``node`` is PLASTIC where there is no metal under it."""

    spot: Spot
    on_left: bool  #: of the route, as going from its start to its finish
    node: int
    unit: int


@dataclass(frozen=True, slots=True)
class StandingVehicle:
    """A vehicle: both ends. ``motor`` where it has one.

    ``parts`` are its stretches on one route after the other, front and rear of each.
    """

    name: str
    front: Spot
    rear: Spot
    parts: tuple[tuple[Spot, Spot], ...]
    motor: bool
    leads: bool


@dataclass(frozen=True, slots=True)
class StandingTrain:
    """A train at one moment. ``sides`` are the nodes under each side of each unit.

    ``units`` maps a unit to its two sides (left, right as the train faces).
    """

    name: str
    vehicles: tuple[StandingVehicle, ...]
    pickups: tuple[StandingPickup, ...]
    sides: dict[int, tuple[int, ...]]
    units: dict[int, tuple[int, int]]
    speed_mm_s: float
    powered: bool

    @property
    def front(self) -> Spot:
        """Where its front is."""
        return self.vehicles[0].front


class Fleet:
    """All trains of a case, compiled once."""

    def __init__(self, layout: Layout, trains: tuple[Train, ...]) -> None:
        self.layout = layout
        self.trains = trains
        self._route_at = {r.id: k for k, r in enumerate(layout.routes)}
        self._starts = [[s.from_um for s in r.spans] for r in layout.routes]
        self._consists: list[tuple[Consist, Consist]] = []
        unit = 0
        for train in trains:
            consist, _ = compile_train(train, unit)
            unit += len(consist.units)
            self._consists.append((consist, consist.turned()))

    def stand(self, number: int, motion: Motion, time_s: float) -> StandingTrain:
        """Train ``number`` at ``time_s``, which ``motion`` governs."""
        train = self.trains[number]
        after = max(0.0, time_s - motion.time_s)
        place = (
            motion.place_mm
            + motion.speed_mm_s * after
            + 0.5 * motion.acceleration_mm_s2 * after * after
        )
        speed = motion.speed_mm_s + motion.acceleration_mm_s2 * after
        under = [(self._route_at[name], forward) for name, forward in motion.under]
        line = _Line(self.layout, under or [(self._route_at[motion.route], True)], place)
        consist = self._consists[number][motion.rear_leads]
        pickups = tuple(
            self._pickup(line, p.offset_um, p.left, p.side) for p in consist.pickups
        )
        sides: dict[int, list[int]] = {}
        for pickup, known in zip(consist.pickups, pickups, strict=True):
            sides.setdefault(pickup.side, [])
            if known.node != PLASTIC:
                sides[pickup.side].append(known.node)
        return StandingTrain(
            train.name,
            tuple(self._vehicles(train, line, motion.rear_leads)),
            pickups,
            {side: tuple(dict.fromkeys(nodes)) for side, nodes in sides.items()},
            {u.number: (u.left, u.right) for u in consist.units},
            abs(speed),
            motion.powered,
        )

    def _pickup(self, line: _Line, offset_um: int, left: bool, side: int) -> StandingPickup:
        spot = line.behind(offset_um / UM_PER_MM)
        on_left = left == spot.forward
        spans = self.layout.routes[spot.route].spans
        at = round(spot.place_mm * UM_PER_MM)
        span = spans[max(0, bisect_right(self._starts[spot.route], at) - 1)]
        return StandingPickup(spot, on_left, span.left if on_left else span.right, side >> 1)

    def _vehicles(self, train: Train, line: _Line, rear_leads: bool) -> list[StandingVehicle]:
        made: list[StandingVehicle] = []
        at = 0.0
        order = reversed(train.vehicles) if rear_leads else train.vehicles
        for vehicle in order:
            parts = line.parts(at, at + vehicle.length_mm)
            ends = parts[0][0], parts[-1][1]
            motor = vehicle.motor is not None
            made.append(StandingVehicle(vehicle.name, *ends, parts, motor, not made))
            at += vehicle.length_mm
        return made


class _Line:
    """The routes under a train, and its front on the first of them."""

    def __init__(self, layout: Layout, under: list[tuple[int, bool]], place_mm: float) -> None:
        self._layout = layout
        self._under = under
        self._place = place_mm

    def parts(self, from_mm: float, to_mm: float) -> tuple[tuple[Spot, Spot], ...]:
        """What lies between two distances behind the front, route by route."""
        made: list[tuple[Spot, Spot]] = []
        nearest = 0.0
        for number, (route, forward) in enumerate(self._under):
            length = self._layout.routes[route].length_um / UM_PER_MM
            front = self._place if number == 0 else length if forward else 0.0
            last = number == len(self._under) - 1
            furthest = to_mm if last else nearest + (front if forward else length - front)
            begin, end = max(from_mm, nearest), min(to_mm, furthest)
            if end > begin or (last and not made):
                way = -1.0 if forward else 1.0
                at = [front + way * (d - nearest) for d in (begin, end)]
                made.append((Spot(route, at[0], forward), Spot(route, at[1], forward)))
            if furthest >= to_mm:
                break
            nearest = furthest
        return tuple(made)

    def behind(self, distance_mm: float) -> Spot:
        """The place that far behind the front."""
        left = distance_mm
        for number, (route, forward) in enumerate(self._under):
            length = self._layout.routes[route].length_um / UM_PER_MM
            front = self._place if number == 0 else length if forward else 0.0
            behind = front if forward else length - front
            last = number == len(self._under) - 1
            if left <= behind or last:
                return Spot(route, front - left if forward else front + left, forward)
            left -= behind
        raise AssertionError("a train stands on one route at least")
