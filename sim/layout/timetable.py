"""Trains on their tracks, their orders, and throws by the clock."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from sim.layout.assembly_log import Ledger, Report
from sim.layout.ground import Ground
from sim.layout.levers import Switches, um
from sim.layout.model import Route
from sim.layout.track_graph import Standing, Tracks
from sim.layout.traffic import Conduct, Order, Throw, Train
from sim.layout.vehicles import make_vehicles, speed_of
from sim.scenario.defaults import COASTING_FROM, PRACTICE
from sim.scenario.document import Scenario
from sim.scenario.fixes import FixTable
from sim.scenario.problems import nearest, shown
from sim.scenario.trains import (
    Circulate,
    Cross,
    OrderTable,
    OrderThrow,
    Run,
    Stop,
    ThrowTable,
    TrainTable,
    Wait,
)

#: More throws than this by one entry are taken for a mistake.
THROWS_AT_MOST = 100_000
#: Run-out of a train that stops dead: too short to measure, and no endless deceleration.
STOPS_DEAD_MM = 0.001


class Timetable:
    """Makes trains and throws out of their tables."""

    def __init__(
        self,
        scenario: Scenario,
        ground: Ground,
        switches: Switches,
        routes: Sequence[Route],
        firsts: Sequence[int],
        tracks: Tracks,
        ledger: Ledger,
        report: Report,
    ) -> None:
        self._ratio = scenario.scale_ratio
        self._ground, self._switches = ground, switches
        self._routes, self._firsts, self._tracks = routes, firsts, tracks
        self._ledger, self._report = ledger, report

    def trains(self, tables: Sequence[TrainTable]) -> tuple[Train, ...]:
        """Every train that has a place to stand."""
        trains: list[tuple[str, Train]] = []
        names: set[str] = set()
        for number, table in enumerate(tables):
            where = f"train[{number}]"
            if table.name in names:
                expected = "a name that no other train has"
                self._report.error(f"{where}.name", expected, shown(table.name))
            names.add(table.name)
            train = self._train(table, where)
            if train is not None:
                trains.append((where, train))
        if not self._report.broken:
            self._check_standing(trains)
        return tuple(train for _, train in trains)

    def _train(self, table: TrainTable, where: str) -> Train | None:
        vehicles = make_vehicles(table, where, self._ratio, self._ledger, self._report)
        place = self._place(table, where)
        orders = tuple(
            order
            for number, entry in enumerate(table.orders)
            if (order := self._order(entry, f"{where}.orders[{number}]", place)) is not None
        )
        speed = speed_of(table.speed, table.speed_mm_s, self._ratio) or 0.0
        what, pick = f"train {table.name}", self._ledger.pick
        coasting_from = speed_of(table.coasting_from, table.coasting_from_mm_s, self._ratio)
        if coasting_from is None:
            coasting_from = speed_of(COASTING_FROM, None, self._ratio) or 0.0
            self._ledger.note(f"{what}: speed that it coasts from", COASTING_FROM, PRACTICE)
        coasting = pick("coasting_mm", table.coasting_mm, f"{what}: coasting")
        if place is None:
            return None
        return Train(
            name=table.name,
            vehicles=vehicles,
            route=place[0],
            place_mm=table.place_mm,
            toward_finish=place[1],
            orders=orders,
            repeat=table.repeat,
            speed_mm_s=speed,
            acceleration_mm_s2=pick(
                "acceleration_mm_s2", table.acceleration_mm_s2, f"{what}: acceleration"
            ),
            braking_mm_s2=pick("braking_mm_s2", table.braking_mm_s2, f"{what}: braking"),
            coasting_mm=max(coasting, STOPS_DEAD_MM),
            coasting_from_mm_s=coasting_from,
            energy_store_s=pick(
                "energy_store_s", table.energy_store_s, f"{what}: energy store"
            ),
            refill_s=pick("refill_s", table.refill_s, f"{what}: refill of the energy store"),
        )

    def _place(self, table: TrainTable, where: str) -> tuple[int, bool] | None:
        """Number of the route it stands on, and whether it faces the route's finish."""
        number = self._ground.piece_of(table.at, self._report, f"{where}.at")
        if number is None:
            return None
        piece = self._ground.pieces[number].piece
        names = [route.name for route in piece.routes]
        if table.route is None and len(names) > 1:
            one_of = ", ".join(map(repr, names))
            self._report.error(f"{where}.route", f"one of the routes {one_of}", "nothing")
            return None
        if table.route is not None and table.route not in names:
            hint = nearest(table.route, names) or ": " + ", ".join(map(repr, names))
            expected = f"a route of {table.at!r}{hint}"
            self._report.error(f"{where}.route", expected, shown(table.route))
            return None
        chosen = 0 if table.route is None else names.index(table.route)
        route = piece.routes[chosen]
        if um(table.place_mm) > um(route.length_mm):
            expected = f"a place on the route, 0 to {route.length_mm:g} mm"
            self._report.error(f"{where}.place_mm", expected, f"{table.place_mm:g}")
            return None
        if table.heading not in (None, route.start, route.finish):
            expected = f"{route.start!r} or {route.finish!r}"
            self._report.error(f"{where}.heading", expected, shown(table.heading))
            return None
        return self._firsts[number] + chosen, table.heading != route.start

    def _order(
        self, entry: OrderTable, where: str, place: tuple[int, bool] | None
    ) -> Order | None:
        if isinstance(entry, Wait):
            return Order("wait", for_s=entry.for_s)
        if isinstance(entry, OrderThrow):
            control = self._switches.control_of(entry.lever, self._report, f"{where}.lever")
            if control is None:
                return None
            at = f"{where}.to"
            if not self._switches.check_position(control, entry.to, self._report, at):
                return None
            return Order("throw", control=control, position=entry.to)
        speed = speed_of(entry.speed, entry.speed_mm_s, self._ratio)
        order = Order(entry.do, speed_mm_s=speed, backward=entry.backward)
        if isinstance(entry, Circulate):
            return replace(order, laps=entry.laps)
        return self._to_piece(entry, order, where, place)

    def _to_piece(
        self,
        entry: Cross | Stop | Run,
        order: Order,
        where: str,
        place: tuple[int, bool] | None,
    ) -> Order | None:
        key = {"cross": "at", "stop": "on", "run": "to"}[entry.do]
        ref: str = getattr(entry, key)
        number = self._ground.piece_of(ref, self._report, f"{where}.{key}")
        if number is None:
            return None
        whole = not self._report.broken
        if whole and place is not None and number not in self._tracks.pieces_reached(place[0]):
            expected = "a piece that the train's track leads to"
            self._report.error(f"{where}.{key}", expected, shown(ref))
        piece = self._ground.pieces[number].piece
        if isinstance(entry, Cross) and not piece.levers:
            expected = "a piece with levers to cross by"
            self._report.error(f"{where}.{key}", expected, f"{ref!r}, a {piece.kind}")
        if not isinstance(entry, Stop):
            return replace(order, piece=number)
        longest = max((route.length_mm for route in piece.routes), default=0.0)
        if entry.place_mm is not None and um(entry.place_mm) > um(longest):
            expected = f"a place on {ref!r}, 0 to {longest:g} mm"
            self._report.error(f"{where}.place_mm", expected, f"{entry.place_mm:g}")
        return replace(order, piece=number, place_mm=entry.place_mm, for_s=entry.for_s)

    def _check_standing(self, trains: Sequence[tuple[str, Train]]) -> None:
        by_piece: dict[int, list[tuple[str, Standing]]] = {}
        for where, train in trains:
            standing = self._tracks.standing(
                train.route, um(train.place_mm), train.toward_finish, um(train.length_mm)
            )
            self._check_alone(where, train, standing)
            pieces = dict.fromkeys(self._routes[s.route].piece for s in standing.stands)
            met: dict[str, None] = {}
            for piece in pieces:
                for name, other in by_piece.get(piece, ()):
                    if self._tracks.overlap(standing, other) is not None:
                        met[name] = None
                by_piece.setdefault(piece, []).append((train.name, standing))
            for name in met:
                found = f"{train.name!r} where {name!r} stands"
                self._report.error(where, "trains clear of each other", found)

    def _check_alone(self, where: str, train: Train, standing: Standing) -> None:
        if standing.off_um:
            expected = f"track under all {train.length_mm:g} mm of the train"
            found = f"{standing.off_um / 1000:g} mm beyond the end of the track"
            self._report.error(where, expected, found)
        lever = self._tracks.wrong_points(standing)
        if lever is not None:
            expected = "points set for the way that the train stands"
            found = f"{self._switches.levers[lever].id!r} set against it"
            self._report.error(where, expected, found)
        # longer by a hair, one that just fills its ring overlaps itself, too
        longer = self._tracks.standing(
            train.route, um(train.place_mm), train.toward_finish, um(train.length_mm) + 1
        )
        if self._tracks.overlaps_itself(longer):
            expected = "a track longer than the train"
            self._report.error(where, expected, f"a train of {train.length_mm:g} mm")

    def throws(self, tables: Sequence[ThrowTable], duration_s: float) -> tuple[Throw, ...]:
        """Every throw by the clock up to ``duration_s``, in order of time."""
        throws: list[Throw] = []
        for number, table in enumerate(tables):
            where = f"throw[{number}]"
            control = self._switches.control_of(table.lever, self._report, f"{where}.lever")
            if control is None:
                continue
            good = [
                self._switches.check_position(control, to, self._report, f"{where}.to")
                for to in table.turns
            ]
            if all(good):
                throws += self._repeated(table, control, duration_s, where)
        return tuple(sorted(throws, key=lambda throw: throw.at_s))

    def _repeated(
        self, table: ThrowTable, control: int, duration_s: float, where: str
    ) -> list[Throw]:
        if table.every_s is None:
            return [Throw(table.at_s, control, table.turns[0])]
        count = max(0, int((duration_s - table.at_s) / table.every_s) + 1)
        if count > THROWS_AT_MOST:
            expected = f"at most {THROWS_AT_MOST} throws"
            self._report.error(f"{where}.every_s", expected, str(count))
            return []
        turns = table.turns
        return [
            Throw(round(table.at_s + n * table.every_s, 6), control, turns[n % len(turns)])
            for n in range(count)
        ]


def with_stores(
    trains: Sequence[Train], fix: FixTable, where: str, ledger: Ledger, report: Report
) -> tuple[Train, ...]:
    """The trains with the energy stores that a fix puts in."""
    stores: dict[str, float] = {}
    names = [train.name for train in trains]
    for number, table in enumerate(fix.energy_store):
        if table.train not in names:
            report.unknown(f"{where}[{number}].train", "a train", table.train, names)
            continue
        stores[table.train] = table.energy_store_s
        text = f"{table.energy_store_s:g} s"
        ledger.note(f"train {table.train}: energy store by {fix.name!r}", text, "yours")
    return tuple(
        replace(train, energy_store_s=stores.get(train.name, train.energy_store_s))
        for train in trains
    )


def settle_conduct(scenario: Scenario, ledger: Ledger) -> Conduct:
    """How the run is conducted."""

    def pick(field: str, what: str) -> float:
        return ledger.pick(field, getattr(scenario.run, field), f"run: {what}")

    return Conduct(
        duration_s=pick("duration_s", "duration"),
        throw_s=pick("throw_s", "time that a lever takes"),
        nudge_after_s=pick("nudge_after_s", "time until a hand nudges"),
        nudge_mm=pick("nudge_mm", "length of a nudge"),
        nudge_speed_mm_s=pick("nudge_speed_mm_s", "speed of a nudge"),
        nudges_at_most=int(
            pick("nudges_at_most", "nudges before the hand pushes until there is supply")
        ),
        headway_mm=pick("headway_mm", "clear length behind a train"),
        scale_ratio=scenario.scale_ratio,
        gauge_mm=scenario.gauge_mm,
    )
