"""Levers, what a hand moves, and the routes that they set."""

from __future__ import annotations

from sim.layout.assembly_log import YOURS, Ledger, Report
from sim.layout.ground import Ground, Placed
from sim.layout.model import PLASTIC, Control, Lever, Points, Route, Span
from sim.pieces.model import Piece
from sim.pieces.model import Route as PieceRoute
from sim.scenario.problems import nearest, shown


class Switches:
    """Every lever and control of a layout, numbered."""

    def __init__(self, ground: Ground, fails: float, stays: float, ledger: Ledger) -> None:
        self.levers: list[Lever] = []
        self.lever_index: dict[str, int] = {}
        self.controls: list[Control] = []
        self.control_index: dict[str, int] = {}
        self._gang_of: dict[str, str] = {}
        for number, placed in enumerate(ground.pieces):
            self._add_levers(number, placed, fails, stays, ledger)
            self._add_controls(placed)

    def _add_levers(
        self, number: int, placed: Placed, fails: float, stays: float, ledger: Ledger
    ) -> None:
        followers = {
            name for gang in placed.piece.gangs if len(gang.levers) > 1 for name in gang.levers
        }
        for lever in placed.piece.levers:
            name, own = f"{placed.id}/{lever.name}", placed.fails.get(lever.name)
            if own is not None:
                ledger.note(f"lever {name} stays where it was", f"{own:g} per throw", YOURS)
            else:
                own = fails if lever.name in followers else stays
            self.lever_index[name] = len(self.levers)
            rest = lever.positions.index(lever.rest)
            self.levers.append(
                Lever(name, lever.positions, rest, lever.run_through, own, number)
            )

    def _add_controls(self, placed: Placed) -> None:
        in_gang: set[str] = set()
        for gang in placed.piece.gangs:
            in_gang.update(gang.levers)
            self._add_control(f"{placed.id}/{gang.name}",
                              [f"{placed.id}/{name}" for name in gang.levers])  # fmt: skip
        for lever in placed.piece.levers:
            if lever.name not in in_gang:
                self._add_control(f"{placed.id}/{lever.name}", [f"{placed.id}/{lever.name}"])

    def _add_control(self, name: str, lever_names: list[str]) -> None:
        numbers = tuple(self.lever_index[lever] for lever in lever_names)
        first, *others = (self.levers[number].positions for number in numbers)
        positions = tuple(p for p in first if all(p in other for other in others))
        self.control_index[name] = len(self.controls)
        self.controls.append(Control(name, numbers, positions))
        if len(lever_names) > 1:
            self._gang_of.update((lever, name) for lever in lever_names)

    def control_of(self, ref: str, report: Report, where: str) -> int | None:
        """Number of the control ``ref``; None, and a problem, when there is none."""
        number = self.control_index.get(ref)
        if number is None and ref in self._gang_of:
            expected = f"what a hand moves: the gang {self._gang_of[ref]!r}"
            report.error(where, expected, f"{shown(ref)}, which moves with that gang")
        elif number is None:
            what = "a gang, or a lever that is in none, 'module/piece/name'"
            report.unknown(where, what, ref, self.control_index)
        return number

    def check_position(self, control: int, to: str, report: Report, where: str) -> bool:
        """True when the control has that position; a problem otherwise."""
        positions = self.controls[control].positions
        if to not in positions:
            hint = nearest(to, positions) or ": " + ", ".join(map(repr, positions))
            report.error(where, f"a position of {self.controls[control].id!r}{hint}", shown(to))
        return to in positions


def um(length_mm: float) -> int:
    """A length in whole micrometres."""
    return round(length_mm * 1000)


def lay_routes(ground: Ground, switches: Switches) -> tuple[list[Route], list[int]]:
    """Every route of every piece, and the number of each piece's first route."""
    routes: list[Route] = []
    firsts: list[int] = []
    conflicts: dict[int, tuple[tuple[int, ...], ...]] = {}
    for number, placed in enumerate(ground.pieces):
        first = len(routes)
        firsts.append(first)
        key = id(placed.piece)  # pieces are made once and shared, so this finds equals
        if key not in conflicts:
            conflicts[key] = route_conflicts(placed.piece)
        for offset, route in enumerate(placed.piece.routes):
            against = tuple(first + other for other in conflicts[key][offset])
            routes.append(_route(ground, switches, number, route, against))
    return routes, firsts


def _route(
    ground: Ground, switches: Switches, number: int, route: PieceRoute, against: tuple[int, ...]
) -> Route:
    placed = ground.pieces[number]

    def node(section: str | None) -> int:
        return PLASTIC if section is None else ground.node_index[f"{placed.id}/{section}"]

    points = []
    for point in route.points:
        lever = switches.lever_index[f"{placed.id}/{point.lever}"]
        position = switches.levers[lever].positions.index(point.position)
        points.append(Points(lever, position, um(point.tip_mm), um(point.heel_mm)))
    return Route(
        id=f"{placed.id}/{route.name}",
        piece=number,
        start=ground.end_index[f"{placed.id}/{route.start}"],
        finish=ground.end_index[f"{placed.id}/{route.finish}"],
        length_um=um(route.length_mm),
        spans=tuple(
            Span(um(s.from_mm), um(s.to_mm), node(s.left), node(s.right)) for s in route.spans
        ),
        points=tuple(points),
        conflicts=against,
    )


def route_conflicts(piece: Piece) -> tuple[tuple[int, ...], ...]:
    """For each route of ``piece`` the others that cannot be used at the same time.

    They share an end, need a lever in different positions, or cross on the level.
    """
    crossings = {frozenset(pair) for pair in piece.crossings}

    def clash(one: PieceRoute, other: PieceRoute) -> bool:
        if {one.start, one.finish} & {other.start, other.finish}:
            return True
        if frozenset((one.name, other.name)) in crossings:
            return True
        needs = dict(one.needs)
        return any(needs.get(lever, position) != position for lever, position in other.needs)

    return tuple(
        tuple(
            n for n, other in enumerate(piece.routes) if other is not one and clash(one, other)
        )
        for one in piece.routes
    )
