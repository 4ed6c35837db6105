"""Supplies that trip on a short or an overload, and come back."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

from sim.layout.model import Layout
from sim.records.causes import Cause
from sim.records.model import Trip
from sim.run.agenda import Agenda, Once, Turn
from sim.run.evidence import Evidence
from sim.run.explanation import explain_trip
from sim.run.kinematics import US_PER_S
from sim.run.operator import Operator
from sim.run.recorder import Recorder
from sim.run.supply import SupplyModel
from sim.run.train import RunningTrain

#: Whether shorts and overloads switch supplies off, or are only written down.
Protection = Literal["trips", "only tells"]


@dataclass(slots=True)
class Breaker:
    """One supply's trip, due at ``due_us`` while it is shorted.

    ``same`` is set while a short outlasts the retries.
    """

    on: bool = True
    shorted: bool = False
    same: bool = False
    due_us: int = -1
    token: int = 0


class Breakers:
    """Watches for shorts after every solution of the supply.

    One that ``only tells`` writes the trip that would have come, and every short
    that tracing finds, from the instant that it is there (an event ``short``, which
    ``begins`` or ``ends``); the supply stays on, and the run goes on.
    """

    def __init__(
        self,
        agenda: Agenda,
        recorder: Recorder,
        layout: Layout,
        supply: SupplyModel,
        solution: Once,
        trains: Sequence[RunningTrain],
        evidence: Evidence,
        operator: Operator,
        kind: Protection = "trips",
    ) -> None:
        self._agenda, self._recorder, self._layout = agenda, recorder, layout
        self._supply, self._solution = supply, solution
        self._trains, self._evidence, self._operator = trains, evidence, operator
        self._only_tells = kind == "only tells"
        self.states = [Breaker() for _ in layout.supplies]
        self._in_metal: set[int] = set()

    def look(self) -> None:
        """Start or stop the trip times of supplies that are newly shorted, or freed."""
        if self._only_tells:
            self._tell_shorts()
        shorted = self._supply.shorted()
        for s, state in enumerate(self.states):
            if not state.on or (s in shorted) == state.shorted:
                continue
            state.shorted = s in shorted
            state.token += 1
            if state.shorted:
                delay = round(self._layout.supplies[s].trip_s * US_PER_S)
                state.due_us = self._agenda.now + delay
                self._agenda.at(delay, Turn.TRIPS, self._trip, (s, state.token))
            else:
                state.same = False

    def _tell_shorts(self) -> None:
        """Write down shorts of metal and pickups that have just come, or gone."""
        for s, supply in enumerate(self._layout.supplies):
            if self._supply.is_shorted(s) != (s in self._in_metal):
                self._in_metal ^= {s}
                state = "begins" if s in self._in_metal else "ends"
                self._recorder.tell("short", supply.name, state)

    def _trip(self, due: tuple[int, int]) -> None:
        s, token = due
        if token != self.states[s].token:
            return
        # Supplies whose time is up at the same instant trip together: none of them
        # knows yet that another one's trip will end the short.
        together = [
            other
            for other, state in enumerate(self.states)
            if state.on and state.shorted and state.due_us == self._agenda.now
        ]
        causes = [explain_trip(self._evidence, other) for other in together]
        for other, (cause, culprits) in zip(together, causes, strict=True):
            self._switch_off(other, cause, culprits)

    def _switch_off(self, s: int, cause: Cause, culprits: Sequence[RunningTrain]) -> None:
        state = self.states[s]
        if not state.same:
            halted = tuple(
                m.name for m in self._trains if not m.gone and s in m.power.supplies and m.asked
            )
            name = self._layout.supplies[s].name
            solved = self._supply.amps(s)
            amps = None if solved is None else abs(solved)
            if self._only_tells:
                halted = ()
            self._recorder.trips.append(Trip(self._recorder.now_s, name, amps, cause, halted))
        if self._only_tells:
            state.token += 1  # it has been told; the next short is another one
            return
        state.on, state.shorted, state.same = False, False, True
        state.token += 1
        self._supply.switch(s, False)
        self._recorder.changed("supply", self._layout.supplies[s].name, "off")
        self._solution.request()
        for train in culprits:
            self._operator.free(train)
        retry = self._layout.supplies[s].retry_s
        if retry is not None:
            self._agenda.at(round(retry * US_PER_S), Turn.TRIPS, self._retry, (s, state.token))

    def _retry(self, due: tuple[int, int]) -> None:
        s, token = due
        state = self.states[s]
        if token != state.token:
            return
        state.on = True
        self._supply.switch(s, True)
        self._recorder.changed("supply", self._layout.supplies[s].name, "on")
        self._recorder.tell("reset", self._layout.supplies[s].name, "switched on again")
        self._solution.request()
        # Whether the short is still there shows once the supply has been solved.
        self._agenda.at(0, Turn.ORDERS, self._settled, s)

    def cut_off(self, s: int, off: bool) -> None:
        """Something else than a trip switches a supply off, or on again."""
        state = self.states[s]
        state.on, state.shorted, state.same = not off, False, False
        state.token += 1  # trips and retries under way are over
        self._supply.switch(s, state.on)
        self._recorder.changed(
            "supply", self._layout.supplies[s].name, "on" if state.on else "off"
        )
        self._solution.request()

    def _settled(self, s: int) -> None:
        state = self.states[s]
        if state.on and not state.shorted:
            state.same = False
