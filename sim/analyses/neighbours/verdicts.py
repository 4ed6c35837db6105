"""Judge fixes in every neighbourhood: safe anywhere, or only here."""

from __future__ import annotations

from dataclasses import dataclass, replace

from sim.analyses.neighbours.board import NEIGHBOURHOODS, Board, Neighbourhood, board_of
from sim.analyses.neighbours.variants import elsewhere, localised, variant
from sim.analyses.neighbours.wirings import wirings
from sim.analyses.search.parts import homes_of
from sim.analyses.search.verify import dead_bits, gang_settings, mixed, stray_settings
from sim.layout.project import Project
from sim.layout.traffic import Case
from sim.power.chart import chart
from sim.power.trace import trace
from sim.scenario.fixes import FixTable


@dataclass(frozen=True, slots=True)
class State:
    """What a module comes to in one neighbourhood, over all settings of its gangs."""

    settings: int
    dead: int
    short: int
    joined: frozenset[tuple[str, ...]]  #: districts that rails or wires make one
    paralleled: frozenset[tuple[str, ...]]  #: supplies joined by both poles
    astray: int  #: settings with one lever not following its gang
    astray_short: int  #: of these, shorted


@dataclass(frozen=True, slots=True)
class Verdict:
    """One fix in one neighbourhood, with one wiring of the piece, against doing nothing.

    ``harms`` are sentences; empty: it is safe there.  ``dead`` settings are left of
    ``dead_before``.  ``standing`` is what is bad there as built and stays so: no fault
    of the fix, but no place to put the module without more ado.
    """

    neighbourhood: str
    wiring: str
    harms: tuple[str, ...]
    settings: int
    dead_before: int
    dead: int
    cautions: tuple[str, ...] = ()
    standing: tuple[str, ...] = ()

    @property
    def safe(self) -> bool:
        """Whether it harms nothing there."""
        return not self.harms


@dataclass(frozen=True, slots=True)
class Judged:
    """One fix of one module in all neighbourhoods. ``fix`` is None for doing nothing.

    ``elsewhere`` is what the fix does that does not travel with the module.
    """

    module: str
    fix: str | None
    verdicts: tuple[Verdict, ...]
    elsewhere: tuple[str, ...]
    skipped: tuple[str, ...]

    @property
    def anywhere(self) -> bool:
        """Safe in every neighbourhood and with every possible wiring."""
        return all(v.safe for v in self.verdicts)


@dataclass(frozen=True, slots=True)
class _Standing:
    """A module, wired in one way, in one neighbourhood, with nothing changed on it."""

    board: Board
    place: Neighbourhood
    wiring: str
    project: Project
    state: State | None

    def with_fix(self, fix: FixTable) -> State | None:
        """What it comes to with its part of a fix."""
        own = localised(self.board, self.place, fix)
        return _state(self.project.with_fixes([own]), own.name)


class Neighbours:
    """The modules of a project among all neighbours.

    What does not hang on a fix is put together once, however many fixes are judged.
    """

    def __init__(self, project: Project) -> None:
        self.project = project
        self._boards: dict[str, Board] = {}
        self._standing: dict[tuple[object, ...], list[_Standing]] = {}

    def board(self, module: str) -> Board:
        """The module as its own scenario has it. ``module`` must exist there."""
        if module not in self._boards:
            self._boards[module] = board_of(self.project, module)
        return self._boards[module]

    def judge(
        self,
        module: str,
        fix: FixTable | None,
        unknown: tuple[str, ...] = (),
        files: tuple[str, ...] = (),
    ) -> Judged:
        """Judge the part of ``fix`` that lies on ``module`` in every neighbourhood.

        ``unknown`` names parameters of the module's pieces that have not been found
        out: every value of them is tried.  ``files`` describe pieces that may lie
        there instead.  Raises ``ScenarioError`` for a parameter that no piece of the
        module has and for a file that describes none.
        """
        board = self.board(module)
        return Judged(
            module,
            None if fix is None else fix.name,
            tuple(_verdict(one, fix) for one in self._stand(board, unknown, files)),
            () if fix is None else tuple(elsewhere(board, fix)),
            tuple(n.name for n in NEIGHBOURHOODS if not board.fits(n)),
        )

    def _stand(
        self, board: Board, unknown: tuple[str, ...], files: tuple[str, ...]
    ) -> list[_Standing]:
        """The module with every possible wiring, in every neighbourhood that it fits."""
        key = board.name, unknown, files
        if key not in self._standing:
            places = [place for place in NEIGHBOURHOODS if board.fits(place)]
            wired = wirings(self.project.scenario, board.name, unknown, files)
            boards = [(words, replace(board, scenario=made)) for words, made in wired]
            self._standing[key] = [
                _standing_at(here, place, words) for words, here in boards for place in places
            ]
        return self._standing[key]


def _standing_at(board: Board, place: Neighbourhood, wiring: str) -> _Standing:
    project = Project(variant(board, place))
    return _Standing(board, place, wiring, project, _state(project))


def _verdict(standing: _Standing, fix: FixTable | None) -> Verdict:
    place, wiring, before = standing.place, standing.wiring, standing.state
    after = before if fix is None else standing.with_fix(fix)
    if after is None or before is None:
        harms: tuple[str, ...] = ("the fix cannot be made on this wiring",)
        total = before.settings if before is not None else 0
        dead = before.dead if before is not None else 0
        return Verdict(place.name, wiring, harms, total, dead, dead)
    harms = () if fix is None else tuple(_harms(before, after))
    cautions = []
    if after.astray_short > before.astray_short:
        more = after.astray_short - before.astray_short
        cautions.append(
            f"shorts in {more} more of the {after.astray} states in which one lever does not "
            "follow its gang"
        )
    return Verdict(
        place.name,
        wiring,
        harms,
        after.settings,
        before.dead,
        after.dead,
        tuple(cautions),
        tuple(_bad_anyway(before, after)),
    )


def _bad_anyway(before: State, after: State) -> list[str]:
    """What is bad without the fix and with it."""
    found = []
    short = min(before.short, after.short)
    if short:
        found.append(f"shorts in {short} of {after.settings} settings")
    both = sorted(before.paralleled & after.paralleled)
    rails = sorted((before.joined & after.joined) - set(both))
    found += [f"joins the rails of {' and '.join(pair)}" for pair in rails]
    return found + [f"joins {' and '.join(pair)} by both poles" for pair in both]


def _harms(before: State, after: State) -> list[str]:
    found = []
    if after.short > before.short:
        more = after.short - before.short
        found.append(f"shorts in {more} more of {after.settings} settings")
    gone = sorted(after.joined - before.joined)
    found += [f"joins the rails of {' and '.join(pair)}" for pair in gone]
    both = sorted(after.paralleled - before.paralleled)
    found += [f"joins {' and '.join(pair)} by both poles" for pair in both]
    if after.dead > before.dead:
        found.append(f"makes {after.dead - before.dead} more settings dead")
    return found


def _state(project: Project, fix: str | None = None) -> State | None:
    case = project.case_or_none(fix)
    return None if case is None else state_of(case)


def state_of(case: Case) -> State:
    """Dead and shorted settings of the gangs, and what has become one."""
    settings = gang_settings(case)
    homes = homes_of(case.layout)
    traced = trace(case.layout, settings)
    supply_of = {d.name: case.layout.supplies[d.supply].name for d in case.layout.districts}
    joined = {
        tuple(sorted({supply_of.get(name, name) for name in join.districts}))
        for join in mixed(case, homes)
    }
    both = {
        tuple(sorted({pole[:-1] for pole in pair.poles}))
        for setting in chart(case).settings
        for pair in setting.joined
        if pair.how in ("paralleled", "opposed")
    }
    strayed = stray_settings(case.layout, settings)
    return State(
        len(settings),
        dead_bits(traced, homes).bit_count(),
        traced.short_bits().bit_count(),
        frozenset(pair for pair in joined if len(pair) > 1),
        frozenset(both),
        len(strayed),
        trace(case.layout, strayed).short_bits().bit_count() if strayed else 0,
    )
