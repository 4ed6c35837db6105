"""Workers that do tasks, here or elsewhere, and outlive the death of one of them.

A crew speaks to its workers through the interface of ``concurrent.futures``: a
pool of processes, a Dask cluster, or anything else with ``submit``.
"""

from __future__ import annotations

import multiprocessing
import re
from collections.abc import Callable, Generator, Iterable, Iterator
from concurrent.futures import (
    FIRST_COMPLETED,
    BrokenExecutor,
    Executor,
    Future,
    ProcessPoolExecutor,
    wait,
)
from contextlib import AbstractContextManager, contextmanager
from dataclasses import dataclass
from importlib import import_module
from typing import Any

from sim.judge.campaign_plan import Order, do
from sim.judge.replicate import prepare_worker
from sim.judge.store import CampaignError

#: Times in a row that workers may be lost without any run coming through.
LOSSES_AT_MOST = 3
#: What the library can dial; given anything else, it leaves a half-made client behind,
#: which complains when the program ends.
_ADDRESS = re.compile(r"((tcp|tls|ucx|wss?)://)?(\[[0-9a-fA-F:.%]+\]|[^\s:/]+):\d{1,5}/?")


@dataclass(frozen=True, slots=True)
class Crew:
    """How to get an executor, how many tasks to keep it busy with, and what a loss is.

    ``lost`` are the errors that a future raises when its worker has died; the
    executor is then made anew.
    """

    executor: Callable[[], AbstractContextManager[Executor]]
    at_once: int
    lost: tuple[type[BaseException], ...] = (BrokenExecutor,)

    def lines(self, orders: Iterable[Order]) -> Generator[str, None, None]:
        """Do all ``orders``; gives their lines as they come, in whatever order."""
        waiting = list[Order]()
        source = iter(orders)
        losses = 0
        while True:
            with self.executor() as executor:
                shift = _Shift(executor, self.at_once, self.lost, waiting, source)
                for line in shift.lines():
                    losses = 0
                    yield line
                waiting = shift.left()
            if not shift.broken:
                return
            losses += 1
            if losses > LOSSES_AT_MOST:
                raise CampaignError(
                    f"workers died {losses} times in a row without finishing a run: expected "
                    "enough memory for each of them, or fewer --workers"
                )


class _Shift:
    """One executor's work, until all is done or a worker is lost."""

    def __init__(
        self,
        executor: Executor,
        at_once: int,
        lost: tuple[type[BaseException], ...],
        first: list[Order],
        then: Iterator[Order],
    ) -> None:
        self._executor, self._at_once, self._lost = executor, at_once, lost
        self._first, self._then = first, then
        self._doing: dict[Future[str], Order] = {}
        self.broken = False

    def lines(self) -> Iterator[str]:
        """Lines as they come; stops early when a worker is lost."""
        self._submit()
        while self._doing and not self.broken:
            for future in wait(self._doing, return_when=FIRST_COMPLETED).done:
                try:
                    line = future.result()
                except self._lost:
                    self.broken = True
                    continue
                del self._doing[future]
                yield line
            self._submit()

    def _submit(self) -> None:
        while not self.broken and len(self._doing) < self._at_once:
            order = self._first.pop(0) if self._first else next(self._then, None)
            if order is None:
                return
            try:
                self._doing[self._executor.submit(do, order)] = order
            except self._lost:
                self._first.insert(0, order)
                self.broken = True

    def left(self) -> list[Order]:
        """Orders that were given out and have not come back."""
        return [*self._doing.values(), *self._first]


class _Here(Executor):
    """Does everything at once, in this process."""

    def submit(self, fn: Callable[..., str], /, *args: object, **kwargs: object) -> Future[str]:  # type: ignore[override]
        future: Future[str] = Future()
        future.set_result(fn(*args, **kwargs))
        return future


def crew_here() -> Crew:
    """One worker: this process."""
    return Crew(_Here, 1)


def crew_of_processes(workers: int) -> Crew:
    """So many processes on this machine."""
    return Crew(lambda: _pool(workers), 2 * workers)


@contextmanager
def _pool(workers: int) -> Iterator[Executor]:
    # A forked worker starts with every library already loaded, the late ones too.
    import_module("sim.run.solved_supply")
    methods = multiprocessing.get_all_start_methods()
    context = multiprocessing.get_context("fork" if "fork" in methods else None)
    pool = ProcessPoolExecutor(workers, context, prepare_worker)
    try:
        yield pool
    except BaseException:
        # Nobody waits for these any more, and a run may take long: end them.
        for child in multiprocessing.active_children():
            child.terminate()
        raise
    finally:
        pool.shutdown(wait=True, cancel_futures=True)


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
