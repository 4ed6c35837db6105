"""What a worksheet says."""

from __future__ import annotations

from dataclasses import dataclass

from sim.analyses.handwork.hazards import Caution, Refusal
from sim.analyses.handwork.tasks import Stage, Task
from sim.layout.traffic import Assumption
from sim.pieces.model import Face

#: What a meter's leads alone read, ohm (common practice, no source).
LEADS_OHM = 0.3
#: What a reading may be above what is expected and still count as good, ohm (ours).
SPARE_OHM = 0.3
#: The load for the lamp table, ohm: a 15 ohm 10 W resistor (common practice, no source).
LOAD_OHM = 15.0
#: Volts below the expected by at most this share count as good (ours: half the 10 % limit
#: of common practice, no source).
GOOD_SHARE = 0.05


@dataclass(frozen=True, slots=True)
class Spot:
    """A numbered place. ``x_mm`` and ``y_mm`` are in the drawing of its piece.

    ``solder``: a wire is soldered here.  ``refused``: why it must not be.
    """

    number: int
    ref: str
    section: str
    piece: str
    x_mm: float
    y_mm: float
    face: Face
    solder: bool
    iron_s: float | None = None
    refused: Refusal | None = None
    words: str = ""


@dataclass(frozen=True, slots=True)
class WireRow:
    """A wire to cut: from and to are numbers of places, None where it goes to a supply.

    Lengths in mm.  ``measured`` is False where the length is a starting value only.
    """

    name: str
    start: int | None
    start_words: str
    to: int | None
    to_words: str
    cut_mm: float
    measured: bool
    wire: str
    bare_mm: float
    sleeve_mm: float
    way: str


@dataclass(frozen=True, slots=True)
class Expected:
    """What a meter should read: joined with ohms up to ``good_ohm``, or open."""

    joined: bool
    ohm: float = 0.0
    good_ohm: float = 0.0


@dataclass(frozen=True, slots=True)
class MeterRow:
    """One pair of places; ``before`` and ``after`` by setting, None where it is not there."""

    a: int
    b: int
    before: tuple[Expected | None, ...]
    after: tuple[Expected | None, ...]

    @property
    def stays_open(self) -> bool:
        """Open in every setting with the fix."""
        return all(e is not None and not e.joined for e in self.after)


@dataclass(frozen=True, slots=True)
class MeterTable:
    """Readings on one board by itself. ``settings`` are in words."""

    board: str
    settings: tuple[str, ...]
    rows: tuple[MeterRow, ...]
    isolation: tuple[MeterRow, ...]
    left_out: int = 0  #: settings that are not in the table


@dataclass(frozen=True, slots=True)
class Lit:
    """What a load across two rails shows: a state, and volts where it is live."""

    state: str
    volts: float | None = None
    good_from: float | None = None
    good_to: float | None = None


@dataclass(frozen=True, slots=True)
class LampRow:
    """A stretch of a route in a setting that sets it; mm from the route's start."""

    route: str
    setting: str
    from_mm: float
    to_mm: float
    left: str
    right: str
    before: Lit | None
    after: Lit


@dataclass(frozen=True, slots=True)
class StepOfWork:
    """One step: what to do, and the details."""

    stage: Stage
    details: tuple[Task, ...]


@dataclass(frozen=True, slots=True)
class Worksheet:
    """Everything that the sheet says."""

    scenario: str
    fix: str
    note: str
    pieces: tuple[str, ...]  #: ids of the pieces that are drawn
    spots: tuple[Spot, ...]
    wires: tuple[WireRow, ...]
    steps: tuple[StepOfWork, ...]
    trial: tuple[Task, ...]
    meter: tuple[MeterTable, ...]
    lamp: tuple[LampRow, ...]
    lamp_left_out: int
    refused: tuple[Refusal, ...]
    hints: tuple[Caution, ...]
    assumptions: tuple[Assumption, ...]
