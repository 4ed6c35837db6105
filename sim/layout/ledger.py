"""Settle what a scenario leaves open, and write down whose number each one is."""

from __future__ import annotations

from sim.layout.traffic import Assumption
from sim.scenario.defaults import OURS, Default, defaults_for

YOURS = "yours"


class Ledger:
    """Picks the scenario's own value or the starting value, and notes which it was."""

    def __init__(self, gauge_mm: float) -> None:
        self._defaults: dict[str, Default] = defaults_for(gauge_mm)
        self._noted: dict[tuple[str, str, str], None] = {}

    def pick(self, key: str, given: float | None, what: str) -> float:
        """``given``, or the starting value of ``key``; noted under ``what``."""
        default = self._defaults[key]
        value = default.value if given is None else given
        text = f"{value:g} {default.unit}".strip()
        self.note(what, text, default.whose if given is None else YOURS)
        return float(value)

    def pick_text(self, given: str | None, default: str, what: str, whose: str = OURS) -> str:
        """Like :meth:`pick` for a text such as a wire size."""
        value = default if given is None else given
        self.note(what, value, whose if given is None else YOURS)
        return value

    def note(self, what: str, value: str, whose: str) -> None:
        """Write one line, once."""
        self._noted[what, value, whose] = None

    @property
    def assumptions(self) -> tuple[Assumption, ...]:
        """All that was noted, in order."""
        return tuple(Assumption(*line) for line in self._noted)
