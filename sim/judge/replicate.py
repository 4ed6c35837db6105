"""Run every case on the same replications, on several processors.

The answer depends on the cases and the seed only, never on how many workers
there are or on which of them ends first.
"""

from __future__ import annotations

import gc
from collections.abc import Callable
from dataclasses import dataclass
from functools import partial

from sim.judge import stats
from sim.judge.comparison import Settings
from sim.judge.tally import Tally, tally
from sim.judge.workers import crew_here, crew_of_processes
from sim.layout.traffic import Case
from sim.records.model import Record

Run = Callable[[Case, int], Record]
Survey = Callable[[Case], Settings]
Progress = Callable[[int, int], None]


@dataclass(frozen=True, slots=True)
class Job:
    """One task: replication ``replication`` of a case, or its settings (None)."""

    case: int
    replication: int | None


@dataclass(frozen=True, slots=True)
class Work:
    """All that a worker needs to do any job."""

    cases: tuple[Case, ...]
    seeds: tuple[int, ...]
    run: Run
    survey: Survey

    def do(self, job: Job) -> Tally | Settings:
        """Do one job."""
        case = self.cases[job.case]
        # A run keeps what it makes until it ends: looking for rubbish finds none.
        gc.disable()
        try:
            if job.replication is None:
                return self.survey(case)
            return tally(self.run(case, self.seeds[job.replication]))
        finally:
            gc.enable()


@dataclass(frozen=True, slots=True)
class Results:
    """Per case: its tallies in order of replication, one if nothing is random."""

    tallies: tuple[tuple[Tally, ...], ...]
    settings: tuple[Settings, ...]


def replicate(work: Work, workers: int, progress: Progress | None = None) -> Results:
    """Do all jobs of ``work``.

    The first replication of each case tells whether anything in it is random;
    the others are made only then.
    """
    done: dict[Job, Tally | Settings] = {}
    cases = range(len(work.cases))
    first = [Job(c, k) for k in (0, None) for c in cases]
    todo = len(cases) * (len(work.seeds) + 1)
    workers = min(workers, todo)
    alone = workers <= 1
    crew = crew_here() if alone else crew_of_processes(workers, partial(_take, work))
    do = work.do if alone else _do
    with crew.at_work(do, first, partial(_more, work), lambda job: job.case) as results:
        if not alone:
            stats.load()  # while the workers run
        for job, result in results:
            done[job] = result
            todo -= _spared(work, job, result)
            if progress is not None:
                progress(len(done), todo)
    return _sorted(work, done)


def _more(work: Work, job: Job, result: Tally | Settings) -> list[Job]:
    """The jobs that a first replication calls for."""
    if job.replication != 0 or not isinstance(result, Tally) or not result.random:
        return []
    return [Job(job.case, k) for k in range(1, len(work.seeds))]


def _spared(work: Work, job: Job, result: Tally | Settings) -> int:
    """The jobs that a first replication shows to be needless."""
    if job.replication != 0 or _more(work, job, result):
        return 0
    return len(work.seeds) - 1


def _sorted(work: Work, done: dict[Job, Tally | Settings]) -> Results:
    tallies: list[tuple[Tally, ...]] = []
    settings: list[Settings] = []
    for c in range(len(work.cases)):
        wanted = (done.get(Job(c, k)) for k in range(len(work.seeds)))
        tallies.append(tuple(t for t in wanted if isinstance(t, Tally)))
        survey = done[Job(c, None)]
        assert isinstance(survey, Settings)
        settings.append(survey)
    return Results(tuple(tallies), tuple(settings))


_work: Work | None = None


def _take(work: Work) -> None:
    """Give a worker its work, once."""
    global _work
    _work = work


def _do(job: Job) -> Tally | Settings:
    assert _work is not None
    return _work.do(job)
