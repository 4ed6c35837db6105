"""What is driven over again where something has changed, and nothing else.

The ways of one setting are worked out as they are asked for.  In another setting,
or with a fault, only those are looked at again whose lane or nets have changed: an
index tells which ways hang on a lever, and which lead over a route.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field, replace

from sim.drive.drive import Drive, Drives
from sim.drive.nets import Nets
from sim.layout.model import PLASTIC, Layout
from sim.layout.traffic import Train

Positions = tuple[int, ...]

#: (train, route, toward its finish); of trains that are alike the first stands for all.
Going = tuple[int, int, bool]


@dataclass(frozen=True, slots=True)
class Way:
    """What comes of one going; None where it is not driven.

    ``routes`` are those of its lane, ``levers`` those that decide on it.
    """

    drive: Drive | None
    routes: frozenset[int]
    levers: frozenset[int]


class Driver:
    """Makes ways of the goings of one case, stands of the trains counted in."""

    def __init__(
        self,
        layout: Layout,
        drives: Drives,
        trains: Sequence[Train],
        stands: dict[Going, tuple[int, ...]],
    ) -> None:
        self.layout, self.drives, self._trains, self._stands = layout, drives, trains, stands
        self._levers = [frozenset(p.lever for p in r.points) for r in layout.routes]
        kinds: dict[Train, int] = {}
        self._kind = [kinds.setdefault(_nameless(t), n) for n, t in enumerate(trains)]
        self._length_um = [round(t.length_mm * 1000) for t in trains]

    def stand_in(self, going: Going) -> Going:
        """The going of the first train that is alike and stands nowhere on that route."""
        if going in self._stands:
            return going
        same = self._kind[going[0]], going[1], going[2]
        return going if same in self._stands else same

    def levers(self, route: int) -> frozenset[int]:
        """Levers of the points of a route."""
        return self._levers[route]

    def name(self, going: Going) -> str:
        """What the train is called."""
        return self._trains[going[0]].name

    def way(self, going: Going, nets: Nets, is_driven: bool) -> Way:
        """What comes of ``going`` in the setting of ``nets``."""
        train, route, forward = going
        if not is_driven:
            return Way(None, frozenset(), self._levers[route])
        lane = self.drives.lanes.find(route, forward, nets.positions, self._length_um[train])
        if not lane.segments:
            return Way(None, frozenset((route,)), lane.levers)
        stands = self._stands.get(going, ())
        drive = self.drives.along(self._trains[train], lane, nets, stands)
        return Way(drive, frozenset(r for r, _ in lane.segments), lane.levers)


def _nameless(train: Train) -> Train:
    return replace(
        train, name="", route=0, place_mm=0.0, toward_finish=True, orders=(), repeat=False
    )


@dataclass(slots=True)
class Ground:
    """The ways of one setting with everything sound, found as they are asked for."""

    driver: Driver
    nets: Nets
    shut_in: frozenset[int]
    ways: dict[Going, Way] = field(default_factory=dict)
    by_lever: dict[int, list[Going]] = field(default_factory=dict)
    by_route: dict[int, list[Going]] = field(default_factory=dict)
    by_own_route: dict[int, list[Going]] = field(default_factory=dict)

    def way(self, going: Going) -> Way:
        """What comes of a going here."""
        known = self.ways.get(going)
        if known is None:
            route = going[1]
            is_set = self.driver.drives.lanes.is_set(route, self.nets.positions)
            driven = route not in self.shut_in and is_set
            known = self.ways[going] = self.driver.way(going, self.nets, driven)
            for lever in known.levers:
                self.by_lever.setdefault(lever, []).append(going)
            for passed in known.routes:
                self.by_route.setdefault(passed, []).append(going)
            self.by_own_route.setdefault(route, []).append(going)
        return known


@dataclass(slots=True)
class State:
    """The ways of one setting, or of one with faults: the ground's, but for ``other``."""

    ground: Ground
    nets: Nets
    shut_in: frozenset[int]
    other: dict[Going, Way] = field(default_factory=dict)

    def way(self, going: Going) -> Way:
        """What comes of a going here."""
        found = self.other.get(going)
        return self.ground.way(going) if found is None else found

    def moved(self, nets: Nets, shut_in: frozenset[int], changed: set[int] | None) -> State:
        """The ways once nets, levers and what is shut in are others.

        ``changed`` are the routes whose rails belong to other nets than before, or
        lie behind other ohms; None stands for all of them.
        """
        ground = self.ground
        pairs = enumerate(zip(self.nets.positions, nets.positions, strict=True))
        levers = {n for n, (before, now) in pairs if before != now}
        shut = self.shut_in ^ shut_in
        again: Iterable[Going]
        if changed is None:
            again = {**ground.ways, **self.other}
        else:
            again = self._touched(levers, changed, shut)
        other = dict(self.other)
        is_set, driver = ground.driver.drives.lanes.is_set, ground.driver
        for going in again:
            driven = going[1] not in shut_in and is_set(going[1], nets.positions)
            other[going] = driver.way(going, nets, driven)
        return State(ground, nets, shut_in, other)

    def _touched(self, levers: set[int], routes: set[int], shut: frozenset[int]) -> set[Going]:
        ground, other = self.ground, self.other
        found = {g for n in levers for g in ground.by_lever.get(n, ()) if g not in other}
        found |= {g for r in routes for g in ground.by_route.get(r, ()) if g not in other}
        found |= {g for r in shut for g in ground.by_own_route.get(r, ())}
        found |= {
            going
            for going, way in other.items()
            if not (levers.isdisjoint(way.levers) and routes.isdisjoint(way.routes))
        }
        return found


class RoutesOf:
    """Which routes lie on a section, and which have other nets in one setting than another."""

    def __init__(self, layout: Layout) -> None:
        self._on: list[list[int]] = [[] for _ in layout.nodes]
        for number, route in enumerate(layout.routes):
            sides = {n for span in route.spans for n in (span.left, span.right)}
            for node in sides - {PLASTIC}:
                self._on[node].append(number)

    def over(self, nodes: Iterable[int]) -> set[int]:
        """Routes that any of ``nodes`` is part of."""
        return {route for node in nodes for route in self._on[node]}

    def changed(self, before: Nets, now: Nets) -> set[int] | None:
        """Routes whose nets or ohms differ, and around which contacts do; None for all."""
        if before.net_of_pole != now.net_of_pole:
            return None
        old, new = before.made_by, now.made_by
        if old.metal is new.metal:
            patches = new.patches_between(before.positions, now.positions)
            return self.over(new.metal.members(patches | old.concerned() | new.concerned()))
        return self.over(self._other_nodes(before, now))

    def _other_nodes(self, before: Nets, now: Nets) -> set[int]:
        """Where permanent metal has failed: sections are compared one by one.

        Where they are dead, or fed through contacts, what is told of them may hang on
        any part of the same metal.
        """
        new = now.made_by
        elements = (new.layout.elements[e] for e in new.failed | new.welded)
        ends = [n for e in elements for n in (e.a, e.b)]
        patches = new.patches_between(before.positions, now.positions) | new.concerned()
        found = new.metal.members(patches)
        found |= new.metal.around(ends) | before.made_by.metal.around(ends)
        found.update(
            n
            for n in range(len(self._on))
            if before.net(n) != now.net(n) or before.ohm(n) != now.ohm(n)
        )
        return found
