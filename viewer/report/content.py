"""What a report says: everything worked out, nothing laid out."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, replace

from sim.judge.compare import compare_cases, run_case, survey_each, survey_gangs
from sim.judge.comparison import CaseResult, Comparison, Settings
from sim.judge.verdict import LEGS_KEPT, count, section_named, verdict
from sim.layout.model import Layout
from sim.layout.project import Project
from sim.layout.traffic import Case
from sim.pages.words import percent
from sim.records.model import Record, Stall
from sim.run.run import run
from sim.scenario.document import Scenario

Progress = Callable[[int, int], None]

#: Stalls are drawn for so many sections at most, those with most stalls first.
GUILTY_AT_MOST = 6
#: Runs whose stalls are marked along the track.
RUNS_MARKED = 12


@dataclass(frozen=True, slots=True)
class Place:
    """Stalls at one place of one route, as built."""

    route: str
    place_mm: float
    count: int
    section: str


@dataclass(frozen=True, slots=True)
class Guilty:
    """A stall that stands for all on its section, and the run that it is from."""

    stall: Stall
    seed: int
    count: int
    record: Record


@dataclass(frozen=True, slots=True)
class Swing:
    """How stalls change when one assumed probability is another."""

    what: str
    value: str
    stalls: tuple[int, ...]  #: by case


@dataclass(frozen=True, slots=True)
class Content:
    """All that the page shows."""

    scenario: Scenario
    cases: tuple[Case, ...]
    comparison: Comparison
    headline: tuple[str, ...]
    best: int | None  #: number of the best fix, from 0
    verdicts: tuple[tuple[str, ...], ...]
    places: tuple[Place, ...]
    guilty: tuple[Guilty, ...]
    swings: tuple[Swing, ...]
    swung: tuple[str, ...]  #: the cases in them
    runs_marked: int
    command: str


def gather(
    project: Project, runs: int, seed: int, workers: int, each: bool, command: str,
    progress: Progress | None = None,
) -> Content:  # fmt: skip
    """Compare, look for what is guilty, and try other assumptions."""
    scenario, cases = project.scenario, project.cases()
    notes = ["", *(fix.note for fix in scenario.fix)]
    survey = survey_each if each else survey_gangs
    found = compare_cases(cases, notes, runs, seed, workers, progress, run_case, survey)
    best = best_fix(found)
    shown = (0,) if best is None else (0, best + 1)
    records = [(s, run(cases[0], s, motions=True)) for s in found.seeds[:RUNS_MARKED]]
    return Content(
        scenario,
        cases,
        found,
        headline(found, best),
        best,
        tuple(verdict(found, k) for k in range(len(found.differences))),
        tuple(places_of(r for _, r in records)),
        tuple(guilty_of(records)),
        tuple(swings(cases, found, shown, runs, seed, workers)),
        tuple(found.cases[k].name for k in shown),
        len(records),
        command,
    )


def best_fix(found: Comparison) -> int | None:
    """The fix with the fewest stalls, then shorts, dead settings, trips; None if none helps.

    One that shorts in more settings than as built, or with which trains stand about so
    that few legs are run, is none to call best: what stands still does not stall.
    """
    built = found.as_built

    def rank(case: CaseResult) -> tuple[int, int, int, int]:
        return case.stalls, case.settings.short, case.settings.dead, case.trips

    sound = [k for k in range(1, len(found.cases)) if not _halts(built, found.cases[k])]
    ranked = sorted(sound, key=lambda k: (rank(found.cases[k]), k))
    if not ranked or rank(found.cases[ranked[0]]) >= rank(built):
        return None
    return ranked[0] - 1


def _halts(built: CaseResult, case: CaseResult) -> bool:
    return case.settings.short > built.settings.short or case.legs < LEGS_KEPT * built.legs


def headline(found: Comparison, best: int | None) -> tuple[str, ...]:
    """The verdict in plain words: what happens as built, where, and what is best."""
    built = found.as_built
    runs = "one run" if found.runs == 1 else f"{found.runs} runs"
    if built.stalls == 0:
        trips = f", but supplies trip {count(built.trips, 'time')}" if built.trips else ""
        said = [f"Nothing stalls as built, in {runs}{trips}."]
    else:
        said = [
            f"As built, {built.stalled_legs} of {count(built.legs, 'leg')} stall "
            f"({percent(built.stall_rate)}), in {runs}."
        ]
        worst = built.by_section[0]
        said.append(
            f"Most stalls, {worst.stalls} of {built.stalls}, are on "
            f"{section_named(worst.section)}: {worst.kind}."
        )
    if best is None:
        said.append(_no_best(found))
        return tuple(said)
    name = found.cases[best + 1].name
    said.append(f"The best of the fixes compared is '{name}'.")
    said += verdict(found, best)
    return tuple(said)


def _no_best(found: Comparison) -> str:
    if len(found.cases) == 1:
        return "The scenario states no fix to compare with."
    if found.as_built.stalls == found.as_built.trips == 0:
        return "None of the fixes is needed for this timetable."
    if any(c.stalls < found.as_built.stalls for c in found.cases[1:]):
        return (
            "Fixes that take stalls away short new settings or halt the trains: none is best."
        )
    return "None of the fixes compared makes it better."


def places_of(records: Iterable[Record]) -> list[Place]:
    """Where trains stood, places within 10 mm of a route made one."""
    counts: Counter[tuple[str, int, str]] = Counter()
    for record in records:
        for s in record.stalls:
            counts[s.route, round(s.place_mm / 10.0), s.section] += 1
    return [
        Place(route, place * 10.0, number, section)
        for (route, place, section), number in sorted(counts.items())
    ]


def guilty_of(records: Sequence[tuple[int, Record]]) -> list[Guilty]:
    """The first stall on each section, sections with most stalls first."""
    counts: Counter[str] = Counter()
    first: dict[str, tuple[Stall, int, Record]] = {}
    for seed, record in records:
        for stall in record.stalls:
            counts[stall.section] += 1
            first.setdefault(stall.section, (stall, seed, record))
    ordered = sorted(first, key=lambda name: (-counts[name], name))
    return [
        Guilty(first[n][0], first[n][1], counts[n], first[n][2])
        for n in ordered[:GUILTY_AT_MOST]
    ]


def swings(
    cases: Sequence[Case], found: Comparison, shown: Sequence[int], runs: int, seed: int,
    workers: int,
) -> Iterable[Swing]:  # fmt: skip
    """Stalls of the ``shown`` cases with each assumed probability at none, half and double."""
    cases = [cases[k] for k in shown]
    for what, change in (
        ("contacts that stay open", _opens),
        ("levers that stay where they were", _fails),
    ):
        if not any(change(case.layout, 2.0) != case.layout for case in cases):
            continue
        for factor, value in ((0.0, "never"), (0.5, "half as often"), (2.0, "twice as often")):
            other = [replace(c, layout=change(c.layout, factor)) for c in cases]
            got = compare_cases(
                other, [""] * len(other), runs, seed, workers, None, run_case, survey_none
            )
            # Where nothing is left to chance one run stands for all of them.
            times = found.runs if got.runs == 1 else 1
            yield Swing(what, value, tuple(c.stalls * times for c in got.cases))
            if factor == 0.5:
                as_is = tuple(found.cases[k].stalls for k in shown)
                yield Swing(what, "as assumed", as_is)


def survey_none(case: Case) -> Settings:
    """Settings do not depend on luck: they are not counted again."""
    return Settings(0, 0, 0, (), "not counted")


def _opens(layout: Layout, factor: float) -> Layout:
    return replace(
        layout,
        elements=tuple(
            replace(e, opens=min(1.0, e.opens * factor)) if 0.0 < e.opens < 1.0 else e
            for e in layout.elements
        ),
    )


def _fails(layout: Layout, factor: float) -> Layout:
    return replace(
        layout,
        levers=tuple(
            replace(x, fails=min(1.0, x.fails * factor)) if 0.0 < x.fails < 1.0 else x
            for x in layout.levers
        ),
    )
