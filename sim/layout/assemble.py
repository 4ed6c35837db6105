"""Put a scenario and one of its fixes together into a case that can be run.

:func:`survey` goes through everything and lists what is wrong; :func:`assemble`
is the same for callers that want a case or an exception.  All order is the order
of the file: equal scenarios give equal cases.
"""

from __future__ import annotations

from collections.abc import Iterable

from sim.layout.assembly_log import Ledger, Report, matching
from sim.layout.elements import (
    Ohms,
    joint_elements,
    note_joiners,
    piece_elements,
    settle_joints,
    settle_ohms,
)
from sim.layout.fault_rules import Parts, lay_faults
from sim.layout.fixes import changeover_elements, remedied, rewired, warn_of_jumpers
from sim.layout.ground import lay_ground
from sim.layout.joints import join_all, taken_mm, warn_of_fit
from sim.layout.levers import Switches, lay_routes
from sim.layout.model import (
    NOWHERE,
    PLASTIC,
    District,
    Element,
    End,
    Layout,
    Module,
    PlacedPiece,
    Route,
)
from sim.layout.piece_maker import PieceMaker
from sim.layout.sources import (
    Sources,
    bus_elements,
    common_elements,
    feeder_elements,
    jumper_elements,
    lay_districts,
    lay_supplies,
    reverse,
)
from sim.layout.timetable import Timetable, settle_conduct, with_stores
from sim.layout.track_graph import Tracks, reversing_loop
from sim.layout.traffic import Case, Train, Wear
from sim.scenario.document import Scenario
from sim.scenario.fixes import AS_BUILT, FixTable
from sim.scenario.problems import Problem, ScenarioError, fix_prefix, nearest, shown


def assemble(scenario: Scenario, fix: str | None = None) -> Case:
    """The case of ``scenario`` as built (``None`` or ``"as built"``) or with one fix.

    Raises :class:`ScenarioError` with every error found.
    """
    case, problems = survey(scenario, fix)
    if case is None:
        raise ScenarioError(problem for problem in problems if problem.severity == "error")
    return case


def survey(
    scenario: Scenario,
    fix: str | None = None,
    broken: Iterable[str] = (),
    maker: PieceMaker | None = None,
) -> tuple[Case | None, list[Problem]]:
    """The case, or None when there are errors, and all problems.

    ``broken`` names what a reader has put aside already; a ``maker`` given again
    saves making the same pieces for every fix.
    """
    chosen = None if fix in (None, AS_BUILT) else scenario.fix_named(str(fix))
    if chosen is None and fix not in (None, AS_BUILT):
        names = [AS_BUILT, *scenario.fix_names]
        one_of = nearest(str(fix), names) or ": " + ", ".join(map(repr, names))
        return None, [Problem("fix", f"the name of a fix{one_of}", shown(fix))]
    prefix = "" if chosen is None else fix_prefix(chosen.name)
    report = Report(prefix, broken)
    maker = PieceMaker(scenario) if maker is None else maker
    if chosen is None:
        report.problems += maker.problems
    case = _Assembly(scenario, chosen, maker, report).case()
    failed = report.failed or maker.problems
    return (None if failed or report.broken else case), report.problems


class _Assembly:
    """One scenario with one fix on its way to a case."""

    def __init__(
        self, scenario: Scenario, fix: FixTable | None, maker: PieceMaker, report: Report
    ) -> None:
        number = 0 if fix is None else scenario.fix.index(fix)
        self.at = f"fix[{number}]"
        self.scenario = rewired(scenario, fix, f"{self.at}.rewire", report)
        self.fix, self.report = fix, report
        self.ledger = Ledger(scenario.gauge_mm)
        self.ground = lay_ground(scenario, fix, self.at, maker, report)
        self.joints = join_all(scenario, self.ground, report)

    def case(self) -> Case:
        """Everything in the order in which it can be settled."""
        scenario, table, ledger = self.scenario, self.scenario.assumptions, self.ledger
        opens = ledger.pick("contact_opens", table.contact_opens,
                            "a contact that should close stays open")  # fmt: skip
        fails = ledger.pick(
            "lever_fails", table.lever_fails, "a lever does not follow its gang"
        )
        stays = ledger.pick("lever_stays", table.lever_stays,
                            "a lever of its own stays where it was")  # fmt: skip
        ohms = settle_ohms(table, ledger)
        switches = Switches(self.ground, fails, stays, ledger)
        sources = lay_supplies(scenario, self.ground, ledger, self.report)
        elements = self._elements(switches, sources, ohms, opens)
        districts = lay_districts(scenario, self.ground, sources, self.report)
        self._warn(sources, districts)
        routes, firsts = lay_routes(self.ground, switches)
        ends = self._ends()
        self._warn_of_reversing(routes, ends)
        conduct = settle_conduct(scenario, ledger)
        tracks = Tracks(routes, ends, switches.levers)
        timetable = Timetable(scenario, self.ground, switches, routes, firsts, tracks,
                              ledger, self.report)  # fmt: skip
        trains = timetable.trains(scenario.train)
        throws = timetable.throws(scenario.throw, conduct.duration_s)
        if self.fix is not None:
            at = f"{self.at}.energy_store"
            trains = with_stores(trains, self.fix, at, ledger, self.report)
        wear = self._faults(elements, switches, sources, trains)
        layout = self._layout(ohms, elements, sources, districts, switches, routes, ends)
        note_joiners(scenario.joiner, ledger)
        self._note_pieces()
        name = None if self.fix is None else self.fix.name
        return Case(
            scenario.title,
            name,
            layout,
            trains,
            throws,
            conduct,
            ledger.assumptions,
            wear,
            self._kept_live(layout),
        )

    def _kept_live(self, layout: Layout) -> tuple[int, ...]:
        """Sections that the scenario's patterns name, by themselves or by their routes."""
        nodes = {name: n for n, name in enumerate(layout.nodes)}
        routes = {route.id: route for route in layout.routes}
        kept: dict[int, None] = {}
        for number, pattern in enumerate(self.scenario.keep_live):
            found = matching(pattern, [*nodes, *routes])
            if not found and not self.report.broken:
                expected = "a section or route, or a pattern that matches some"
                self.report.error(f"keep_live[{number}]", expected, shown(pattern))
            for name in found:
                spans = routes[name].spans if name in routes else ()
                under = [n for s in spans for n in (s.left, s.right) if n != PLASTIC]
                kept.update(dict.fromkeys([nodes[name]] if name in nodes else under))
        return tuple(kept)

    def _faults(
        self,
        elements: list[Element],
        switches: Switches,
        sources: Sources,
        trains: tuple[Train, ...],
    ) -> tuple[Wear, ...]:
        """The scenario's faults; what a fix solders or cleans is good again."""
        mended: list[str] = []
        for pattern in (*self.fix.solder, *self.fix.clean) if self.fix is not None else ():
            mended += matching(pattern, [e.id for e in elements])
        pieces = [placed.id for placed in self.ground.pieces]
        parts = Parts(elements, switches.levers, sources.supplies, pieces, trains,
                      frozenset(mended))  # fmt: skip
        tired_ohm = self.scenario.assumptions.tired_ohm
        return lay_faults(self.scenario.fault, parts, self.ledger, self.report, tired_ohm)

    def _layout(
        self,
        ohms: Ohms,
        elements: list[Element],
        sources: Sources,
        districts: tuple[District, ...],
        switches: Switches,
        routes: list[Route],
        ends: tuple[End, ...],
    ) -> Layout:
        return Layout(
            nodes=tuple(self.ground.nodes),
            elements=tuple(elements),
            supplies=tuple(sources.supplies),
            districts=districts,
            levers=tuple(switches.levers),
            controls=tuple(switches.controls),
            routes=tuple(routes),
            ends=ends,
            pieces=self._pieces(routes, switches),
            modules=self._modules(),
            pads=tuple((name, node) for name, (node, _) in self.ground.pads.items()),
            rail_ohm_m=ohms.rail_m,
            pickup_ohm=ohms.pickup,
        )

    def _elements(
        self, switches: Switches, sources: Sources, ohms: Ohms, opens: float
    ) -> list[Element]:
        scenario, fix, ground = self.scenario, self.fix, self.ground
        ledger, report, warm = self.ledger, self.report, ohms.wire_celsius
        settings = settle_joints(scenario, fix, self.at, ground, self.joints, ohms, report)
        elements = [
            *piece_elements(ground, switches, ohms, opens, ledger),
            *joint_elements(ground, self.joints, settings),
            *feeder_elements(scenario.feeder, "feeder", ground, sources, warm, ledger, report),
            *bus_elements(scenario, sources, warm, ledger),
            *common_elements(sources, ohms.common),
            *jumper_elements(scenario.jumper, "jumper", 0, ground, warm, ledger, report),
        ]
        if fix is not None:
            elements = remedied(elements, fix, self.at, ohms, ledger, report)
            count = len(scenario.jumper)
            elements += [
                *feeder_elements(fix.feeder, f"{self.at}.feeder", ground, sources, warm,
                                 ledger, report),
                *jumper_elements(fix.jumper, f"{self.at}.jumper", count, ground, warm,
                                 ledger, report),
                *changeover_elements(fix.changeover, f"{self.at}.changeover", ground,
                                     switches, ohms, report),
            ]  # fmt: skip
            reverse(sources, fix.reverse, f"{self.at}.reverse", report)
        self._check_ids(elements)
        return elements

    def _check_ids(self, elements: Iterable[Element]) -> None:
        seen: set[str] = set()
        for element in elements:
            if element.id in seen:
                expected = f"names that give every {element.kind} an id of its own"
                self.report.error(element.kind, expected, f"{element.id!r} twice")
            seen.add(element.id)

    def _warn(self, sources: Sources, districts: tuple[District, ...]) -> None:
        if self.scenario.train and not self.scenario.supply and not self.report.broken:
            self.report.warn("supply", "a supply for the trains", "none: no train will run")
        for number, table in enumerate(self.scenario.supply):
            if table.name not in sources.fed and not self.report.broken:
                expected = "a feeder from every supply"
                found = f"{table.name!r} feeds nothing"
                self.report.warn(f"supply[{number}]", expected, found)
        tables = [("jumper", self.scenario.jumper)]
        if self.fix is not None:
            tables.append((f"{self.at}.jumper", self.fix.jumper))
        for where, jumpers in tables:
            warn_of_jumpers(jumpers, where, self.ground, districts, self.report)

    def _warn_of_reversing(self, routes: list[Route], ends: tuple[End, ...]) -> None:
        if self.fix is not None or self.report.broken:
            return
        around = dict.fromkeys(ends[n].piece for n in reversing_loop(routes, ends))
        if around:
            names = ", ".join(shown(self.ground.pieces[piece].id) for piece in around)
            expected = "track on which the left rail stays the left one"
            found = f"a reversing loop by way of {names}: gap both rails at both its ends"
            self.report.warn("track", expected, found)

    def _ends(self) -> tuple[End, ...]:
        mate = self.joints.mate
        return tuple(
            End(end.id, end.piece, mate.get(number, NOWHERE))
            for number, end in enumerate(self.ground.ends)
        )

    def _pieces(self, routes: list[Route], switches: Switches) -> tuple[PlacedPiece, ...]:
        own_routes: list[list[int]] = [[] for _ in self.ground.pieces]
        own_levers: list[list[int]] = [[] for _ in self.ground.pieces]
        for number, route in enumerate(routes):
            own_routes[route.piece].append(number)
        for number, lever in enumerate(switches.levers):
            own_levers[lever.piece].append(number)
        return tuple(
            PlacedPiece(
                id=placed.id,
                module=self.ground.boards[placed.module].name,
                piece=placed.piece,
                routes=tuple(own_routes[number]),
                ends=tuple(range(placed.first_end, placed.first_end + len(placed.piece.ends))),
                levers=tuple(own_levers[number]),
            )
            for number, placed in enumerate(self.ground.pieces)
        )

    def _modules(self) -> tuple[Module, ...]:
        turned = {name for line in self.scenario.line for name in line.turned}
        modules: list[Module] = []
        within = self.joints.within_boards()
        for number, board in enumerate(self.ground.boards):
            taken = taken_mm(self.ground, board, within[number])
            warn_of_fit(board, taken, f"{board.where}.length_mm", self.report)
            modules.append(
                Module(
                    name=board.name,
                    length_mm=board.table.length_mm,
                    taken_mm=taken,
                    pieces=tuple(board.pieces),
                    turned=board.name in turned,
                )
            )
        return tuple(modules)

    def _note_pieces(self) -> None:
        """Assumptions behind the geometry of pieces, once for each kind."""
        for placed in self.ground.pieces:
            for note in placed.piece.notes:
                self.ledger.note(
                    f"geometry of a {placed.piece.kind}", note, "the piece library"
                )
