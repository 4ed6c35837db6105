"""What weighing gives: criteria, a value for each of them and each fix, what nothing beats."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from sim.handwork.measures import Handwork
from sim.layout.traffic import Assumption

Better = Literal["less", "more"]


@dataclass(frozen=True, slots=True)
class Criterion:
    """One column: its name for ``--weight``, what it is in words, and what is better."""

    name: str
    words: str
    better: Better
    unit: str = ""


CRITERIA = (
    Criterion("dead", "settings with a dead place left", "less"),
    Criterion("short", "settings shorted", "less"),
    Criterion("joined", "pairs of loops no longer independent", "less"),
    Criterion("survived", "single faults after which all that is asked for is alive", "more"),
    Criterion("now-short", "single faults that short now and did not as built", "less"),
    Criterion("stalled", "stalled legs in 1,000", "less"),
    Criterion("trips", "trips of supplies in a run", "less"),
    Criterion("fit", "least length to spare on a board", "more", "mm"),
    Criterion("joints", "joints to solder", "less"),
    Criterion("holes", "holes to drill", "less"),
    Criterion("cuts", "cuts in rails or wires", "less"),
    Criterion("opened", "pieces and engines to open", "less"),
    Criterion("held-down", "pieces that can no longer be lifted out", "less"),
    Criterion("replaced", "pieces to alter or exchange", "less"),
    Criterion("wire", "wire", "less", "mm"),
    Criterion("clearance", "least room left under a cover", "more", "mm"),
    Criterion("only-here", "kinds of neighbours among which it does harm", "less"),
)


@dataclass(frozen=True, slots=True)
class Weighed:
    """One case. ``values`` are by criterion, None where nothing is known or limited.

    ``low`` and ``high`` are the interval of the stalled legs in 1,000.  ``beaten_by``
    names a case that is nowhere worse and somewhere better; None: nothing beats it.
    """

    name: str
    note: str
    found: bool
    values: tuple[float | None, ...]
    faults: int
    low: float | None
    high: float | None
    work: Handwork
    beaten_by: str | None
    words: tuple[str, ...]
    score: float | None = None

    @property
    def undominated(self) -> bool:
        """Whether no other case beats it."""
        return self.beaten_by is None


@dataclass(frozen=True, slots=True)
class Weighing:
    """All cases side by side."""

    scenario: str
    seed: int
    runs: int
    cases: tuple[Weighed, ...]
    weights: tuple[tuple[str, float], ...]
    assumptions: tuple[Assumption, ...]
    notes: tuple[str, ...]
