"""What fails in a run: faults of elements, and dirt.

What fails in a run: at its moment, at a throw, at a pass, or from the start.

Dirt: places of rail, and pickups, that are without contact throughout a run.

Where dirt lies is drawn from the seed before the run, and put into the description
as rail without metal; so the engine knows nothing of it.  Each route of a piece
has dirt of its own, also where routes share a rail.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import replace
from itertools import pairwise
from typing import TYPE_CHECKING

from sim.layout.model import PLASTIC, Layout, Route, Span
from sim.layout.traffic import Case, Train, Wear
from sim.power.wiring import is_permanent
from sim.run.agenda import Turn
from sim.run.chance import draw, happens
from sim.run.kinematics import US_PER_S

if TYPE_CHECKING:
    from sim.run.agenda import World
    from sim.run.train import Mover


S_PER_HOUR = 3600.0


def can_break(case: Case) -> tuple[int, ...]:
    """Permanent elements that this run may open or tire, by index, in order."""
    layout = case.layout
    found = {
        w.index
        for w in case.wear
        if w.kind not in ("lever", "supply", "piece", "train", "contact")
    }
    found |= {i for i, e in enumerate(layout.elements) if is_permanent(e) and e.opens > 0.0}
    return tuple(sorted(found))


def may_happen(case: Case) -> bool:
    """Whether any fault of ``case`` is left to chance."""
    chances = [e.opens for e in case.layout.elements]
    chances += [x.fails for x in case.layout.levers]
    chances += [w.chance for w in case.wear if w.chance is not None]
    # Once an hour is a moment drawn at random, even if it is sure to come.
    hourly = any(w.per in ("hour", "metre") and w.chance for w in case.wear)
    return hourly or any(0.0 < p < 1.0 for p in chances)


class Faults:
    """Brings faults about and clears them, and knows which are there."""

    def __init__(self, world: World) -> None:
        self._world = world
        self._layout: Layout = world.layout
        self._wear = world.case.wear
        #: permanent elements that are open now
        self.broken: set[int] = set()
        self._there: dict[int, int] = {}  # number of the rule: a token of its coming
        self._tokens = 0
        self._passes: dict[int, int] = {}
        self._by_piece: dict[int, list[int]] = {}
        for number, wear in enumerate(self._wear):
            if wear.kind == "contact":
                piece = self._layout.elements[wear.index].piece
                self._by_piece.setdefault(piece, []).append(number)
            if wear.at_throw is not None:
                world.levers.script(wear.kind == "lever", wear.index, wear.at_throw)
        #: whether a rail or a pickup may be dirty
        self.dirt = any(w.what == "dirt" for w in self._wear)

    # -- when -------------------------------------------------------------------

    def start(self) -> None:
        """What is there from the start, and the moments of what comes later."""
        seed = self._world.seed
        if not self._world.luck:
            return
        for i, e in enumerate(self._layout.elements):
            if is_permanent(e) and happens(seed, e.id, 0, e.opens):
                self._open(i)
                self._tell(e.id, "open from the start")
        for number, wear in enumerate(self._wear):
            if wear.at_s is not None:
                self._at(wear.at_s, number)
            elif wear.per == "hour":
                self._hourly(number, wear)
            elif self._from_the_start(wear):
                self._come(number)

    def _from_the_start(self, wear: Wear) -> bool:
        if wear.per != "run" or wear.what == "dirt":
            return False
        return happens(self._world.seed, wear.name, 0, wear.chance or 0.0)

    def _hourly(self, number: int, wear: Wear) -> None:
        """One moment in each hour in which it is to happen."""
        hours = int(self._world.conduct.duration_s // S_PER_HOUR) + 1
        for hour in range(hours):
            if happens(self._world.seed, wear.name, hour, wear.chance or 0.0):
                within = draw(self._world.seed, f"{wear.name} when", hour)
                self._at((hour + within) * S_PER_HOUR, number)

    def _at(self, time_s: float, number: int) -> None:
        self._world.at(round(time_s * US_PER_S), Turn.LEVERS, self._come, number)

    def thrown(self, levers: Iterable[int]) -> None:
        """Levers begin to move: what a throw clears is good when it closes again."""
        moved = set(levers)
        for number in list(self._there):
            wear = self._wear[number]
            if "throw" not in wear.cleared_by or wear.kind != "contact":
                continue
            when = self._layout.elements[wear.index].when
            if any(lever in moved for clause in when for lever, _ in clause):
                self._go(number)

    def entered(self, piece: int) -> None:
        """A train comes onto a piece: what shakes loose there is drawn again."""
        numbers = [n for n in self._by_piece.get(piece, ()) if self._wear[n].per == "pass"]
        if not numbers:
            return
        count = self._passes[piece] = self._passes.get(piece, 0) + 1
        for number in numbers:
            wear = self._wear[number]
            there = happens(self._world.seed, wear.name, count, wear.chance or 0.0)
            if there and number not in self._there:
                self._come(number)
            elif not there and number in self._there:
                self._go(number)

    def nudged(self, mover: Mover) -> None:
        """A hand moves the train on, and shakes the piece under it."""
        here = self._world.tracks.piece(mover.road.path.at(mover.s))
        for number in list(self._there):
            wear = self._wear[number]
            if "nudge" in wear.cleared_by and self._piece(wear) in (here, -1):
                self._go(number)

    def _piece(self, wear: Wear) -> int:
        """The piece that a fault is on, -1 where it is on none."""
        if wear.kind == "lever":
            return self._layout.levers[wear.index].piece
        if wear.kind == "supply":
            return -1
        return self._layout.elements[wear.index].piece

    # -- what -------------------------------------------------------------------

    def _come(self, number: int) -> None:
        wear = self._wear[number]
        self._tokens += 1
        self._there[number] = self._tokens
        self._tell(wear.part, wear.what)
        self._set(wear, True)
        if wear.for_s is not None:
            due = number, self._tokens
            self._world.at(round(wear.for_s * US_PER_S), Turn.LEVERS, self._expire, due)

    def _expire(self, due: tuple[int, int]) -> None:
        number, token = due
        if self._there.get(number) == token:
            self._go(number)

    def _go(self, number: int) -> None:
        wear = self._wear[number]
        del self._there[number]
        if any(self._wear[n].index == wear.index and self._wear[n].kind == wear.kind
               and self._wear[n].what == wear.what for n in self._there):  # fmt: skip
            return  # another rule keeps it as it is
        self._world.tell("mended", wear.part, wear.what)
        self._set(wear, False)

    def _set(self, wear: Wear, there: bool) -> None:
        world = self._world
        if wear.what == "tired":
            world.supply.tire(wear.index, wear.ohm if there else None)
            world.request_solve()
        elif wear.kind == "supply":
            world.breakers.cut_off(wear.index, there)
        elif wear.kind == "contact":
            change = world.levers.weld if wear.what == "never opens" else world.levers.fail
            world.box.connect(*change(wear.index, there))
        elif there:
            self._open(wear.index)
        else:
            self.broken.discard(wear.index)
            world.supply.set_contacts([wear.index], [])
            world.request_solve()

    def _open(self, element: int) -> None:
        if element not in self.broken:
            self.broken.add(element)
            self._world.supply.set_contacts([], [element])
            self._world.request_solve()

    def _tell(self, part: str, what: str) -> None:
        self._world.tell("fault", part, what)


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
