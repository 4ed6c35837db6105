"""What fails in a run: at its moment, at a throw, at a pass, or from the start; and dirt.

Dirt is places of rail, and pickups, that are without contact throughout a run.  Where
it lies is drawn from the seed before the run, and put into the description as rail
without metal; so the engine knows nothing of it.  Each route of a piece has dirt of its
own, also where routes share a rail.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import replace
from itertools import pairwise

from sim.faults.kinds import HOLDS, kinds_of
from sim.layout.model import PLASTIC, Layout, Route, Span
from sim.layout.traffic import Case, Train, Wear
from sim.power.wiring import is_permanent
from sim.run.agenda import Agenda, Once, Turn
from sim.run.chance import draw, happens
from sim.run.connections import Connections
from sim.run.kinematics import US_PER_S
from sim.run.levers import LeverFrame
from sim.run.protection import Breakers
from sim.run.recorder import Recorder
from sim.run.supply import SupplyModel

S_PER_HOUR = 3600.0


def can_break(case: Case) -> tuple[int, ...]:
    """Permanent elements that this run may open or tire, by index, in order."""
    layout = case.layout
    found = {
        w.index
        for w in case.wear
        if w.effect in ("opens", "tires") and is_permanent(layout.elements[w.index])
    }
    found |= {i for i, e in enumerate(layout.elements) if is_permanent(e) and e.opens > 0.0}
    return tuple(sorted(found))


def has_dirt(case: Case) -> bool:
    """Whether a rail or a pickup of ``case`` may be dirty."""
    return any(w.effect == "hides metal" for w in case.wear)


def may_happen(case: Case) -> bool:
    """Whether any fault of ``case`` is left to chance."""
    chances = [p for e in case.layout.elements for p in (e.opens, e.bad)]
    chances += [x.fails for x in case.layout.levers]
    chances += [w.chance for w in case.wear if w.chance is not None]
    # Once an hour is a moment drawn at random, even if it is sure to come.
    hourly = any(w.per in ("hour", "metre") and w.chance for w in case.wear)
    return hourly or any(0.0 < p < 1.0 for p in chances)


class Faults:
    """Brings faults about and clears them, and knows which are there.

    ``broken`` holds the permanent elements that are open at present, ``bad`` the contacts
    that are for the whole run; both are kept up to date here, and others look at them.
    """

    def __init__(
        self,
        agenda: Agenda,
        recorder: Recorder,
        case: Case,
        seed: int,
        luck: bool,
        levers: LeverFrame,
        supply: SupplyModel,
        solution: Once,
        connections: Connections,
        protection: Breakers,
        broken: set[int],
        bad: set[int],
    ) -> None:
        self._agenda, self._recorder = agenda, recorder
        self._layout, self._wear = case.layout, case.wear
        self._duration_s = case.conduct.duration_s
        self._seed, self._luck = seed, luck
        self._levers, self._supply, self._solution = levers, supply, solution
        self._connections, self._protection = connections, protection
        self._broken = broken
        self._bad = bad
        self._there: dict[int, int] = {}  # number of the rule: a token of its coming
        self._tokens = 0
        self._passes: dict[int, int] = {}
        self._touching: dict[int, int] = {}  #: number of a rule: the train whose wheel it is
        self._by_piece: dict[int, list[int]] = {}
        for number, wear in enumerate(self._wear):
            if wear.kind == "contact":
                piece = self._layout.elements[wear.index].piece
                self._by_piece.setdefault(piece, []).append(number)
            if wear.at_throw is not None:
                levers.script(wear.kind == "lever", wear.index, wear.at_throw)

    # -- when -------------------------------------------------------------------

    def start(self) -> None:
        """What is there from the start, and the moments of what comes later."""
        seed = self._seed
        if not self._luck:
            return
        for i, e in enumerate(self._layout.elements):
            if is_permanent(e) and happens(seed, e.id, 0, e.opens):
                self._bad.add(i)
                self._open(i)
                self._tell(e.id, "open from the start")
                kind = next(k.name for k in kinds_of(e.kind) if k.effect == "opens")
                self._recorder.changed("fault", e.id, kind)
            elif e.bad > 0.0 and happens(seed, f"{e.id} bad", 0, e.bad):
                self._bad.add(i)
                self._tell(e.id, "bad for the whole run")
                self._connections.change(*self._levers.fail(i, True))
        for number, wear in enumerate(self._wear):
            if wear.at_s is not None:
                self._at(wear.at_s, number)
            elif wear.per == "hour":
                self._hourly(number, wear)
            elif self._from_the_start(wear):
                self._come(number)

    def _from_the_start(self, wear: Wear) -> bool:
        if wear.per != "run" or wear.effect == "hides metal":
            return False
        return happens(self._seed, wear.name, 0, wear.chance or 0.0)

    def _hourly(self, number: int, wear: Wear) -> None:
        """One moment in each hour in which it is to happen."""
        hours = int(self._duration_s // S_PER_HOUR) + 1
        for hour in range(hours):
            if happens(self._seed, wear.name, hour, wear.chance or 0.0):
                within = draw(self._seed, f"{wear.name} when", hour)
                self._at((hour + within) * S_PER_HOUR, number)

    def _at(self, time_s: float, number: int) -> None:
        self._agenda.at(round(time_s * US_PER_S), Turn.LEVERS, self._come, number)

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

    def entered(self, piece: int, train: int) -> None:
        """A train comes onto a piece: what shakes loose there is drawn again."""
        numbers = [n for n in self._by_piece.get(piece, ()) if self._wear[n].per == "pass"]
        if not numbers:
            return
        count = self._passes[piece] = self._passes.get(piece, 0) + 1
        for number in numbers:
            wear = self._wear[number]
            there = happens(self._seed, wear.name, count, wear.chance or 0.0)
            if wear.effect == "touches":
                if there and number not in self._touching:
                    self._touching[number] = train
                    self._come(number)
            elif there and number not in self._there:
                self._come(number)
            elif not there and number in self._there:
                self._go(number)

    def left(self, train: int, piece: int | None = None) -> None:
        """A train has left a piece, or None for the track: its wheels touch nothing there."""
        for number, who in list(self._touching.items()):
            if who == train and piece in (None, self._piece(self._wear[number])):
                del self._touching[number]
                self._go(number)

    def nudged(self, here: int, train: int) -> None:
        """A hand moves a train on, and shakes the piece under it."""
        self.left(train, here)
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
        self._recorder.changed("fault", wear.part, wear.fault)
        self._set(wear, True)
        if wear.for_s is not None:
            due = number, self._tokens
            self._agenda.at(round(wear.for_s * US_PER_S), Turn.LEVERS, self._expire, due)

    def _expire(self, due: tuple[int, int]) -> None:
        number, token = due
        if self._there.get(number) == token:
            self._go(number)

    def _go(self, number: int) -> None:
        wear = self._wear[number]
        del self._there[number]
        # Another rule may keep it as it is, also by another word; so may its own bad luck.
        others = [self._wear[n] for n in self._there if self._wear[n].index == wear.index]
        if any(o.fault == wear.fault or {o.effect, wear.effect} <= HOLDS for o in others):
            return
        if wear.effect == "opens" and wear.index in self._bad:
            return
        self._recorder.tell("mended", wear.part, wear.what)
        self._recorder.changed("mended", wear.part, wear.fault)
        self._set(wear, False)

    def _set(self, wear: Wear, there: bool) -> None:
        if wear.effect == "tires":
            self._supply.tire(wear.index, wear.ohm if there else None)
            self._solution.request()
        elif wear.effect == "gives nothing":
            self._protection.cut_off(wear.index, there)
        elif wear.effect in HOLDS:
            # Nothing came before the start: what never opens then has closed already.
            at_once = wear.effect == "touches" or self._agenda.now == 0
            self._connections.change(*self._levers.weld(wear.index, there, at_once))
        elif wear.kind == "contact":
            self._connections.change(*self._levers.fail(wear.index, there))
        elif there:
            self._open(wear.index)
        else:
            self._broken.discard(wear.index)
            self._supply.set_contacts([wear.index], [])
            self._solution.request()

    def _open(self, element: int) -> None:
        if element not in self._broken:
            self._broken.add(element)
            self._supply.set_contacts([], [element])
            self._solution.request()

    def _tell(self, part: str, what: str) -> None:
        self._recorder.tell("fault", part, what)


UM_PER_M = 1_000_000
UM_PER_MM = 1000
Stretch = tuple[int, int]


def with_dirt(case: Case, seed: int) -> Case:
    """``case`` with the dirt of this seed on its rails and pickups."""
    rails = [w for w in case.wear if w.effect == "hides metal" and w.kind == "piece"]
    wheels = [w for w in case.wear if w.effect == "hides metal" and w.kind == "train"]
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
            # Whole, not cut off at the end of the piece: then it begins a little before.
            start = max(0, min(start, route.length_um - length_um))
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
