"""What judging a layout comes to, in numbers: light, for those who only read it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

Why = Literal[
    "short", "short when crossing", "train stops", "districts joined", "not kept live"
]


@dataclass(frozen=True, slots=True)
class DriveCounts:
    """How many drives came to what; ``joining`` are some of all of them."""

    clear: int = 0
    hesitates: int = 0
    stops_at_crawl: int = 0
    stops: int = 0
    shorts: int = 0
    joining: int = 0

    @property
    def total(self) -> int:
        """All drives in use."""
        return self.clear + self.hesitates + self.stops_at_crawl + self.stops + self.shorts
