"""Run a campaign: hand out tasks, keep what comes back, and stop when it has run enough.

When a campaign has run often enough.

Looks are taken at fixed numbers of replications, never between, and only once all
before them are there; so the answer does not depend on which run ends first.
Stopping at a wanted width keeps the level of the intervals only approximately,
because the width is looked at more than once: Y. S. Chow and H. Robbins, Annals of
Mathematical Statistics 36 (1965), show that it holds as the width shrinks (from
memory).  With few replications an interval can be narrow by luck, hence the least
number.

Run a campaign: hand out tasks, keep what comes back, stop when it is enough.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from contextlib import AbstractContextManager
from dataclasses import dataclass

from sim.judge import stats
from sim.judge.campaign_plan import (
    Order,
    Outcome,
    Plan,
    Task,
    Variant,
    do,
    from_line,
    is_whole,
    packed,
)
from sim.judge.store import Store
from sim.judge.tally import Tally
from sim.judge.workers import Crew

#: Replications before the first look, and between looks.
FIRST_LOOK = 20
EVERY = 10


def looks(runs: int) -> list[int]:
    """Numbers of replications at which to look; the last is ``runs``."""
    return [*range(FIRST_LOOK, runs, EVERY), runs]


def widest(results: Sequence[Sequence[Tally]]) -> float | None:
    """Width of the widest interval of stalled legs per leg, over all random cases.

    ``results`` are the tallies of each case.  None where no case has an interval.
    """
    widths = []
    for tallies in results:
        if len(tallies) < 2:  # nothing in it is random
            continue
        found = stats.rate([len(t.stalled) for t in tallies], [t.legs for t in tallies])
        if found is not None:
            widths.append(round(found.high - found.low, stats.DIGITS))
    return max(widths, default=None)


Progress = Callable[[int, int], None]


@dataclass(frozen=True, slots=True)
class Extent:
    """How much to run: replications of the scenario's own case, and of each band's end.

    With ``until_width`` the former are the most that are made.  ``with_rows``
    keeps everything that happens, not only counts.
    """

    runs: int
    band_runs: int = 0
    until_width: float | None = None
    with_rows: bool = False


class Driver:
    """One campaign on its way."""

    def __init__(self, plan: Plan, store: Store, extent: Extent, crew: Crew) -> None:
        self._plan, self._store, self._extent, self._crew = plan, store, extent, crew
        self._random = [v.random for v in plan.variants]
        self._parcels = [packed(v.cases) for v in plan.variants]
        self._tallies: dict[Task, dict[int, Tally]] = {}
        for task in sorted(store.places):
            if task.variant < len(plan.variants):
                self._take(store.read(task))

    def _take(self, outcome: Outcome) -> None:
        task = outcome.task
        with_rows = self._extent.with_rows and task.variant == 0
        if is_whole(outcome, self.wanted(task), with_rows):
            self._tallies[task] = outcome.tallies

    def wanted(self, task: Task) -> tuple[int, ...]:
        """Numbers of the cases that ``task`` runs: all at first, then the random ones."""
        cases = self._plan.variants[task.variant].cases
        random = self._random[task.variant]
        return tuple(c for c in range(len(cases)) if task.replication == 0 or random[c])

    def tasks(self, variant: int, runs: int) -> list[Task]:
        """Tasks of one variant that run anything."""
        found = [Task(variant, k) for k in range(runs)]
        return [t for t in found if self.wanted(t)]

    def run(self, progress: Progress | None = None) -> int:
        """Make all runs; gives the number of replications of variant 0 that count."""
        progress = progress or (lambda done, total: None)
        ends = [
            t
            for v in range(1, len(self._plan.variants))
            for t in self.tasks(v, self._extent.band_runs)
        ]
        total = len(self.tasks(0, self._extent.runs)) + len(ends)
        runs = self._run_own(lambda: progress(len(self._tallies), total))
        self._do(ends, lambda: progress(len(self._tallies), total))
        return runs

    def _run_own(self, tell: Callable[[], None]) -> int:
        """Replications of the scenario's own case, until they are enough."""
        extent = self._extent
        at = [extent.runs] if extent.until_width is None else looks(extent.runs)
        if extent.until_width is None or not any(self._random[0]):
            self._do(self.tasks(0, extent.runs), tell)
            return extent.runs
        with self._at_work(self.tasks(0, extent.runs)) as lines:
            for runs in at:
                while not self._has(runs):
                    self._keep(next(lines)[1])
                    tell()
                width = widest(self.results(0, runs))
                if width is not None and width <= extent.until_width:
                    break
        return runs

    def _has(self, runs: int) -> bool:
        return all(t in self._tallies for t in self.tasks(0, runs))

    def _do(self, tasks: Sequence[Task], tell: Callable[[], None]) -> None:
        with self._at_work(tasks) as lines:
            for _, line in lines:
                self._keep(line)
                tell()

    def _at_work(
        self, tasks: Sequence[Task]
    ) -> AbstractContextManager[Iterator[tuple[Order, str]]]:
        missing = (t for t in tasks if t not in self._tallies)
        return self._crew.at_work(do, map(self._order, missing))

    def _order(self, task: Task) -> Order:
        with_rows = self._extent.with_rows and task.variant == 0
        parcel = self._parcels[task.variant]
        return Order(task, parcel, self.wanted(task), self._plan.seed, with_rows)

    def _keep(self, line: str) -> None:
        self._store.append(line)
        self._take(from_line(line))

    def results(self, variant: int, runs: int) -> list[list[Tally]]:
        """By case: its tallies in order of replication, one where nothing is random."""
        cases = range(len(self._plan.variants[variant].cases))
        random = self._random[variant]
        return [
            [self._tallies[Task(variant, k)][c] for k in range(runs if random[c] else 1)]
            for c in cases
        ]


def variants_of(plan: Plan) -> Iterator[tuple[int, Variant]]:
    """The variants that differ from the scenario's own, with their numbers."""
    return ((n, v) for n, v in enumerate(plan.variants) if v.band is not None)
