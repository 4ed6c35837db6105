"""Weigh every fix of a scenario, and those that a search finds, side by side."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass

from sim.analyses.handwork.measures import Handwork, handwork
from sim.analyses.neighbours.variants import modules_of
from sim.analyses.neighbours.verdicts import Neighbours
from sim.analyses.search.model import Asked, Found
from sim.analyses.search.parts import homes_of
from sim.analyses.search.seek import seek
from sim.analyses.search.verify import dead_bits, gang_settings, mixed
from sim.analyses.survey.harm import Survey
from sim.analyses.survey.survey import survey
from sim.judge.compare import compare
from sim.judge.comparison import Comparison
from sim.judge.criteria import (
    Stalled,
    Values,
    Weighed,
    Weighing,
    beaten_by,
    notes_on,
    scores,
    stalled_legs,
    words_of,
)
from sim.layout.project import Project
from sim.layout.traffic import Case
from sim.power.trace import trace
from sim.scenario.fixes import AS_BUILT, FixTable

Progress = Callable[[int, int], None]


@dataclass(frozen=True, slots=True)
class _Entry:
    """A fix, or the layout as built (None), with all that its values come from."""

    name: str
    fix: FixTable | None
    case: Case
    faults: Survey
    stalled: Stalled
    trips: float  #: a run
    work: Handwork


def weigh(
    project: Project,
    runs: int = 12,
    seed: int = 1,
    workers: int = 1,
    asked: Asked | None = None,
    found_at_most: int = 4,
    weights: Mapping[str, float] | None = None,
    progress: Progress | None = None,
) -> Weighing:
    """As built, every fix of ``project``, and with ``asked`` the first found ones.

    Raises ``ScenarioError`` where a fix cannot be built.
    """
    extra, notes = _sought(project, asked, found_at_most)
    every = project.with_fixes(extra)
    fixes: list[FixTable | None] = [None, *every.scenario.fix]
    results = compare(every, runs, seed, workers, progress=progress)
    entries = _entries(fixes, every.cases(), results)
    notes += dict.fromkeys(note for entry in entries for note in entry.faults.skipped)
    notes += notes_on([e.name for e in entries], [e.stalled for e in entries])
    neighbours = Neighbours(every)
    values = [_values(neighbours, entry, entries[0].faults) for entry in entries]
    rows = _rows(entries, values, {fix.name for fix in extra}, weights or {})
    return Weighing(
        project.scenario.title,
        results.seed,
        results.runs,
        tuple(rows),
        tuple((weights or {}).items()),
        results.assumptions,
        tuple(notes),
    )


def _sought(
    project: Project, asked: Asked | None, most: int
) -> tuple[list[FixTable], list[str]]:
    """The first found fixes, one way after the other, and what is to be said of them."""
    if asked is None:
        return [], []
    result = seek(project, asked)
    extra = [fix for one in result.sets for fix in one.fixes][:most]
    return extra, _search_notes(result, extra)


def _search_notes(result: Found, extra: Sequence[FixTable]) -> list[str]:
    total = sum(len(one.fixes) for one in result.sets)
    if result.size is None:
        return ["the search found no set of changes that meets its demands"]
    if result.size == 0:
        return ["the search found nothing that needs to be changed"]
    if total > len(extra):
        return [f"the search found {total} fixes, of which the first {len(extra)} are shown"]
    return []


def _entries(
    fixes: Sequence[FixTable | None], cases: Sequence[Case], results: Comparison
) -> list[_Entry]:
    stalls = stalled_legs(results.cases)
    return [
        _Entry(
            AS_BUILT if fix is None else fix.name,
            fix,
            case,
            survey(case),
            stalled,
            round(ran.trips / results.runs, 3),
            handwork(case.layout, fix),
        )
        for fix, case, ran, stalled in zip(fixes, cases, results.cases, stalls, strict=True)
    ]


def _values(neighbours: Neighbours, entry: _Entry, built: Survey) -> Values:
    """One value for each criterion, in their order; ``built``: the faults as built."""
    case, faults, work = entry.case, entry.faults, entry.work
    settings = gang_settings(case)
    homes = homes_of(case.layout)
    traced = trace(case.layout, settings)
    dead = dead_bits(traced, homes).bit_count()
    short = traced.short_bits().bit_count()
    shorted = {harm.id for harm in built.single if harm.short}
    fine = 0 if dead or short else sum(not harm.harms for harm in faults.single)
    return (
        float(dead),
        float(short),
        float(len({join.districts for join in mixed(case, homes)})),
        float(fine),
        float(sum(1 for harm in faults.single if harm.short and harm.id not in shorted)),
        entry.stalled.rate,
        entry.trips,
        work.board_spare_mm,
        float(work.joints),
        float(work.holes),
        float(work.cuts),
        float(len(work.opened)),
        float(len(work.held_down)),
        float(len(work.replaced)),
        round(work.wire_mm, 3),
        work.spare_mm,
        float(_harmful(neighbours, entry.fix)),
    )


def _harmful(neighbours: Neighbours, fix: FixTable | None) -> int:
    """Kinds of neighbours among which the fix does harm on any of its modules."""
    if fix is None:
        return 0
    harmful = {
        verdict.neighbourhood
        for module in modules_of(neighbours.project.scenario, fix)
        for verdict in neighbours.judge(module, fix).verdicts
        if not verdict.safe
    }
    return len(harmful)


def _rows(
    entries: Sequence[_Entry],
    values: Sequence[Values],
    found: set[str],
    weights: Mapping[str, float],
) -> list[Weighed]:
    names = [entry.name for entry in entries]
    beaten = beaten_by(values)
    given = scores(values, weights) if weights else [None] * len(names)
    free = [k for k, by in enumerate(beaten) if by is None]
    rows = []
    for k, entry in enumerate(entries):
        by = beaten[k]
        rows.append(
            Weighed(
                entry.name,
                "" if entry.fix is None else entry.fix.note,
                entry.name in found,
                tuple(values[k]),
                len(entry.faults.single),
                entry.stalled.low,
                entry.stalled.high,
                entry.work,
                None if by is None else names[by],
                tuple(words_of(names, values, k, free, entry.work)),
                given[k],
            )
        )
    return rows
