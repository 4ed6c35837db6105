"""Judge fixes in every neighbourhood: safe anywhere, or only here."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from sim.analyses.neighbours.board import NEIGHBOURHOODS, Board, Neighbourhood, board_of
from sim.analyses.neighbours.variants import elsewhere, variant
from sim.analyses.neighbours.wirings import wirings
from sim.analyses.search.parts import homes_of
from sim.analyses.search.verify import dead_bits, gang_settings, mixed, stray_settings
from sim.layout.assemble import survey
from sim.layout.traffic import Case
from sim.power.chart import chart
from sim.power.trace import trace
from sim.scenario.document import Scenario
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


HarmKind = Literal[
    "not made",  # the fix cannot be made on this wiring
    "shorts",  # in ``settings`` of ``of``
    "more shorts",  # in ``settings`` more of ``of`` than without the fix
    "joins rails",  # of the loops or supplies ``loops``
    "joins poles",  # both of the supplies ``loops``
    "makes dead",  # ``settings`` more
    "shorts astray",  # in ``settings`` more of ``of`` states with one lever out of its gang
]


@dataclass(frozen=True, slots=True)
class Harm:
    """One harm of a fix among some neighbours, or of the module as it is."""

    kind: HarmKind
    loops: tuple[str, ...] = ()
    settings: int = 0
    of: int = 0


@dataclass(frozen=True, slots=True)
class Verdict:
    """One fix in one neighbourhood, with one wiring of the piece, against doing nothing.

    ``harms`` empty: it is safe there.  ``dead`` settings are left of
    ``dead_before``.  ``standing`` is what is bad there as built and stays so: no fault
    of the fix, but no place to put the module without more ado.
    """

    neighbourhood: str
    wiring: str
    harms: tuple[Harm, ...]
    settings: int
    dead_before: int
    dead: int
    cautions: tuple[Harm, ...] = ()
    standing: tuple[Harm, ...] = ()

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


def judge(
    scenario: Scenario,
    module: str,
    fix: FixTable | None,
    unknown: tuple[str, ...] = (),
    files: tuple[str, ...] = (),
) -> Judged:
    """Judge the part of ``fix`` that lies on ``module`` in every neighbourhood.

    ``unknown`` names parameters of the module's pieces that have not been found
    out: every value of them is tried.  ``files`` describe pieces that may lie there
    instead.  Raises ``ScenarioError`` for a parameter that no piece of the module
    has and for a file that describes none.
    """
    board = board_of(scenario, module)
    verdicts: list[Verdict] = []
    skipped = [n.name for n in NEIGHBOURHOODS if not board.fits(n)]
    for words, wired in wirings(scenario, module, unknown, files):
        here = Board(wired, board.name, board.west, board.east, board.homes)
        places = [place for place in NEIGHBOURHOODS if board.fits(place)]
        verdicts += [_verdict(here, place, words, fix) for place in places]
    return Judged(
        module,
        None if fix is None else fix.name,
        tuple(verdicts),
        () if fix is None else tuple(elsewhere(board, fix)),
        tuple(skipped),
    )


def _verdict(board: Board, place: Neighbourhood, wiring: str, fix: FixTable | None) -> Verdict:
    before = _state(board, place, None)
    after = before if fix is None else _state(board, place, fix)
    if after is None or before is None:
        harms: tuple[Harm, ...] = (Harm("not made"),)
        total = before.settings if before is not None else 0
        dead = before.dead if before is not None else 0
        return Verdict(place.name, wiring, harms, total, dead, dead)
    harms = () if fix is None else tuple(_harms(before, after))
    cautions = []
    if after.astray_short > before.astray_short:
        more = after.astray_short - before.astray_short
        cautions.append(Harm("shorts astray", settings=more, of=after.astray))
    return Verdict(
        place.name,
        wiring,
        harms,
        after.settings,
        before.dead,
        after.dead,
        tuple(cautions),
        tuple(_standing(before, after)),
    )


def _standing(before: State, after: State) -> list[Harm]:
    """What is bad without the fix and with it."""
    found = []
    short = min(before.short, after.short)
    if short:
        found.append(Harm("shorts", settings=short, of=after.settings))
    both = sorted(before.paralleled & after.paralleled)
    rails = sorted((before.joined & after.joined) - set(both))
    found += [Harm("joins rails", pair) for pair in rails]
    return found + [Harm("joins poles", pair) for pair in both]


def _harms(before: State, after: State) -> list[Harm]:
    found = []
    if after.short > before.short:
        more = after.short - before.short
        found.append(Harm("more shorts", settings=more, of=after.settings))
    gone = sorted(after.joined - before.joined)
    found += [Harm("joins rails", pair) for pair in gone]
    both = sorted(after.paralleled - before.paralleled)
    found += [Harm("joins poles", pair) for pair in both]
    if after.dead > before.dead:
        found.append(Harm("makes dead", settings=after.dead - before.dead))
    return found


def _state(board: Board, place: Neighbourhood, fix: FixTable | None) -> State | None:
    scenario = variant(board, place, fix)
    case, _ = survey(scenario, None if fix is None else fix.name)
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
