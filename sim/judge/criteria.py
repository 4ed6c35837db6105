"""The criteria of weighing, which cases nothing beats, and what is said of each.

What weighing gives: criteria, a value for each of them and each fix, what nothing beats.

Which cases nothing beats, and what each of them gives up.

A case beats another when it is nowhere worse and somewhere better (Pareto).  No
criterion outweighs another unless the user says so.

Say of each case what it is best at and what it gives up.

Stalled legs in 1,000, where a tripped supply kept trains from running any.

A train on a supply that has tripped stands still and runs no leg, so no leg of it can
stall: a fix that shorts everything would read as one that cures every stall.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Literal

from sim.analyses.handwork.hazards import Refusal
from sim.analyses.handwork.measures import Handwork
from sim.judge.comparison import CaseResult
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
    remarks: tuple[Remark, ...]
    score: float | None = None

    @property
    def undominated(self) -> bool:
        """Whether no other case beats it."""
        return self.beaten_by is None


@dataclass(frozen=True, slots=True)
class Unrun:
    """``legs`` that were run with ``against`` never were with ``case``: a supply tripped."""

    case: str
    legs: int
    against: str


@dataclass(frozen=True, slots=True)
class Weighing:
    """All cases side by side."""

    scenario: str
    seed: int
    runs: int
    cases: tuple[Weighed, ...]
    weights: tuple[tuple[str, float], ...]
    assumptions: tuple[Assumption, ...]
    notes: tuple[str, ...]  #: what the search and the survey left out
    unrun: tuple[Unrun, ...] = ()


Values = Sequence[float | None]


def cost(criterion: Criterion, value: float | None) -> float:
    """``value`` so that less is better; unknown or unlimited costs nothing."""
    if criterion.better == "less":
        return 0.0 if value is None else value
    return float("-inf") if value is None else -value


def beats(one: Values, other: Values) -> bool:
    """Whether ``one`` is nowhere worse than ``other`` and somewhere better."""
    pairs = [(cost(c, a), cost(c, b)) for c, a, b in zip(CRITERIA, one, other, strict=True)]
    return all(a <= b for a, b in pairs) and any(a < b for a, b in pairs)


def beaten_by(cases: Sequence[Values]) -> list[int | None]:
    """For each case the first unbeaten one that beats it, None where nothing does."""
    free = [not any(beats(other, one) for other in cases) for one in cases]
    return [
        None
        if free[k]
        else next(n for n, other in enumerate(cases) if free[n] and beats(other, one))
        for k, one in enumerate(cases)
    ]


def gives_up(cases: Sequence[Values], case: int, rivals: Sequence[int]) -> list[int]:
    """Criteria in which some rival is better than ``case``."""
    found = []
    for k, criterion in enumerate(CRITERIA):
        own = cost(criterion, cases[case][k])
        if any(cost(criterion, cases[r][k]) < own for r in rivals):
            found.append(k)
    return found


def leads_in(cases: Sequence[Values], case: int, rivals: Sequence[int]) -> list[int]:
    """Criteria in which ``case`` is better than every rival."""
    found = []
    for k, criterion in enumerate(CRITERIA):
        own = cost(criterion, cases[case][k])
        if rivals and all(own < cost(criterion, cases[r][k]) for r in rivals):
            found.append(k)
    return found


def scores(cases: Sequence[Values], weights: Mapping[str, float]) -> list[float]:
    """Weighted sum by the user's own weights, each criterion scaled to 0 (best) to 1 (worst).

    Less is better.  Unknown or unlimited counts as the best.
    """
    totals = [0.0] * len(cases)
    for k, criterion in enumerate(CRITERIA):
        weight = weights.get(criterion.name, 0.0)
        if not weight:
            continue
        costs = [cost(criterion, values[k]) for values in cases]
        known = [c for c in costs if c != float("-inf")]
        low, high = min(known, default=0.0), max(known, default=0.0)
        for n, c in enumerate(costs):
            if c != float("-inf") and high > low:
                totals[n] += weight * (c - low) / (high - low)
    return [round(total, 6) + 0.0 for total in totals]


RemarkKind = Literal[
    "best",  # nothing is better in anything
    "alone at the top",  # in ``points``
    "gives up",  # in ``points`` some rival is better
    "does not fit",  # ``too_long_mm``
    "refused",  # ``refused``: not to be done so
]


@dataclass(frozen=True, slots=True)
class Point:
    """One criterion, by number: the case's own value, and that of the best ``rival``."""

    criterion: int
    own: float | None
    rival: str = ""
    other: float | None = None


@dataclass(frozen=True, slots=True)
class Remark:
    """Something to be said of one case."""

    kind: RemarkKind
    points: tuple[Point, ...] = ()
    too_long_mm: float = 0.0
    refused: Refusal | None = None


def remarks_on(
    names: Sequence[str],
    values: Sequence[Values],
    case: int,
    free: Sequence[int],
    work: Handwork,
) -> list[Remark]:
    """What is to be said of one case; ``free`` are the cases that nothing beats."""
    found = []
    if case in free:
        rivals = [k for k in free if k != case]
        found += _trade(names, values, case, rivals)
    if not work.fits and work.board_spare_mm is not None:
        found.append(Remark("does not fit", too_long_mm=-work.board_spare_mm))
    return found + [Remark("refused", refused=refused) for refused in work.refused]


def _trade(
    names: Sequence[str], values: Sequence[Values], case: int, rivals: Sequence[int]
) -> list[Remark]:
    if not rivals:
        return [Remark("best")]
    found = []
    best = tuple(Point(k, values[case][k]) for k in leads_in(values, case, rivals))
    if best:
        found.append(Remark("alone at the top", best))
    lost = gives_up(values, case, rivals)
    if lost:
        points = tuple(_lost(names, values, case, k, rivals) for k in lost)
        found.append(Remark("gives up", points))
    return found


def _lost(
    names: Sequence[str], values: Sequence[Values], case: int, k: int, rivals: Sequence[int]
) -> Point:
    best = min(rivals, key=lambda r: cost(CRITERIA[k], values[r][k]))
    return Point(k, values[case][k], names[best], values[best][k])


@dataclass(frozen=True, slots=True)
class Stalled:
    """Stalled legs in 1,000 (None without legs), with their interval where there is one.

    ``unrun`` legs are counted as stalled: ``against`` ran them and tripped less often.
    """

    rate: float | None
    low: float | None
    high: float | None
    unrun: int = 0
    against: str = ""


def stalled_legs(results: Sequence[CaseResult]) -> list[Stalled]:
    """For each case; measured against the first of those whose supplies trip least."""
    calm = min(results, key=lambda r: r.trips)
    found = []
    for result in results:
        unrun = calm.legs - result.legs
        if result.trips > calm.trips and unrun > 0:
            rate = _in_1000((result.stalled_legs + unrun) / calm.legs)
            found.append(Stalled(rate, None, None, unrun, calm.name))
        else:
            low, high = _in_1000(result.stall_low), _in_1000(result.stall_high)
            found.append(Stalled(_in_1000(result.stall_rate), low, high))
    return found


def unrun_in(names: Sequence[str], found: Sequence[Stalled]) -> list[Unrun]:
    """The cases whose unrun legs count as stalled."""
    return [
        Unrun(name, one.unrun, one.against)
        for name, one in zip(names, found, strict=True)
        if one.unrun
    ]


def _in_1000(rate: float | None) -> float | None:
    return None if rate is None else round(1000.0 * rate, 3)
