"""Supplies that trip on a short or an overload, and come back."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

from sim.records.model import Trip
from sim.run.agenda import Turn
from sim.run.explanation import explain_trip
from sim.run.kinematics import US_PER_S
from sim.run.recorder import seconds

if TYPE_CHECKING:
    from sim.run.agenda import World
    from sim.run.train import Mover


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

    def __init__(self, world: World, kind: Protection = "trips") -> None:
        self._world = world
        self._only_tells = kind == "only tells"
        self.states = [Breaker() for _ in world.layout.supplies]
        self._in_metal: set[int] = set()

    def look(self) -> None:
        """Start or stop the trip times of supplies that are newly shorted, or freed."""
        if self._only_tells:
            self._tell_shorts()
        shorted = self._world.supply.shorted()
        for s, state in enumerate(self.states):
            if not state.on or (s in shorted) == state.shorted:
                continue
            state.shorted = s in shorted
            state.token += 1
            if state.shorted:
                delay = round(self._world.layout.supplies[s].trip_s * US_PER_S)
                state.due_us = self._world.now + delay
                self._world.at(delay, Turn.TRIPS, self._trip, (s, state.token))
            else:
                state.same = False

    def _tell_shorts(self) -> None:
        """Write down shorts of metal and pickups that have just come, or gone."""
        for s, supply in enumerate(self._world.layout.supplies):
            if self._world.supply.is_shorted(s) != (s in self._in_metal):
                self._in_metal ^= {s}
                state = "begins" if s in self._in_metal else "ends"
                self._world.tell("short", supply.name, state)

    def _trip(self, due: tuple[int, int]) -> None:
        s, token = due
        if token != self.states[s].token:
            return
        # Supplies whose time is up at the same instant trip together: none of them
        # knows yet that another one's trip will end the short.
        together = [
            other
            for other, state in enumerate(self.states)
            if state.on and state.shorted and state.due_us == self._world.now
        ]
        causes = [explain_trip(self._world, other) for other in together]
        for other, (cause, culprits) in zip(together, causes, strict=True):
            self._switch_off(other, cause, culprits)

    def _switch_off(self, s: int, cause: tuple[str, ...], culprits: Sequence[Mover]) -> None:
        state, world = self.states[s], self._world
        if not state.same:
            halted = tuple(
                m.train.name
                for m in world.movers
                if not m.gone and s in m.power.supplies and m.power.asked
            )
            name = world.layout.supplies[s].name
            solved = world.supply.amps(s)
            amps = None if solved is None else abs(solved)
            if self._only_tells:
                halted = ()
            world.ledger.trips.append(Trip(seconds(world.now), name, amps, cause, halted))
        if self._only_tells:
            state.token += 1  # it has been told; the next short is another one
            return
        state.on, state.shorted, state.same = False, False, True
        state.token += 1
        world.supply.switch(s, False)
        world.changed("supply", world.layout.supplies[s].name, "off")
        world.request_solve()
        for mover in culprits:
            world.hand.free(mover)
        retry = world.layout.supplies[s].retry_s
        if retry is not None:
            world.at(round(retry * US_PER_S), Turn.TRIPS, self._retry, (s, state.token))

    def _retry(self, due: tuple[int, int]) -> None:
        s, token = due
        state, world = self.states[s], self._world
        if token != state.token:
            return
        state.on = True
        world.supply.switch(s, True)
        world.changed("supply", world.layout.supplies[s].name, "on")
        world.tell("reset", world.layout.supplies[s].name, "switched on again")
        world.request_solve()
        # Whether the short is still there shows once the supply has been solved.
        world.at(0, Turn.ORDERS, self._settled, s)

    def cut_off(self, s: int, off: bool) -> None:
        """Something else than a trip switches a supply off, or on again."""
        state, world = self.states[s], self._world
        state.on, state.shorted, state.same = not off, False, False
        state.token += 1  # trips and retries under way are over
        world.supply.switch(s, state.on)
        world.changed("supply", world.layout.supplies[s].name, "on" if state.on else "off")
        world.request_solve()

    def _settled(self, s: int) -> None:
        state = self.states[s]
        if state.on and not state.shorted:
            state.same = False
