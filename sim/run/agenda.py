"""The clock of a run, and what everything in it can see.

SimPy's heap orders events by time, then priority, then the order in which they
were asked for.  :class:`Turn` is that priority: the order of equal instants.
"""

from __future__ import annotations

from collections.abc import Callable
from enum import IntEnum
from typing import TYPE_CHECKING, Literal, TypeVar, cast

import simpy
from simpy.events import EventPriority

from sim.layout.traffic import Case
from sim.records.model import Change, Event
from sim.run.levers import LeverFrame
from sim.run.path import Tracks
from sim.run.recorder import Ledger, seconds
from sim.run.supply import SupplyModel

if TYPE_CHECKING:
    from sim.run.driver import Throttles
    from sim.run.faults import Faults
    from sim.run.lever_drive import SignalBox
    from sim.run.operator import Hand
    from sim.run.protection import Breakers
    from sim.run.recorder import Journal
    from sim.run.reservations import Claims
    from sim.run.route_setting import Crossings
    from sim.run.timetable import Yard
    from sim.run.train import Mover


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


class Alarm(simpy.Event):
    """An event that has come about as soon as it is made, and calls one function."""

    def __init__(self, env: simpy.Environment, ring: Callable[[simpy.Event], None]) -> None:
        self.env = env
        self.callbacks = [ring]
        self._value = None
        self._ok = True


class World:
    """Everything that takes part in one run."""

    levers: LeverFrame
    supply: SupplyModel
    movers: list[Mover]
    claims: Claims
    breakers: Breakers
    throttles: Throttles
    hand: Hand
    box: SignalBox
    journal: Journal
    crossings: Crossings
    faults: Faults
    yard: Yard

    def __init__(self, case: Case, seed: int, watch: bool, luck: bool = True) -> None:
        self.case = case
        self.seed = seed
        self.luck = luck  #: whether anything may fail by chance
        self.watch = watch  #: keep every change of motion in the record
        self.layout = case.layout
        self.conduct = case.conduct
        self.env = simpy.Environment(0)
        self.ledger = Ledger()
        self.tracks = Tracks(case.layout)
        self.unit_owner: list[Mover] = []
        self.events = 0  #: how many alarms have been set
        self._solve_due = False

    @property
    def now(self) -> int:
        """Microseconds since the start."""
        # SimPy's own property would cost as much again; the clock began at a whole number.
        return self.env._now  # type: ignore[return-value]

    def at(self, delay_us: int, turn: Turn, call: Callable[[T], None], what: T) -> None:
        """Call ``call(what)`` in ``delay_us``, in its turn among equal instants."""
        event = Alarm(self.env, lambda _: call(what))
        self.events += 1
        # SimPy's own two priorities are an enum; its heap compares any whole number.
        self.env.schedule(event, cast(EventPriority, turn), delay_us)

    def tell(self, what: str, who: str, detail: str) -> None:
        """Write an event into the record."""
        self.ledger.events.append(Event(seconds(self.now), what, who, detail))

    def changed(
        self, what: Literal["lever", "contact", "supply"], who: str, state: str
    ) -> None:
        """Keep in the record, when watched, how a thing is from now on."""
        if self.watch:
            self.ledger.changes.append(Change(seconds(self.now), what, who, state))

    def request_solve(self) -> None:
        """Have the supply solved once, after all wheels of this instant."""
        if not self._solve_due:
            self._solve_due = True
            self.at(0, Turn.SOLVE, self._solve, None)

    def _solve(self, _: None) -> None:
        self._solve_due = False
        changed = self.supply.solve()
        self.breakers.look()
        owners = list(dict.fromkeys(self.unit_owner[u] for u in changed))
        self.throttles.meet(owners)
        for owner in owners:
            owner.power_changed()
        if owners:
            self.throttles.look()
