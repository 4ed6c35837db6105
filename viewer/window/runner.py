"""Runs made beside the window, so that it never stands still."""

from __future__ import annotations

import multiprocessing
import signal
from concurrent.futures import Future, ProcessPoolExecutor

from sim.layout.traffic import Case
from sim.motion.run import run
from sim.records.model import Record


class Runner:
    """One process beside ours. Make it before any window is opened."""

    def __init__(self) -> None:
        methods = multiprocessing.get_all_start_methods()
        context = multiprocessing.get_context("fork" if "fork" in methods else None)
        self._pool = ProcessPoolExecutor(1, context, _quiet)

    def start(self, case: Case, seed: int) -> Future[Record]:
        """Begin a run with motions."""
        return self._pool.submit(run, case, seed, True)

    def close(self) -> None:
        """Let go of what is still under way."""
        self._pool.shutdown(wait=False, cancel_futures=True)


class Here:
    """The same without a process: the run is made at once. For tests and films."""

    def start(self, case: Case, seed: int) -> Future[Record]:
        """Make the run."""
        done: Future[Record] = Future()
        try:
            done.set_result(run(case, seed, True))
        except Exception as error:
            done.set_exception(error)
        return done

    def close(self) -> None:
        """Nothing to let go of."""


def _quiet() -> None:
    signal.signal(signal.SIGINT, signal.SIG_IGN)
