"""What reaches the motors: the seam between motion and power.

Motion tells a :class:`SupplyModel` which contacts are closed, what the
throttles say, and what is under every pickup; the model answers with a
:class:`SupplyReading` per unit.  A *unit* is one vehicle, or several that share their
pickups through couplings; it has two sides, numbered ``2 * unit`` and
``2 * unit + 1``, each wired together.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterable, Sequence
from dataclasses import dataclass
from enum import IntEnum
from typing import TYPE_CHECKING, Protocol

from sim.layout.model import PLASTIC, Supply
from sim.power.poles import Verdict, sources_of

if TYPE_CHECKING:
    from sim.circuit.voltage_drop import LostIn


@dataclass(frozen=True, slots=True)
class SupplyReading:
    """What a unit gets.

    ``verdict`` is None when live.  ``steps`` are (supply, sign) pairs: the
    voltage of side 0 above side 1 is the sum of sign times the supply's present
    voltage.  ``poles`` are a pole in the net of each side, None for no pole.
    ``volts`` is the same voltage as solved with all loads, None when only traced.
    """

    verdict: Verdict
    steps: tuple[tuple[int, int], ...] = ()
    poles: tuple[int | None, int | None] = (None, None)
    volts: float | None = None


NOTHING = SupplyReading("insulated")


class Doing(IntEnum):
    """What a unit's motors do, as far as the circuit needs to know."""

    IDLE = 0  #: nothing is asked of them
    STARTING = 1  #: asked to move, and standing
    RUNNING = 2  #: turning


class ThrottleSettings:
    """How far the throttle of every supply is open, and on DC which way it stands.

    ``share`` of full voltage, and ``signs`` +1 or -1, are by supply, as are ``throttled``
    (the throttle is its own), ``decodes`` (see :class:`sim.layout.supply_kinds.SupplyKind`)
    and ``nominal`` (full voltage as the supply is described).
    """

    __slots__ = ("decodes", "nominal", "share", "signs", "throttled")

    def __init__(self, supplies: Sequence[Supply]) -> None:
        self.throttled = [s.acts.has_throttle for s in supplies]
        self.decodes = [s.acts.decodes for s in supplies]
        self.nominal = [s.volts for s in sources_of(supplies)]
        self.signs = [1] * len(supplies)
        self.share = [0.0 if throttled else 1.0 for throttled in self.throttled]

    def volts(self, steps: Iterable[tuple[int, int]]) -> float:
        """The present voltage that ``steps`` add up to."""
        total = 0.0
        for s, sign in steps:
            total += sign * self.signs[s] * self.share[s] * self.nominal[s]
        return total

    def asks(self, supplies: Iterable[int], ordered: bool) -> bool:
        """Whether a train on ``supplies`` is asked to move.

        A digital supply is always on, so there the train's own orders decide.
        """
        return any(self.share[s] > 0.0 and (self.throttled[s] or ordered) for s in supplies)


#: Where the pickup of a side and slot stands: route, micrometres from its start, node.
Where = Callable[[int, int], tuple[int, float, int]]


class SupplyModel(Protocol):
    """How motion sees power: tracing alone, or with the circuit solved as well."""

    #: A train that has gone this far (micrometres) is due for a new solution.
    band_um: float

    def drive(self, supply: int, volts: float) -> bool:
        """What a supply gives with nothing on it; True if a solution is due."""

    def load(self, unit: int, doing: Doing, share: float) -> bool:
        """What a unit does, at what share of its measured speed; True if one is due."""

    def drift(self, units: Iterable[int]) -> None:
        """Units have gone so far that their places within sections are to be looked up."""

    def amps(self, supply: int) -> float | None:
        """Current of a supply as last solved; None when only traced."""

    def is_shorted(self, supply: int) -> bool:
        """Whether tracing finds the supply shorted, whatever current flows."""

    def losses(self, unit: int) -> tuple[tuple[LostIn, float], ...]:
        """What costs the unit most volts: (where, volts), greatest first; () when traced."""

    def same_metal(self, a: int, b: int) -> bool:
        """Whether a pickup that goes from node ``a`` to ``b`` can change nothing."""

    def set_contacts(self, closed: Iterable[int], opened: Iterable[int]) -> None:
        """Contacts (element indices) that have just closed, and just opened.

        Also permanent elements, where the model was told that they may open.
        """

    def tire(self, element: int, ohm: float | None) -> None:
        """An element has got ``ohm``, or is as it was again (None); tracing cannot tell."""

    def move(self, side: int, slot: int, node: int) -> bool:
        """Put pickup ``slot`` of ``side`` on ``node``; True if a solution is due."""

    def switch(self, supply: int, on: bool) -> None:
        """A supply trips or is switched on again."""

    def off(self) -> tuple[int, ...]:
        """Supplies that are off at present."""

    def turn(self, supply: int, sign: int) -> None:
        """A DC throttle is turned: ``sign`` +1 or -1."""

    def solve(self) -> Sequence[int]:
        """Bring readings up to date; the units whose reading has changed."""

    def reading(self, unit: int) -> SupplyReading:
        """The reading of ``unit`` as last solved."""

    def shorted(self) -> frozenset[int]:
        """Supplies that are shorted, as last solved."""

    def bridging_units(self) -> tuple[int, ...]:
        """Units that join nets at the moment."""

    def shorted_without(self, units: Collection[int]) -> frozenset[int]:
        """Supplies that would still be shorted if ``units`` were lifted."""

    def labels(self, side: int) -> tuple[int, ...]:
        """Labels of the nets under the pickups of ``side``, as last solved."""

    def label_of(self, node: int) -> int:
        """Label of the net that ``node`` is in, trains counted."""

    def pole_at(self, node: int) -> int | None:
        """A pole in the net of ``node``, trains counted; None when floating."""

    def changeable(self, node: int) -> bool:
        """Whether contacts decide what ``node`` is joined to."""

    def verdict_if(
        self,
        unit: int,
        closed: Iterable[int] = (),
        opened: Iterable[int] = (),
        bridged: Iterable[tuple[int, int]] = (),
        restored: Iterable[int] = (),
        mended: Iterable[int] = (),
    ) -> SupplyReading:
        """The reading of ``unit`` after a change that is only imagined.

        Contacts close or open, pairs of nodes are bridged, supplies are switched
        on, worn elements are made as good as new.  What shorts a supply, or joins two
        that are apart, answers ``short``: no fix may do either.
        """


__all__ = [
    "NOTHING",
    "PLASTIC",
    "Doing",
    "SupplyModel",
    "SupplyReading",
    "ThrottleSettings",
    "Where",
]
