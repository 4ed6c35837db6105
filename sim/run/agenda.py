"""The clock of a run, and the order of equal instants.

SimPy keeps the clock: one ``Timeout`` for each instant at which anything happens.
What happens then, and in which order, is the agenda of the run: by time, then by
:class:`Turn`, then in the order in which it was asked for.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from enum import IntEnum
from heapq import heappop, heappush
from math import inf
from operator import itemgetter
from typing import Any, TypeVar

import simpy

T = TypeVar("T")


class Turn(IntEnum):
    """The order of equal instants.

    The wheels of one train leave one section and arrive on the next in one
    event, those that leave first, and nothing looks at the supply before all
    wheels of the instant have moved.
    """

    LEVERS = 1
    WHEELS = 2
    SOLVE = 3
    TRIPS = 4
    MOTION = 5
    ORDERS = 6
    STALLS = 7


class Agenda:
    """What is still to happen in a run. Times are whole microseconds since its start.

    Everything is asked for before the clock first runs, or by what happens as it does.
    """

    __slots__ = ("_due", "_env", "_wakes", "asked", "now")

    def __init__(self) -> None:
        self._env = simpy.Environment()
        self._due: list[tuple[int, int, int, Callable[[Any], None], Any]] = []
        self.now = 0
        self.asked = 0  #: how many things have been asked for
        self._wakes: int | None = None  #: the instant that a timeout is set for

    def at(self, delay_us: int, turn: Turn, call: Callable[[T], None], what: T) -> None:
        """Call ``call(what)`` in ``delay_us``, in its turn among equal instants."""
        self.asked = serial = self.asked + 1
        heappush(self._due, (self.now + delay_us, turn, serial, call, what))

    def plan(
        self, turn: Turn, call: Callable[[T], None], plans: Iterable[tuple[int, T]]
    ) -> None:
        """:meth:`at` for each of ``plans``: (delay in µs, what), however many there are.

        Of those only the next is ever among what is due, so that a plan for months does
        not make every other thing dearer.
        """
        planned: list[tuple[int, int, T]] = []
        for delay_us, what in plans:
            self.asked += 1
            planned.append((self.now + delay_us, self.asked, what))
        planned.sort(key=itemgetter(0, 1), reverse=True)

        def put_next() -> None:
            if planned:
                time_us, serial, what = planned.pop()
                heappush(self._due, (time_us, turn, serial, call_and_put_next, what))

        def call_and_put_next(what: T) -> None:
            put_next()
            call(what)

        put_next()

    def _wake(self) -> None:
        """Have SimPy wait for the next instant at which something is due."""
        self._wakes = instant = self._due[0][0]
        self._env.timeout(instant - self.now).callbacks.append(self._instant)

    def _instant(self, timeout: simpy.Event) -> None:
        """Do everything that is due at this instant."""
        due, instant = self._due, self._wakes
        assert instant is not None
        self.now = instant
        while due and due[0][0] == instant:
            _, _, _, call, what = heappop(due)
            call(what)
        self._wakes = None
        if due:
            self._wake()

    @property
    def next_us(self) -> float:
        """When something is due next; infinite when nothing is."""
        return self._due[0][0] if self._due else inf

    def do_next(self) -> None:
        """Let the next instant pass, with everything that is due then."""
        if self._wakes is None and self._due:
            self._wake()
        self._env.step()

    def run_until(self, end_us: int) -> None:
        """Let everything happen that is due before ``end_us``."""
        if self._wakes is None and self._due:
            self._wake()
        if end_us > self._env.now:
            self._env.run(until=end_us)
        self.now = end_us


class Once:
    """Something that is done once in an instant, however often it is asked for."""

    __slots__ = ("_agenda", "_do", "_turn", "due")

    def __init__(self, agenda: Agenda, turn: Turn, do: Callable[[], None]) -> None:
        self._agenda, self._turn, self._do = agenda, turn, do
        self.due = False

    def request(self) -> None:
        """Have it done in its turn of this instant."""
        if not self.due:
            self.due = True
            self._agenda.at(0, self._turn, self._call, None)

    def _call(self, _: None) -> None:
        self.due = False
        self._do()
