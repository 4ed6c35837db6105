"""Runs made beside the window, so that it never stands still."""

from __future__ import annotations

import contextlib
import signal
from typing import TYPE_CHECKING, Protocol

from sim.layout.traffic import Case
from sim.records.model import Record

if TYPE_CHECKING:
    from multiprocessing.connection import Connection
    from multiprocessing.context import BaseContext
    from multiprocessing.process import BaseProcess


class Pending(Protocol):
    """A run that has been begun."""

    def done(self) -> bool:
        """Whether it has ended, one way or the other."""

    def outcome(self) -> Record | str:
        """The record, or in words why there is none. Only once it is done."""

    def stop(self) -> None:
        """Not wanted any more."""


class Runner:
    """Makes each run in a process of its own, which ends with the window."""

    def __init__(self) -> None:
        self._known: BaseContext | None = None
        self._begun: list[Beside] = []

    @property
    def _context(self) -> BaseContext:
        """Asked for with the first run, when the layout is there already."""
        if self._known is None:
            import multiprocessing

            methods = multiprocessing.get_all_start_methods()
            # A forked process has everything loaded and need not be told the case.
            way = "fork" if "fork" in methods else "spawn"
            self._known = multiprocessing.get_context(way)
        return self._known

    def start(self, case: Case, seed: int) -> Pending:
        """Begin a run with motions."""
        ours, theirs = self._context.Pipe(duplex=False)
        forked = self._context.get_start_method() == "fork"
        given = (theirs, case, seed, ours if forked else None)
        process = self._context.Process(target=_work, args=given, daemon=True)  # type: ignore[attr-defined]
        process.start()
        theirs.close()
        self._begun = [b for b in self._begun if not b.done()]
        self._begun.append(Beside(ours, process))
        return self._begun[-1]

    def close(self) -> None:
        """Let go of what is still under way."""
        for begun in self._begun:
            begun.stop()
        self._begun = []


class Beside:
    """A run in another process."""

    def __init__(self, ours: Connection, process: BaseProcess) -> None:
        self._ours, self._process = ours, process
        self._outcome: Record | str | None = None

    def done(self) -> bool:
        """Whether it has ended; takes over what it sent."""
        if self._outcome is None and self._ours.poll():
            try:
                self._outcome = self._ours.recv()
            except (EOFError, OSError):
                self._outcome = "the run ended without a result"
            self._process.join(timeout=1.0)
        return self._outcome is not None

    def outcome(self) -> Record | str:
        """The record, or why there is none."""
        return self._outcome if self._outcome is not None else "the run has not ended"

    def stop(self) -> None:
        """End the process."""
        if self._outcome is None:
            self._process.kill()  # it holds nothing that would have to be put away
            self._process.join(timeout=1.0)
            self._outcome = "the run was not wanted any more"
        self._ours.close()


def _work(theirs: Connection, case: Case, seed: int, ours: Connection | None) -> None:
    # A fork inherits the window's signal handlers, which wait for a window to close, and
    # the other end of the pipe, without which it would not notice that nobody reads.
    signal.signal(signal.SIGTERM, signal.SIG_DFL)
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    if ours is not None:
        ours.close()
    with contextlib.suppress(OSError):
        theirs.send(made(case, seed))
        theirs.close()


def made(case: Case, seed: int) -> Record | str:
    """The record of a run with motions, or in words why there is none."""
    # Loaded here: the window can be shown before it knows how trains move.
    from sim.run.run import run

    try:
        return run(case, seed, motions=True)
    except Exception as error:  # whatever it is, the window stays and tells it
        return f"{type(error).__name__}: {error}"


class Ready:
    """A run that was made at once."""

    def __init__(self, outcome: Record | str) -> None:
        self._outcome = outcome

    def done(self) -> bool:
        """It is."""
        return True

    def outcome(self) -> Record | str:
        """The record, or why there is none."""
        return self._outcome

    def stop(self) -> None:
        """Nothing to end."""


class Here:
    """Makes runs at once and in this process, for tests."""

    def start(self, case: Case, seed: int) -> Pending:
        """Make the run."""
        return Ready(made(case, seed))

    def close(self) -> None:
        """Nothing to let go of."""
