"""Workers that do jobs, here or elsewhere, and outlive the death of one of them.

A crew speaks to its workers through the interface of ``concurrent.futures``: pools of
one process each, so that one that dies takes nobody along; a Dask cluster; or anything
else with ``submit``.  What comes out depends on the jobs only, never on who does them.
"""

from __future__ import annotations

import gc
import multiprocessing
import os
import re
import signal
import threading
from collections import Counter, deque
from collections.abc import Callable, Hashable, Iterable, Iterator, Sequence
from concurrent.futures import (
    FIRST_COMPLETED,
    BrokenExecutor,
    Executor,
    Future,
    ProcessPoolExecutor,
    wait,
)
from contextlib import AbstractContextManager, ExitStack, contextmanager
from dataclasses import dataclass
from importlib import import_module
from typing import Any, Generic, TypeVar

from sim.judge.store import CampaignError

#: Jobs that a process is handed before it has ended the one it does, so that it never waits.
AHEAD = 2
#: Workers that may die over one and the same job before no further one is tried.
LOSSES_AT_MOST = 3
#: What the library can dial; given anything else, it leaves a half-made client behind,
#: which complains when the program ends.
_ADDRESS = re.compile(r"((tcp|tls|ucx|wss?)://)?(\[[0-9a-fA-F:.%]+\]|[^\s:/]+):\d{1,5}/?")

J = TypeVar("J", bound=Hashable)
R = TypeVar("R")


class WorkersLostError(Exception):
    """Workers died over one job again and again."""

    def __init__(self, times: int) -> None:
        super().__init__(
            f"a worker process was ended {times} times over the same run, by nothing in this "
            "program: mostly the system does so when its memory is full. Expected memory for "
            "each worker at once; give fewer of them with --workers, --workers 1 needs least"
        )


def usable_processors() -> int:
    """How many processors this process may use."""
    if hasattr(os, "sched_getaffinity"):
        return len(os.sched_getaffinity(0))
    return os.cpu_count() or 1


def _no_more(job: object, result: object) -> tuple[()]:
    return ()


def _any_kind(job: object) -> None:
    return None


@dataclass(frozen=True, slots=True)
class Crew:
    """How to get an executor, how many jobs to hand it at once, and what a loss is.

    ``lost`` are the errors that a future raises when its worker has died; the
    executor is then made anew.  ``stop`` ends at once what is still being done.
    """

    executor: Callable[[], AbstractContextManager[Executor]]
    at_once: int
    lost: tuple[type[BaseException], ...] = (BrokenExecutor,)
    executors: int = 1
    stop: Callable[[], None] = lambda: None

    @contextmanager
    def at_work(
        self,
        do: Callable[[J], R],
        jobs: Iterable[J],
        more: Callable[[J, R], Iterable[J]] = _no_more,
        kind: Callable[[J], Hashable] = _any_kind,
    ) -> Iterator[Iterator[tuple[J, R]]]:
        """Begin with ``jobs``; gives each with its result as they end, in whatever order.

        ``more`` are the jobs that a result calls for.  An executor goes on with a
        ``kind`` of job that it has done before while there is one: what it has learned
        makes the next one shorter.  Raises :class:`WorkersLostError` where one job has
        taken too many workers along.
        """
        with ExitStack() as stack:
            own = [stack.enter_context(ExitStack()) for _ in range(self.executors)]
            team = _Team(self, do, more, kind, own)
            try:
                team.add(jobs)
                yield team.results()
            finally:
                if team.busy:  # nobody waits for these any more, and a job may take long
                    self.stop()


class _Team(Generic[J, R]):
    """The executors of a crew at work. ``busy`` is who does what."""

    def __init__(
        self,
        crew: Crew,
        do: Callable[[J], R],
        more: Callable[[J, R], Iterable[J]],
        kind: Callable[[J], Hashable],
        stacks: Sequence[ExitStack],
    ) -> None:
        self._crew, self._do, self._more, self._kind = crew, do, more, kind
        self._stacks = stacks
        self._executors = [stack.enter_context(crew.executor()) for stack in stacks]
        self._learned: list[set[Hashable]] = [set() for _ in stacks]
        self._handed = [0 for _ in stacks]
        self._left: dict[Hashable, deque[J]] = {}
        self._losses: Counter[J] = Counter()
        self.busy: dict[Future[R], tuple[int, J]] = {}

    def add(self, jobs: Iterable[J]) -> None:
        """Put jobs on the list, and keep everybody busy."""
        for job in jobs:
            self._left.setdefault(self._kind(job), deque()).append(job)
        self._keep_busy()

    def results(self) -> Iterator[tuple[J, R]]:
        """All jobs as they end, and those that their results call for."""
        while self.busy or self._left:
            self._keep_busy()
            for future in wait(self.busy, return_when=FIRST_COMPLETED).done:
                if future not in self.busy:
                    continue  # lost with its executor, and taken back
                worker, job = self.busy[future]
                try:
                    result = future.result()
                except self._crew.lost:
                    self._renew(worker)
                    continue
                del self.busy[future]
                self._handed[worker] -= 1
                self.add(self._more(job, result))
                yield job, result

    def _keep_busy(self) -> None:
        """Hand out jobs, one to each executor in turn."""
        for ahead in range(1, self._crew.at_once + 1):
            for worker in range(len(self._executors)):
                if self._left and self._handed[worker] < ahead:
                    self._hand_out(worker)

    def _hand_out(self, worker: int) -> None:
        job = self._next(worker)
        try:
            future = self._executors[worker].submit(self._do, job)
        except self._crew.lost:
            self._renew(worker, job)
            return
        self._handed[worker] += 1
        self.busy[future] = worker, job

    def _next(self, worker: int) -> J:
        """A job of a kind that ``worker`` knows, else of one nobody knows, else any."""
        known = set().union(*self._learned)
        kind = next((k for k in self._left if k in self._learned[worker]), None)
        if kind not in self._left:
            kind = next((k for k in self._left if k not in known), [*self._left][-1])
        self._learned[worker].add(kind)
        job = self._left[kind].popleft()
        if not self._left[kind]:
            del self._left[kind]
        return job

    def _renew(self, worker: int, *refused: J) -> None:
        """A new executor in the place of one that broke, and its jobs back on the list.

        ``refused`` is the job that it would not take.
        """
        own = [f for f, (w, _) in self.busy.items() if w == worker]
        back = [f for f in own if not f.done() or f.exception() is not None]
        # The first that failed is what it was at; the others waited.
        blamed = [*(self.busy[f][1] for f in back if f.done()), *refused][0]
        self._losses[blamed] += 1
        if self._losses[blamed] > LOSSES_AT_MOST:
            raise WorkersLostError(self._losses[blamed])
        for job in reversed([*(self.busy.pop(f)[1] for f in back), *refused]):
            self._left.setdefault(self._kind(job), deque()).appendleft(job)
        self._handed[worker] = len(own) - len(back)
        self._learned[worker].clear()
        self._stacks[worker].close()
        self._executors[worker] = self._stacks[worker].enter_context(self._crew.executor())


class _Here(Executor):
    """Does everything at once, in this process."""

    def submit(self, fn: Callable[..., R], /, *args: object, **kwargs: object) -> Future[R]:
        future: Future[R] = Future()
        future.set_result(fn(*args, **kwargs))
        return future


def crew_here() -> Crew:
    """One worker: this process."""
    return Crew(_Here, 1)


def crew_of_processes(workers: int, prepare: Callable[[], object] = lambda: None) -> Crew:
    """So many processes on this machine. Each is prepared once.

    ``prepare`` has to be a function of a module, with arguments that can travel.
    """
    # A forked worker starts with every library already loaded, the late ones too.
    import_module("sim.run.solved_supply")
    methods = multiprocessing.get_all_start_methods()
    context = multiprocessing.get_context("fork" if "fork" in methods else None)

    @contextmanager
    def process() -> Iterator[Executor]:
        pool = ProcessPoolExecutor(1, context, _begin, (prepare,))
        try:
            yield pool
        finally:
            pool.shutdown(wait=True, cancel_futures=True)

    return Crew(process, AHEAD, executors=workers, stop=_end_children)


def _end_children() -> None:
    for child in multiprocessing.active_children():
        child.terminate()


def _begin(prepare: Callable[[], object]) -> None:
    """Leave Ctrl-C to the parent, and end when the parent ends."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    threading.Thread(target=_end_with_parent, daemon=True).start()
    prepare()
    gc.freeze()


def _end_with_parent() -> None:
    """A parent that was killed cannot end its workers: they notice and end themselves."""
    parent = multiprocessing.parent_process()
    if parent is not None:
        parent.join()
        os._exit(1)


def crew_of_dask(address: str) -> Crew:
    """The workers of a Dask cluster whose scheduler answers at ``address``.

    Raises :class:`CampaignError` where the library is missing or nobody answers.
    """
    try:
        distributed: Any = import_module("distributed")
        killed: type[BaseException] = import_module("distributed.scheduler").KilledWorker
    except ImportError as error:
        raise CampaignError(
            "--dask needs a library that is not installed: pip install '.[dask]' in the clone"
        ) from error
    if not _ADDRESS.fullmatch(address):
        raise _no_scheduler(address, "no host and port")
    try:
        client = distributed.Client(address, timeout="10s", set_as_default=False)
    except (OSError, ValueError, TypeError) as error:
        raise _no_scheduler(address, type(error).__name__) from error
    cores = sum(client.ncores().values())
    if not cores:
        client.close()
        raise CampaignError(f"expected workers at {address!r}, got a scheduler without any")

    @contextmanager
    def executor() -> Iterator[Executor]:
        pool = client.get_executor(pure=False, retries=LOSSES_AT_MOST)
        try:
            yield pool
        finally:
            pool.shutdown(wait=False)

    return Crew(executor, 2 * cores, (killed, BrokenExecutor))


def _no_scheduler(address: str, got: str) -> CampaignError:
    return CampaignError(
        f"expected a Dask scheduler at {address!r}, such as tcp://host:8786; got {got}"
    )
