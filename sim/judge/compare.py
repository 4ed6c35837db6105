"""As built and every fix, on the same luck."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from sim.judge import stats
from sim.judge.comparison import (
    AS_BUILT,
    CaseResult,
    Comparison,
    Difference,
    Joint,
    LeverByLever,
    Settings,
)
from sim.judge.replicate import Progress, Run, Survey, Work, replicate
from sim.judge.tally import Tally, by_piece, by_section, replication_seed
from sim.layout.traffic import Assumption, Case
from sim.records.model import Record

if TYPE_CHECKING:
    from sim.layout.project import Project


def compare(
    project: Project,
    runs: int,
    seed: int,
    workers: int = 1,
    each: bool = False,
    progress: Progress | None = None,
) -> Comparison:
    """As built and every fix of ``project``, ``runs`` replications each.

    ``each`` charts every lever alone, not by gangs.  ``progress`` is called with
    (jobs done, jobs in all).  Raises ``ScenarioError`` where a fix cannot be
    built.
    """
    cases, notes = project.cases(), ["", *(fix.note for fix in project.scenario.fix)]
    survey = survey_each if each else survey_gangs
    return compare_cases(cases, notes, runs, seed, workers, progress, run_case, survey)


def compare_cases(
    cases: Sequence[Case],
    notes: Sequence[str],
    runs: int,
    seed: int,
    workers: int,
    progress: Progress | None,
    run: Run,
    survey: Survey,
) -> Comparison:
    """Compare ready cases; the first is as built. ``run`` and ``survey`` do the work."""
    seeds = tuple(replication_seed(seed, k) for k in range(runs))
    results = replicate(Work(tuple(cases), seeds, run, survey), workers, progress)
    return summarise(cases, notes, results.tallies, results.settings, seeds, seed)


def summarise(
    cases: Sequence[Case],
    notes: Sequence[str],
    results: Sequence[Sequence[Tally]],
    settings: Sequence[Settings],
    seeds: Sequence[int],
    seed: int,
) -> Comparison:
    """What the runs of ready cases come to; the first case is as built.

    ``results`` are each case's tallies in order of replication, or just one where
    nothing in the case is random; ``seeds`` those of the replications.
    """
    made = max(len(t) for t in results)
    tallies = [t if len(t) == made else [*t] * made for t in results]
    summed = tuple(
        _case(case, note, one, counted)
        for case, note, one, counted in zip(cases, notes, tallies, settings, strict=True)
    )
    return Comparison(
        scenario=cases[0].scenario,
        seed=seed,
        runs=made,
        seeds=tuple(seeds[:made]),
        duration_s=cases[0].conduct.duration_s,
        cases=summed,
        differences=tuple(
            _difference(case.name, tallies[0], one)
            for case, one in zip(summed[1:], tallies[1:], strict=True)
        ),
        assumptions=_assumptions(cases),
    )


def run_case(case: Case, seed: int) -> Record:
    """One run, without the motions that only a picture needs."""
    from sim.run.run import run

    return run(case, seed)


def survey_gangs(case: Case) -> Settings:
    """Count settings of the gangs."""
    return _survey(case, False)


def survey_each(case: Case) -> Settings:
    """Count settings of every lever alone."""
    return _survey(case, True)


def _survey(case: Case, each: bool) -> Settings:
    from sim.power.chart import chart
    from sim.power.districts import joined_districts

    found = chart(case, each)
    joined = {
        Joint(tuple(j.poles), j.how) for setting in found.settings for j in setting.joined
    }
    return Settings(
        total=len(found.settings),
        dead=sum(s.dead for s in found.settings),
        short=sum(s.short for s in found.settings),
        joined=tuple(sorted(joined)),
        skipped=found.skipped,
        each=None if each else _lever_by_lever(case),
        districts=tuple(dict.fromkeys(j.districts for j in joined_districts(case))),
    )


def _lever_by_lever(case: Case) -> LeverByLever | None:
    """Counts with every lever by itself; None where no gang has two, or they are too many."""
    from sim.power.chart import LIMIT, count

    if all(len(c.levers) == 1 for c in case.layout.controls):
        return None
    found = count(case, each=True)
    if found.total > LIMIT:
        return None
    return LeverByLever(found.total, found.dead, found.short)


def _case(case: Case, note: str, tallies: Sequence[Tally], settings: Settings) -> CaseResult:
    legs = sum(t.legs for t in tallies)
    stalled = sum(len(t.stalled) for t in tallies)
    chance = any(t.random for t in tallies)
    interval = None
    if chance:
        interval = stats.rate([len(t.stalled) for t in tallies], [t.legs for t in tallies])
    return CaseResult(
        name=case.fix if case.fix is not None else AS_BUILT,
        note=note,
        random=chance,
        legs=legs,
        stalled_legs=stalled,
        passes=sum(t.passes for t in tallies),
        stalled_passes=sum(t.stalled_passes for t in tallies),
        stalls=sum(t.stall_count for t in tallies),
        hesitations=sum(t.hesitations for t in tallies),
        trips=sum(t.trips for t in tallies),
        derailments=sum(t.derailments for t in tallies),
        run_throughs=sum(t.run_throughs for t in tallies),
        stall_rate=stalled / legs if legs else None,
        low=interval.low if interval else None,
        high=interval.high if interval else None,
        by_section=by_section(tallies),
        by_piece=by_piece(tallies),
        settings=settings,
    )


def _difference(name: str, before: Sequence[Tally], after: Sequence[Tally]) -> Difference:
    removed = [a.stall_count - b.stall_count for a, b in zip(before, after, strict=True)]
    chance = any(t.random for t in (*before, *after))
    paired = stats.paired_mean(removed) if chance else None
    interval = paired.interval if paired else None
    cured = sum(
        len(set(a.stalled) - set(b.stalled)) for a, b in zip(before, after, strict=True)
    )
    harmed = sum(
        len(set(b.stalled) - set(a.stalled)) for a, b in zip(before, after, strict=True)
    )
    bad = [(a.stall_count > 0, b.stall_count > 0) for a, b in zip(before, after, strict=True)]
    runs_cured = sum(a and not b for a, b in bad)
    runs_harmed = sum(b and not a for a, b in bad)
    return Difference(
        fix=name,
        stalls_removed=round(sum(removed) / len(removed), stats.DIGITS),
        low=interval.low if interval else None,
        high=interval.high if interval else None,
        p_value=paired.p_value if paired else None,
        exact=paired.exact if paired else True,
        legs_cured=cured,
        legs_harmed=harmed,
        runs_cured=runs_cured,
        runs_harmed=runs_harmed,
        runs_p_value=stats.mcnemar(runs_cured, runs_harmed) if paired else None,
    )


def _assumptions(cases: Sequence[Case]) -> tuple[Assumption, ...]:
    """Those of all cases, each once, in order of first mention."""
    return tuple(dict.fromkeys(a for case in cases for a in case.assumptions))
