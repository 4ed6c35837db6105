"""Run every case on the same replications, on several processors.

The answer depends on the cases and the seed only, never on how many workers
there are or on which of them ends first.
"""

from __future__ import annotations

import gc
import multiprocessing
import os
import signal
import threading
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import FIRST_COMPLETED, Executor, Future, ProcessPoolExecutor, wait
from contextlib import contextmanager
from dataclasses import dataclass

from sim.judge import stats
from sim.judge.comparison import Settings
from sim.judge.tally import Tally, tally
from sim.layout.traffic import Case
from sim.records.model import Record

#: Jobs that a worker is handed before it has ended the one it does, so that it never waits.
AHEAD = 2

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


def usable_processors() -> int:
    """How many processors this process may use."""
    if hasattr(os, "sched_getaffinity"):
        return len(os.sched_getaffinity(0))
    return os.cpu_count() or 1


def replicate(work: Work, workers: int, progress: Progress | None = None) -> Results:
    """Do all jobs of ``work``.

    The first replication of each case tells whether anything in it is random;
    the others are made only then.
    """
    done: dict[Job, Tally | Settings] = {}
    first = [Job(c, 0) for c in range(len(work.cases))]
    surveys = [Job(c, None) for c in range(len(work.cases))]
    todo = len(first) * len(work.seeds) + len(surveys)
    with _doing(work, min(workers, todo)) as do:
        for job, result in do(first + surveys, lambda job, got: _more(work, job, got)):
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


More = Callable[[Job, Tally | Settings], list[Job]]
Do = Callable[[list[Job], More], Iterator[tuple[Job, Tally | Settings]]]


@contextmanager
def _doing(work: Work, workers: int) -> Iterator[Do]:
    """A way to do jobs: here, or in a pool of processes."""
    if workers <= 1:
        yield lambda jobs, more: _one_by_one(work, jobs, more)
        return
    # A forked worker starts with every library already loaded.
    methods = multiprocessing.get_all_start_methods()
    context = multiprocessing.get_context("fork" if "fork" in methods else None)
    pools = [ProcessPoolExecutor(1, context, _set_up, (work,)) for _ in range(workers)]
    try:
        yield lambda jobs, more: _as_they_end(pools, jobs, more)
    except BaseException:
        # Nobody waits for these any more, and a job may take long: end them.
        for child in multiprocessing.active_children():
            child.terminate()
        raise
    finally:
        for pool in pools:
            pool.shutdown(wait=True, cancel_futures=True)


def _one_by_one(
    work: Work, jobs: list[Job], more: More
) -> Iterator[tuple[Job, Tally | Settings]]:
    queue = list(jobs)
    for job in queue:  # grows while it is walked
        result = work.do(job)
        queue.extend(more(job, result))
        yield job, result


def _as_they_end(
    pools: Sequence[Executor], jobs: list[Job], more: More
) -> Iterator[tuple[Job, Tally | Settings]]:
    """Each worker goes on with a case it has done before while there is one: what it
    has learned of the case makes the next run of it shorter."""
    left = list(jobs)
    busy: dict[Future[Tally | Settings], tuple[int, Job]] = {}
    learned: list[set[int]] = [set() for _ in pools]

    def hand_out(worker: int) -> None:
        if left:
            job = _next(left, learned, worker)
            left.remove(job)
            learned[worker].add(job.case)
            busy[pools[worker].submit(_do, job)] = worker, job

    for _ in range(AHEAD):
        for worker in range(len(pools)):
            hand_out(worker)
    stats.load()  # while the workers run
    while busy:
        for future in wait(busy, return_when=FIRST_COMPLETED).done:
            worker, job = busy.pop(future)
            result = future.result()
            left.extend(more(job, result))
            for idle in range(len(pools)):
                ahead = sum(at == idle for at, _ in busy.values())
                for _ in range(AHEAD - ahead):
                    hand_out(idle)
            yield job, result


def _next(left: Sequence[Job], learned: Sequence[set[int]], worker: int) -> Job:
    """The job of ``left`` for ``worker``: of a case it knows, else of one nobody knows."""
    known = set().union(*learned)
    for job in left:
        if job.case in learned[worker]:
            return job
    for job in left:
        if job.case not in known:
            return job
    return left[-1]


_work: Work | None = None


def _set_up(work: Work) -> None:
    """Give a worker its work, once."""
    global _work
    _work = work
    gc.freeze()
    prepare_worker()


def prepare_worker() -> None:
    """Make a worker leave Ctrl-C to its parent, and end when the parent ends."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    threading.Thread(target=_end_with_parent, daemon=True).start()


def _end_with_parent() -> None:
    """A parent that was killed cannot end its workers: they notice and end themselves."""
    parent = multiprocessing.parent_process()
    if parent is not None:
        parent.join()
        os._exit(1)


def _do(job: Job) -> Tally | Settings:
    assert _work is not None
    return _work.do(job)
