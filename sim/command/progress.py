"""A bar on standard error for work that takes longer than a second."""

from __future__ import annotations

import sys
import time
from types import TracebackType
from typing import TYPE_CHECKING, Self

if TYPE_CHECKING:
    from rich.progress import Progress, TaskID

SHOW_AFTER_S = 1.0


class Bar:
    """Shows nothing unless standard error is a terminal and the work takes long.

    Drawn only when told to, without a thread of its own: processes are forked
    while it is shown.
    """

    def __init__(self, what: str) -> None:
        self._what = what
        self._begun = time.monotonic()
        self._first = sys.maxsize
        self._bar: Progress | None = None
        self._task: TaskID | None = None

    def show(self, done: int, total: int) -> None:
        """``done`` of ``total`` jobs are done."""
        self._first = min(self._first, done - 1)  # what was there already is no work done
        if not sys.stderr.isatty() or time.monotonic() - self._begun < SHOW_AFTER_S:
            return
        if self._bar is None:
            self._bar = _new_bar()
            self._bar.start()
            self._task = self._bar.add_task(self._what, total=total, rate="")
        if self._task is not None:
            rate = (done - self._first) / (time.monotonic() - self._begun)
            self._bar.update(
                self._task,
                completed=done,
                total=total,
                rate=f"{rate:.1f} a second",
                refresh=True,
            )

    def __enter__(self) -> Self:
        """Begin to count the time."""
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        """Take the bar away."""
        if self._bar is not None:
            self._bar.stop()


def _new_bar() -> Progress:
    from rich.console import Console
    from rich.progress import (
        BarColumn,
        Progress,
        TaskProgressColumn,
        TextColumn,
        TimeRemainingColumn,
    )

    return Progress(
        TextColumn("{task.description}"),
        BarColumn(),
        TaskProgressColumn(),
        TextColumn("{task.fields[rate]}"),
        TextColumn("left"),
        TimeRemainingColumn(),
        console=Console(stderr=True),
        transient=True,
        auto_refresh=False,
    )
