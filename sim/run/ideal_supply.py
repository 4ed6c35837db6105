"""Supply as it would be if nothing were wrong: the run that every other is measured by.

Every motor has the voltage that its throttle asks for, still one throttle a supply
on DC.  Nothing is dead, nothing shorts, reverses or trips.  Which throttle that is,
and which way it points, tracing tells where it can: on live rails, and beside a rail
that has a pole.  Elsewhere a train keeps what it had.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Sequence
from typing import TYPE_CHECKING

from sim.run.supply import Doing, SupplyReading, ThrottleSettings
from sim.run.traced_supply import TracedSupply

if TYPE_CHECKING:
    from sim.circuit.voltage_drop import LostIn


class IdealSupply:
    """A :class:`sim.run.supply.SupplyModel` under which every unit has its volts."""

    def __init__(self, traced: TracedSupply, settings: ThrottleSettings, units: int) -> None:
        self._traced, self._settings = traced, settings
        self.band_um = traced.band_um
        #: by unit: (supply, sign of side 0 above side 1)
        self._given: list[tuple[int, int]] = [(0, 1)] * units
        self._known = [False] * units

    def _look(self, unit: int) -> bool:
        """Bring up to date which supply ``unit`` has; True if it is another one."""
        reading = self._traced.reading(unit)
        supplies = {p // 2 for p in reading.poles if p is not None}
        if len(supplies) != 1:
            return False
        (s,) = supplies
        before = self._given[unit]
        if self._known[unit] and before[0] == s:
            return False
        found = s, self._sign(s, reading)
        if self._known[unit] and self._points(found) != self._points(before):
            found = s, -found[1]  # nothing reverses
        self._given[unit], self._known[unit] = found, True
        return found != before

    def _sign(self, s: int, reading: SupplyReading) -> int:
        if reading.verdict is None and len(reading.steps) == 1:
            return reading.steps[0][1]
        side = next(k for k, pole in enumerate(reading.poles) if pole is not None)
        pole = reading.poles[side]
        plus = pole is not None and pole % 2 == 0
        return 1 if plus == (side == 0) else -1

    def _points(self, given: tuple[int, int]) -> bool:
        """Which way a unit with that supply goes."""
        s, sign = given
        return sign * self._settings.signs[s] * self._settings.nominal[s] > 0.0

    def solve(self) -> Sequence[int]:
        """Bring readings up to date; the units whose reading has changed."""
        self._traced.solve()
        return [unit for unit in range(len(self._given)) if self._look(unit)]

    def reading(self, unit: int) -> SupplyReading:
        """Live, whatever is under it."""
        s, sign = self._given[unit]
        poles = (2 * s, 2 * s + 1) if sign > 0 else (2 * s + 1, 2 * s)
        return SupplyReading(None, ((s, sign),), poles)

    def shorted(self) -> frozenset[int]:
        """None is."""
        return frozenset()

    def is_shorted(self, supply: int) -> bool:
        """None is."""
        return False

    def shorted_without(self, units: Collection[int]) -> frozenset[int]:
        """None is."""
        return frozenset()

    def off(self) -> tuple[int, ...]:
        """None is."""
        return ()

    def switch(self, supply: int, on: bool) -> None:
        """Nothing trips."""

    # -- what tracing is told and tells ------------------------------------------

    def drive(self, supply: int, volts: float) -> bool:
        """What a supply gives with nothing on it; True if a solution is due."""
        return self._traced.drive(supply, volts)

    def load(self, unit: int, doing: Doing, share: float) -> bool:
        """What a unit does changes nothing here."""
        return False

    def drift(self, units: Iterable[int]) -> None:
        """Where a unit is within a section changes nothing here."""

    def amps(self, supply: int) -> float | None:
        """Nothing is solved."""
        return None

    def losses(self, unit: int) -> tuple[tuple[LostIn, float], ...]:
        """Nothing costs volts."""
        return ()

    def same_metal(self, a: int, b: int) -> bool:
        """Whether a pickup that goes from node ``a`` to ``b`` can change nothing."""
        return self._traced.same_metal(a, b)

    def set_contacts(self, closed: Iterable[int], opened: Iterable[int]) -> None:
        """Contacts that have just closed, and just opened."""
        self._traced.set_contacts(closed, opened)

    def tire(self, element: int, ohm: float | None) -> None:
        """Ohms change nothing here."""

    def move(self, side: int, slot: int, node: int) -> bool:
        """Put pickup ``slot`` of ``side`` on ``node``; True if a solution is due."""
        return self._traced.move(side, slot, node)

    def turn(self, supply: int, sign: int) -> None:
        """A DC throttle is turned."""
        self._traced.turn(supply, sign)

    def bridging_units(self) -> tuple[int, ...]:
        """Units that join nets at the moment."""
        return self._traced.bridging_units()

    def labels(self, side: int) -> tuple[int, ...]:
        """Labels of the nets under the pickups of ``side``."""
        return self._traced.labels(side)

    def label_of(self, node: int) -> int:
        """Label of the net that ``node`` is in."""
        return self._traced.label_of(node)

    def pole_at(self, node: int) -> int | None:
        """A pole in the net of ``node``; None when floating."""
        return self._traced.pole_at(node)

    def changeable(self, node: int) -> bool:
        """Whether contacts decide what ``node`` is joined to."""
        return self._traced.changeable(node)

    def verdict_if(
        self,
        unit: int,
        closed: Iterable[int] = (),
        opened: Iterable[int] = (),
        bridged: Iterable[tuple[int, int]] = (),
        restored: Iterable[int] = (),
        mended: Iterable[int] = (),
    ) -> SupplyReading:
        """Nothing needs to be imagined: it is live."""
        return self.reading(unit)
