"""The energy store of a train: how long it still drives with the supply cut."""

from __future__ import annotations

from enum import IntEnum

from sim.layout.traffic import Train
from sim.motion.kinematics import US_PER_S

#: Less than this is empty: half of the shortest time there is.
LEAST_S = 0.5 / US_PER_S


class Flow(IntEnum):
    """What the store does at present."""

    DRAINS = -1
    KEEPS = 0
    FILLS = 1


class EnergyStore:
    """Full at the start; ``level_s`` is for how many seconds it still lasts.

    It drains while the motor lives on it, fills while the pickups have usable
    supply (an empty one in ``refill_s``), and keeps its charge otherwise.
    """

    __slots__ = ("_full_s", "_gain", "_since_us", "flow", "level_s")

    def __init__(self, train: Train) -> None:
        self._full_s = self.level_s = train.energy_store_s
        self._gain = train.energy_store_s / train.refill_s if train.refill_s > 0.0 else None
        self._since_us = 0
        self.flow = Flow.KEEPS

    def bring(self, now_us: int) -> None:
        """Bring the level up to this instant."""
        passed_s = (now_us - self._since_us) / US_PER_S
        self._since_us = now_us
        if self.flow is Flow.DRAINS:
            left_s = self.level_s - passed_s
            self.level_s = left_s if left_s > LEAST_S else 0.0
        elif self.flow is Flow.FILLS:
            gain = self._full_s if self._gain is None else passed_s * self._gain
            self.level_s = min(self._full_s, self.level_s + gain)

    def empty_in_us(self) -> int:
        """When it will be empty; at that instant it counts as empty."""
        return max(1, round(self.level_s * US_PER_S))
