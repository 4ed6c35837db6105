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
from concurrent.futures import (
    FIRST_COMPLETED,
    BrokenExecutor,
    Executor,
    Future,
    ProcessPoolExecutor,
    wait,
)
from contextlib import contextmanager
from dataclasses import dataclass

from sim.judge import stats
from sim.judge.comparison import Settings
from sim.judge.tally import Tally, tally
from sim.layout.traffic import Case
from sim.records.model import Record

#: Jobs that a worker is handed before it has ended the one it does, so that it never waits.
AHEAD = 2
#: Workers that may die over one and the same job before no further one is tried.
LOSSES_AT_MOST = 3

Run = Callable[[Case, int], Record]
Survey = Callable[[Case], Settings]
Progress = Callable[[int, int], None]


class WorkersLostError(Exception):
    """Worker processes died over one job again and again."""

    def __init__(self, times: int) -> None:
        super().__init__(
            f"a worker process was ended {times} times over the same run, by nothing in this "
            "program: mostly the system does so when its memory is full. Expected memory for "
            "each worker at once; give fewer of them with --workers, --workers 1 needs least"
        )


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
    team = _Team(lambda: ProcessPoolExecutor(1, context, _set_up, (work,)), workers)
    try:
        yield team.do
    except BaseException:
        # Nobody waits for these any more, and a job may take long: end them.
        for child in multiprocessing.active_children():
            child.terminate()
        raise
    finally:
        for pool in team.pools:
            pool.shutdown(wait=True, cancel_futures=True)


def _one_by_one(
    work: Work, jobs: list[Job], more: More
) -> Iterator[tuple[Job, Tally | Settings]]:
    queue = list(jobs)
    for job in queue:  # grows while it is walked
        result = work.do(job)
        queue.extend(more(job, result))
        yield job, result


@dataclass(frozen=True, slots=True)
class _Given:
    """A job that was given to a worker, and the pool that the worker was then."""

    worker: int
    job: Job
    pool: Executor


class _Team:
    """Workers, each a pool of one process, so that one that dies takes nobody along.

    Each goes on with a case it has done before while there is one: what it has learned
    of the case makes the next run of it shorter.
    """

    def __init__(self, make: Callable[[], Executor], workers: int) -> None:
        self._make = make
        self.pools = [make() for _ in range(workers)]
        self._learned: list[set[int]] = [set() for _ in range(workers)]
        self._busy: dict[Future[Tally | Settings], _Given] = {}
        self._left: list[Job] = []
        self._lost: dict[Job, int] = {}

    def do(self, jobs: list[Job], more: More) -> Iterator[tuple[Job, Tally | Settings]]:
        """All jobs as they end, and those that their results call for."""
        self._left = list(jobs)
        for _ in range(AHEAD):
            for worker in range(len(self.pools)):
                self._hand_out(worker)
        stats.load()  # while the workers run
        while self._busy:
            for future in wait(self._busy, return_when=FIRST_COMPLETED).done:
                given = self._busy.get(future)
                if given is None:
                    continue  # lost with its worker, and taken back
                try:
                    result = future.result()
                except BrokenExecutor:
                    self._renew(given)
                    self._keep_busy()
                    continue
                del self._busy[future]
                self._left.extend(more(given.job, result))
                self._keep_busy()
                yield given.job, result

    def _keep_busy(self) -> None:
        for worker in range(len(self.pools)):
            ahead = sum(given.worker == worker for given in self._busy.values())
            for _ in range(AHEAD - ahead):
                self._hand_out(worker)

    def _hand_out(self, worker: int) -> None:
        if not self._left:
            return
        job = _next(self._left, self._learned, worker)
        pool = self.pools[worker]
        try:
            future = pool.submit(_do, job)
        except BrokenExecutor:
            return  # what it was doing tells so in a moment, and the worker is replaced
        self._left.remove(job)
        self._learned[worker].add(job.case)
        self._busy[future] = _Given(worker, job, pool)

    def _renew(self, dead: _Given) -> None:
        """A new worker in the place of one that died, and its jobs back on the list.

        Raises :class:`WorkersLostError` where one job has taken too many workers along.
        """
        back = [f for f, given in self._busy.items() if given.pool is dead.pool]
        lost = [self._busy.pop(f).job for f in back if f.exception() is not None]
        first = lost[0]  # the job that it was at; the others waited
        self._lost[first] = self._lost.get(first, 0) + 1
        if self._lost[first] > LOSSES_AT_MOST:
            raise WorkersLostError(self._lost[first])
        self._left[:0] = lost
        self._learned[dead.worker].clear()
        dead.pool.shutdown(wait=False)
        self.pools[dead.worker] = self._make()


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
