"""Drives: whether one train gets over one route that is set, with nothing else there.

One case, one setting, one train, one route, one direction.  The train enters
rolling from a place where all its wheels are on the neighbours, its store full,
and ends where they are again.  It is tried at its ordered speed, with its
coasting, and at a crawl, without; what only stops the crawl is told apart.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from math import inf
from typing import Literal

from sim.drive.alone import (
    Cut,
    Played,
    Player,
    cut_out,
    has_volts_to_spare,
    rounded_ohm,
)
from sim.drive.lane import Lane, Lanes
from sim.drive.nets import Nets, NetsOf
from sim.layout.model import Layout
from sim.layout.traffic import Conduct, Train
from sim.records.model import Kind, StallSide

Direction = Literal["forward", "backward"]
DriveOutcome = Literal["clear", "hesitates", "stops at crawl", "stops", "shorts"]
#: From best to worst.
OUTCOMES: tuple[DriveOutcome, ...] = (
    "clear",
    "hesitates",
    "stops at crawl",
    "stops",
    "shorts",
)

#: Scale speed of a crawl: 5 mph, in mm/s of the prototype.
CRAWL_MM_S = 5.0 * 447.04
#: Run-out of a train that does not coast; none at all would be an endless deceleration.
NO_COASTING_MM = 0.001

Positions = tuple[int, ...]


@dataclass(frozen=True, slots=True)
class Drive:
    """What comes of one drive.

    ``route`` is an index, ``forward`` whether it is run toward its finish.
    ``place_mm`` counts from the start of route ``at``; ``side`` is the rail seen from
    that start.  ``elements`` are indices of what makes it so: open contacts and gaps
    before dead rails, gaps that the train bridges where it shorts.  ``sections`` are
    the sections without usable supply under it, or those that it joins to a short.
    ``joins`` are poles, two for each supply, that it joins without a short.
    ``opposed`` are DC supplies on its way that are wired in opposite phase to the one
    that it begins on: it is driven with their throttles turned along, and where one
    stands against it, because a train there runs the other way, it shorts.
    """

    train: str
    route: int
    forward: bool
    outcome: DriveOutcome
    at: int = -1
    place_mm: float | None = None
    side: StallSide | None = None
    kind: Kind | None = None
    elements: tuple[int, ...] = ()
    sections: tuple[int, ...] = ()
    joins: tuple[int, ...] = ()
    shorted: tuple[int, ...] = ()  #: supplies
    trips: bool = False
    opposed: tuple[int, ...] = ()  #: supplies

    @property
    def direction(self) -> Direction:
        """Along the route's own orientation, or against it."""
        return "forward" if self.forward else "backward"


class Drives:
    """Makes the drives of one layout, and remembers what they look like.

    ``player`` may be shared by the cases of one scenario.
    """

    def __init__(self, layout: Layout, conduct: Conduct, player: Player | None = None) -> None:
        self._layout, self._conduct = layout, conduct
        self._player = Player() if player is None else player
        self.nets_of = NetsOf(layout)
        self.lanes = Lanes(layout)
        self._beside = _elements_at(layout)
        self._spare: dict[tuple[int, int, float], bool] = {}

    def drive(
        self,
        train: Train,
        route: int,
        forward: bool,
        positions: Positions,
        stands_um: Iterable[int] = (),
    ) -> Drive | None:
        """The drive of ``train`` over ``route``; None where the track cannot hold it.

        The route has to be set, or to have points against the train at whose blades it
        ends (see :meth:`Lanes.over`).  It is started from rest as well with its front at
        each of ``stands_um``, from where it enters the route.
        """
        lane = self.lanes.over(route, forward, positions, round(train.length_mm * 1000))
        if lane is None:
            return None
        return self.along(train, lane, self.nets_of.of(positions), stands_um)

    def along(
        self, train: Train, lane: Lane, nets: Nets, stands_um: Iterable[int] = ()
    ) -> Drive:
        """The drive of ``train`` along ``lane`` while the rails are joined as ``nets`` says."""
        route, forward = lane.segments[lane.over]
        if self._is_plain(train, lane, nets):
            return Drive(train.name, route, forward, "clear")
        cut = cut_out(self._layout, lane, nets)
        rolling = self._player.play(cut.scene, train, train.speed_mm_s)
        outcome: DriveOutcome = rolling.outcome
        played = rolling
        if outcome == "hesitates" or rolling.lost_some:
            slow = replace(train, coasting_mm=NO_COASTING_MM)
            crawl = self._player.play(cut.scene, slow, self.crawl_mm_s(train))
            if crawl.outcome == "stops":
                outcome, played = "stops at crawl", crawl
        for front_um in stands_um if outcome in ("clear", "hesitates") else ():
            length_um = round(train.length_mm * 1000)
            stand = self.lanes.over(route, forward, nets.positions, length_um, front_um)
            if stand is None:
                continue
            its_cut = cut_out(self._layout, stand, nets)
            start = self._player.play(its_cut.scene, train, train.speed_mm_s, standing=True)
            if start.outcome == "stops":
                outcome, played, lane, cut = "stops at crawl", start, stand, its_cut
                break
        found = self._told(train, lane, cut, played, nets, outcome)
        return replace(found, route=route, forward=forward)

    def _is_plain(self, train: Train, lane: Lane, nets: Nets) -> bool:
        """Whether a glance shows that one supply feeds all of the lane, with volts to spare."""
        one, most_ohm = None, 0.0
        for route, forward in lane.segments:
            pair = nets.pair(route)
            if pair is None:
                return False
            left, right, ohm = pair
            rails = (left, right) if forward else (right, left)
            if one is None:
                one = rails
            if rails != one:
                return False
            most_ohm = max(most_ohm, ohm)
        if one is None or most_ohm == inf:
            return False
        supply = nets.lone_supply(*one)
        if supply is None:
            return False
        key = id(train), supply, rounded_ohm(most_ohm)
        known = self._spare.get(key)
        if known is None:
            it = self._layout.supplies[supply]
            known = self._spare[key] = has_volts_to_spare(train, it, key[2])
        return known

    def crawl_mm_s(self, train: Train) -> float:
        """5 scale mph, or as slow as a DC throttle still keeps it rolling."""
        wanted = min(CRAWL_MM_S / self._conduct.scale_ratio, train.speed_mm_s)
        slowest = 0.0
        if any(s.kind == "dc" for s in self._layout.supplies):
            for motor in (v.motor for v in train.vehicles if v.motor is not None):
                above = motor.start_voltage_v - motor.turns_down_to_v
                span = motor.at_voltage_v - motor.turns_down_to_v
                slowest = max(slowest, motor.speed_mm_s * above / span)
        return min(max(wanted, slowest), train.speed_mm_s)

    def _told(
        self,
        train: Train,
        lane: Lane,
        cut: Cut,
        played: Played,
        nets: Nets,
        outcome: DriveOutcome,
    ) -> Drive:
        joins = tuple(2 * cut.supplies[p // 2] + p % 2 for p in played.joined)
        if played.segment < 0:
            return Drive(train.name, -1, True, outcome, joins=joins, opposed=cut.opposed)
        at, forward = lane.segments[played.segment]
        n = self._layout.routes[at].length_um
        place_um = played.place_um if forward else n - played.place_um
        sides = [
            tuple(cut.sections[x] for x in side) for unit in played.sections for side in unit
        ]
        under = tuple(dict.fromkeys(x for side in sides for x in side))
        elements = (
            self._bridged(sides, nets)
            if outcome == "shorts"
            else self._before(self._lost(sides, played.side), nets)
        )
        return Drive(
            train.name,
            -1,
            True,
            outcome,
            at,
            round(place_um / 1000, 3),
            played.side if forward else _mirrored(played.side),
            played.kind,
            tuple(elements),
            under,
            joins,
            tuple(cut.supplies[s] for s in played.shorted),
            played.trips,
            cut.opposed,
        )

    def _lost(self, sides: Sequence[tuple[int, ...]], side: StallSide | None) -> list[int]:
        lost = sides[0::2] if side == "left" else sides[1::2] if side == "right" else sides
        return list(dict.fromkeys(x for sections in lost for x in sections))

    def _before(self, sections: Iterable[int], nets: Nets) -> Iterator[int]:
        """Open contacts and gaps around ``sections`` and what is joined to them.

        Rails that a pole is wired to for good are not gone over: they are not dead.
        """
        seen = {n for n in sections if not nets.is_fed_for_good(n)}
        todo = list(seen)
        found: dict[int, None] = {}
        while todo:
            here = todo.pop()
            for e, there in self._beside.get(here, ()):
                if not nets.is_closed(e):
                    found[e] = None
                elif there not in seen and not nets.is_fed_for_good(there):
                    seen.add(there)
                    todo.append(there)
        yield from sorted(found)

    def _bridged(self, sides: Sequence[tuple[int, ...]], nets: Nets) -> Iterator[int]:
        """Gaps and open contacts between sections that one side of a unit joins."""
        found = {
            e
            for side in sides
            for here in side
            for e, there in self._beside.get(here, ())
            if there in side and nets.net(here) != nets.net(there)
        }
        yield from sorted(found)


def _mirrored(side: StallSide | None) -> StallSide | None:
    turned: Mapping[StallSide | None, StallSide] = {"left": "right", "right": "left"}
    return turned.get(side, side)


def _elements_at(layout: Layout) -> dict[int, list[tuple[int, int]]]:
    """By section: the elements at it, each with the section at its other end."""
    found: dict[int, list[tuple[int, int]]] = {}
    for number, e in enumerate(layout.elements):
        found.setdefault(e.a, []).append((number, e.b))
        found.setdefault(e.b, []).append((number, e.a))
    return found
