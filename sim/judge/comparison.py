"""What comes out of a comparison: inert results, ready for pages."""

from __future__ import annotations

from dataclasses import dataclass

from sim.drive.counts import DriveCounts, Why
from sim.judge.judgement import Verdict
from sim.judge.tally import PieceStalls, SectionStalls
from sim.layout.traffic import Assumption

AS_BUILT = "as built"


@dataclass(frozen=True, slots=True, order=True)
class Joint:
    """Supplies that some setting joins: the poles and how."""

    poles: tuple[str, ...]
    how: str


@dataclass(frozen=True, slots=True)
class LeverByLever:
    """Settings with every lever taken by itself, as when one does not follow its gang."""

    total: int
    dead: int
    short: int


@dataclass(frozen=True, slots=True)
class Settings:
    """Settings of the levers: how many were charted, dead or shorted, and what they join.

    ``skipped`` says why only those that the timetable uses were charted.
    ``each`` is there when the settings are those of gangs.  ``districts`` are the
    pairs of districts whose rails some setting joins with all feeders lifted.
    """

    total: int
    dead: int
    short: int
    joined: tuple[Joint, ...] = ()
    skipped: str | None = None
    each: LeverByLever | None = None
    districts: tuple[tuple[str, str], ...] = ()
    order: OrderFacts | None = None


@dataclass(frozen=True, slots=True)
class Clean:
    """Clean legs of the ideal run's, over all replications.

    ``legs`` of ``ideal`` in all; ``by_run`` the clean ones of each run (one number
    where nothing is random), ``of`` the ideal ones of one run.  ``low`` and ``high``
    bound the share, None where nothing is random or all runs agree.  ``stopped``
    counts what stopped the others, the last of them legs that were ``not reached``;
    ``beyond`` are clean legs that the ideal run does not finish.
    """

    legs: int
    ideal: int
    by_run: tuple[int, ...]
    of: int
    low: float | None
    high: float | None
    stopped: tuple[tuple[str, int], ...]
    beyond: int

    @property
    def share(self) -> float | None:
        """Of the ideal legs; None where there are none."""
        return self.legs / self.ideal if self.ideal else None

    @property
    def agree(self) -> bool:
        """Whether all runs came to the same number."""
        return len(set(self.by_run)) == 1


@dataclass(frozen=True, slots=True)
class OrderFacts:
    """What judging the layout of a case came to: see :mod:`sim.drive.in_order`."""

    ok: bool
    why: tuple[Why, ...]
    drives: DriveCounts
    settings: int
    by_timetable: bool
    trains: tuple[str, ...]

    @property
    def shorts(self) -> bool:
        """Whether anything in use shorts."""
        return "short" in self.why or "short when crossing" in self.why


@dataclass(frozen=True, slots=True)
class CaseResult:
    """One case over all replications: totals, not means.

    ``stall_rate`` is stalled legs per leg, None without legs; ``stall_low`` and
    ``stall_high`` are its 95 % interval, None where nothing is random or only one run
    was made.  A case in which nothing is random is run once and counted as
    often as the others, so that totals can be compared.
    """

    name: str
    note: str
    random: bool
    legs: int
    stalled_legs: int
    passes: int
    stalled_passes: int
    stalls: int
    hesitations: int
    trips: int
    derailments: int
    run_throughs: int
    stall_rate: float | None
    stall_low: float | None
    stall_high: float | None
    by_section: tuple[SectionStalls, ...]
    by_piece: tuple[PieceStalls, ...]
    settings: Settings
    clean: Clean


@dataclass(frozen=True, slots=True)
class Difference:
    """As built less fix, paired over replications.

    ``stalls_removed`` is the mean per run; ``low`` and ``high`` its 95 %
    interval and ``p_value`` the sign-flip test's, None where nothing is random
    or one run was made (the interval also with fewer than six).  ``exact`` is
    False where the table of sums got too large and Student's t stood in.
    ``legs_cured`` and ``legs_harmed`` count ideal legs that were stopped only as built, or
    only with the fix, and ran clean with the other.  ``runs_cured`` and ``runs_harmed`` do
    so for whole runs with any stall, with the exact McNemar ``runs_p_value``.
    """

    fix: str
    stalls_removed: float
    low: float | None
    high: float | None
    p_value: float | None
    exact: bool
    legs_cured: int
    legs_harmed: int
    runs_cured: int
    runs_harmed: int
    runs_p_value: float | None


@dataclass(frozen=True, slots=True)
class Comparison:
    """As built and every fix, on the same replications.

    ``runs`` is how many replications were made: 1 where no case has anything
    random, else what was asked for.  ``seeds`` are the replications' own seeds,
    so that each can be run and looked at alone.
    """

    scenario: str
    seed: int
    runs: int
    seeds: tuple[int, ...]
    duration_s: float
    cases: tuple[CaseResult, ...]
    differences: tuple[Difference, ...]
    assumptions: tuple[Assumption, ...]
    verdict: Verdict | None = None

    @property
    def as_built(self) -> CaseResult:
        """The case without a fix."""
        return self.cases[0]
