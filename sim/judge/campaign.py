"""What a campaign comes to.

What a campaign comes to: inert results, ready for pages.

From tallies to a campaign's results.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from sim.judge import stats
from sim.judge.campaign_plan import Plan
from sim.judge.campaign_run import Driver, Extent, variants_of, widest
from sim.judge.compare import summarise, survey_gangs
from sim.judge.comparison import AS_BUILT, Comparison
from sim.judge.legs import ideal_legs
from sim.judge.stats import Interval
from sim.judge.tally import Tally, replication_seed
from sim.layout.traffic import Case
from sim.scenario.bands import Band
from sim.scenario.document import Scenario


@dataclass(frozen=True, slots=True)
class RunShare:
    """Runs of one case in which anything stalled, of all its runs.

    Runs are independent of each other, so both intervals hold as they are: ``wilson``
    and ``exact`` (Clopper and Pearson's); None where nothing in the case is random.
    """

    case: str
    runs: int
    stalled: int
    wilson: Interval | None
    exact: Interval | None


@dataclass(frozen=True, slots=True)
class Trouble:
    """Mean number of stalls, trips and derailments of one case per run."""

    case: str
    per_run: float


@dataclass(frozen=True, slots=True)
class End:
    """One end of a band: the cases by trouble there, the least first.

    ``changes`` tells whether another case comes out best than with the scenario's
    own assumptions over the same runs.
    """

    value: float
    ranking: tuple[Trouble, ...]
    changes: bool


@dataclass(frozen=True, slots=True)
class Swing:
    """What one assumption may do to the ranking of fixes, from one end to the other."""

    band: Band
    runs: int
    own: tuple[Trouble, ...]
    ends: tuple[End, ...]

    @property
    def changes(self) -> bool:
        """Whether this assumption could change the choice of fix."""
        return any(end.changes for end in self.ends)


@dataclass(frozen=True, slots=True)
class Campaign:
    """A campaign's results.

    ``asked`` is the number of runs that were to be made at most; ``width`` the
    widest interval of stalled legs per leg that was reached, and ``until_width``
    the one that was wanted, if any.  ``damaged`` is how many kept runs could not
    be read and were made again.
    """

    comparison: Comparison
    shares: tuple[RunShare, ...]
    ranking: tuple[Trouble, ...]
    swings: tuple[Swing, ...]
    asked: int
    until_width: float | None
    width: float | None


def conclude(
    scenario: Scenario, plan: Plan, driver: Driver, extent: Extent, runs: int
) -> Campaign:
    """The results of ``runs`` replications, and of what other assumptions make of them."""
    cases = plan.variants[0].cases
    results = driver.results(0, runs)
    notes = ["", *(fix.note for fix in scenario.fix)]
    seeds = [replication_seed(plan.seed, k) for k in range(runs)]
    settings = [survey_gangs(case) for case in cases]
    return Campaign(
        summarise(cases, notes, results, settings, seeds, plan.seed, ideal_legs(cases[0])),
        tuple(_share(c, t) for c, t in zip(cases, results, strict=True)),
        ranking(cases, results),
        tuple(_swings(plan, driver, extent, runs)) if extent.band_runs else (),
        extent.runs,
        extent.until_width,
        widest(results),
    )


def _name(case: Case) -> str:
    return AS_BUILT if case.fix is None else case.fix


def _share(case: Case, tallies: Sequence[Tally]) -> RunShare:
    stalled = sum(t.stall_count > 0 for t in tallies)
    if len(tallies) < 2:
        return RunShare(_name(case), len(tallies), stalled, None, None)
    return RunShare(
        _name(case),
        len(tallies),
        stalled,
        stats.wilson(stalled, len(tallies)),
        stats.clopper_pearson(stalled, len(tallies)),
    )


def ranking(cases: Sequence[Case], results: Sequence[Sequence[Tally]]) -> tuple[Trouble, ...]:
    """Cases by stalls, trips and derailments per run, the least first.

    Of equal ones the earlier in the scenario comes first: as built before any fix.
    """
    found = [
        Trouble(_name(case), round(sum(map(_trouble, tallies)) / len(tallies), stats.DIGITS))
        for case, tallies in zip(cases, results, strict=True)
    ]
    return tuple(sorted(found, key=lambda t: t.per_run))


def _trouble(tally: Tally) -> int:
    return tally.stall_count + tally.trips + tally.derailments


def _swings(plan: Plan, driver: Driver, extent: Extent, runs: int) -> list[Swing]:
    runs = min(runs, extent.band_runs)
    cases = plan.variants[0].cases
    own = ranking(cases, driver.results(0, runs))
    found: dict[str, Swing] = {}
    for number, variant in variants_of(plan):
        band, value = variant.band, variant.value
        assert band is not None
        assert value is not None
        there = ranking(variant.cases, driver.results(number, runs))
        end = End(value, there, _best(there) != _best(own))
        before = found.get(band.field)
        ends = (end,) if before is None else (*before.ends, end)
        found[band.field] = Swing(band, runs, own, ends)
    return list(found.values())


def _best(order: Sequence[Trouble]) -> set[str]:
    """The cases with the least trouble; several where they are equal."""
    return {t.case for t in order if t.per_run == order[0].per_run}
