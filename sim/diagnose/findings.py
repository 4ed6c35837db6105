"""What tracing a fault finds: explanations, readings in doubt, and what to read next."""

from __future__ import annotations

from dataclasses import dataclass

from sim.diagnose.model import Fault
from sim.diagnose.next_reading import Suggestion
from sim.readings.model import Reading


@dataclass(frozen=True, slots=True)
class Explanation:
    """A minimal set of faults that explains everything, and its share of likelihood.

    ``group`` is the same for explanations that no reading still to be taken tells apart.
    """

    faults: tuple[Fault, ...]
    share: float
    group: int = 0


@dataclass(frozen=True, slots=True)
class Retake:
    """Readings to take again: were they wrong, ``faults`` would explain all the others.

    ``faults`` is None where the readings contradict one another whatever is wrong.
    """

    readings: tuple[int, ...]
    faults: tuple[Fault, ...] | None
    share: float


@dataclass(frozen=True, slots=True)
class Findings:
    """What can be said after some readings.

    ``sound``: a layout with nothing wrong would read the same; one of the explanations
    then has no fault.  ``explanations`` come most likely first.  ``retakes``: the
    smallest sets of readings that must be wrong, where nothing explains all; ``doubts``:
    where only several faults at once do, a single wrong reading that would leave less to
    explain.  ``easy`` is the
    best reading from outside, ``opened`` one that needs the piece opened and tells more.
    """

    readings: tuple[Reading, ...]
    sound: bool
    explanations: tuple[Explanation, ...]
    retakes: tuple[Retake, ...]
    impossible: bool
    doubts: tuple[Retake, ...]
    easy: Suggestion | None
    opened: Suggestion | None
    faults_at_once: int
    complete: bool
    looked_at: int

    @property
    def simplest(self) -> tuple[Explanation, ...]:
        """Explanations of the fewest faults, and that nothing is wrong if that explains all."""
        fewest = min((len(e.faults) for e in self.explanations if e.faults), default=0)
        return tuple(e for e in self.explanations if len(e.faults) <= fewest)

    @property
    def groups(self) -> int:
        """How many groups of the simplest explanations could still be told apart."""
        return len({e.group for e in self.simplest})
