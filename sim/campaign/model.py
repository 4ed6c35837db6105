"""What a campaign comes to: inert results, ready for pages."""

from __future__ import annotations

from dataclasses import dataclass

from sim.judge.comparison import Comparison
from sim.judge.stats import Interval
from sim.scenario.bands import Band


@dataclass(frozen=True, slots=True)
class RunShare:
    """Runs of one case in which anything stalled, of all its runs.

    Runs are independent of each other, so both intervals hold as they are: ``wilson``
    and ``exact`` (Clopper and Pearson's); None where nothing in the case is random.
    """

    case: str
    runs: int
    stalled: int
    wilson: Interval | None
    exact: Interval | None


@dataclass(frozen=True, slots=True)
class Trouble:
    """Mean number of stalls, trips and derailments of one case per run."""

    case: str
    per_run: float


@dataclass(frozen=True, slots=True)
class End:
    """One end of a band: the cases by trouble there, the least first.

    ``changes`` tells whether another case comes out best than with the scenario's
    own assumptions over the same runs.
    """

    value: float
    ranking: tuple[Trouble, ...]
    changes: bool


@dataclass(frozen=True, slots=True)
class Swing:
    """What one assumption may do to the ranking of fixes, from one end to the other."""

    band: Band
    runs: int
    own: tuple[Trouble, ...]
    ends: tuple[End, ...]

    @property
    def changes(self) -> bool:
        """Whether this assumption could change the choice of fix."""
        return any(end.changes for end in self.ends)


@dataclass(frozen=True, slots=True)
class Campaign:
    """A campaign's results.

    ``asked`` is the number of runs that were to be made at most; ``width`` the
    widest interval of stalled legs per leg that was reached, and ``until_width``
    the one that was wanted, if any.  ``damaged`` is how many kept runs could not
    be read and were made again.
    """

    comparison: Comparison
    shares: tuple[RunShare, ...]
    ranking: tuple[Trouble, ...]
    swings: tuple[Swing, ...]
    asked: int
    until_width: float | None
    width: float | None
