"""Which fix: the order, what is enough, and what more work buys.

Pure functions of facts about the cases, so that every page that asks comes to the
same answer.  Facts have kinds and ids; what they say is phrased elsewhere.

1. What shorts in use is out, and so is what does not fit its board.
2. What is in order goes before what is not.  Within these the case with most clean
   legs leads, and all that cannot be told from it stand with it.  Fewer than
   :data:`RUNS_THAT_TELL` random runs can tell nothing.
3. The least work among the leaders is enough, where it is in order.
4. More work may buy single faults that are survived; whether it also shorts by metal
   alone after one is told beside it.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal, NamedTuple

from sim.judge import stats

#: Fewer random runs cannot exclude chance at 95 %: 2 · 0.5^5 is over 0.05.
RUNS_THAT_TELL = 6
#: A two-sided p-value above this is no difference that can be told.
CHANCE = 0.05

Survive = Literal["contact", "lever", "both"]
FaultPart = Literal["contact", "lever", "other"]
#: What is said of a case: a closed list.
FactKind = Literal[
    "in order",  # as built: nothing has to be done
    "enough",
    "helps most",  # leads, and leaves something out of order
    "survives more",  # than what is enough, and by how many single faults
    "shorts by metal",  # single faults after which it shorts with no train there
    "shorts under a train",  # single faults after which a train on it shorts
    "more work",  # as good as what is enough
    "does less",  # in order or not, but told to be worse
    "out of order",
    "shorts in use",
    "does not fit",
    "cannot be told",  # too few random runs
]


class Work(NamedTuple):
    """The work of a fix, in the order in which it is compared; the first that differs
    decides.  ``wire_mm`` is to a millimetre."""

    wires_at_every_show: int = 0
    held_down: int = 0
    holes: int = 0
    replaced: int = 0
    opened: int = 0
    joints: int = 0
    cuts: int = 0
    wire_mm: int = 0


@dataclass(frozen=True, slots=True)
class AfterFault:
    """One single fault: its id, what fails, and what the case is like after it."""

    fault: str
    part: FaultPart
    survived: bool
    shorts_by_metal: bool = False
    shorts_under_train: bool = False


@dataclass(frozen=True, slots=True)
class CaseFacts:
    """What is known of one case.

    ``clean`` are clean legs by run; one number where nothing is random.  ``short_of_mm``
    is by how much it does not fit a board, 0 where it fits.
    """

    name: str
    in_order: bool
    shorts: bool
    clean: tuple[int, ...]
    random: bool
    work: Work
    short_of_mm: float = 0.0
    faults: tuple[AfterFault, ...] = ()

    @property
    def out(self) -> bool:
        """Whether it cannot be chosen, whatever else it does."""
        return self.shorts or self.short_of_mm > 0.0

    def survived(self, asked: Survive = "both") -> frozenset[str]:
        """Single faults after which all is still in order."""
        return frozenset(f.fault for f in self.faults if f.survived and _is_asked(f, asked))

    @property
    def metal(self) -> frozenset[str]:
        """Single faults after which metal alone shorts."""
        return frozenset(f.fault for f in self.faults if f.shorts_by_metal)

    @property
    def under_train(self) -> frozenset[str]:
        """Single faults after which only a train on the wrongly set piece shorts."""
        return frozenset(
            f.fault for f in self.faults if f.shorts_under_train and not f.shorts_by_metal
        )


@dataclass(frozen=True, slots=True)
class Fact:
    """One thing that a verdict says: of which case, what, and its numbers and ids."""

    case: str
    kind: FactKind
    elements: tuple[str, ...] = ()
    number: float | None = None


@dataclass(frozen=True, slots=True)
class Verdict:
    """The answer.  ``order`` has every case, the best first; the cases that are out last.

    ``enough`` is None where nothing puts all in order, ``choice`` where nothing helps.
    ``told_apart`` is False where too few random runs were made.
    """

    choice: str | None
    enough: str | None
    order: tuple[str, ...]
    leaders: tuple[str, ...]
    told_apart: bool
    facts: tuple[Fact, ...]


def judge(cases: Sequence[CaseFacts], survive: Survive | None = None) -> Verdict:
    """The verdict on ``cases``, the first of which is as built.

    With ``survive`` the choice is, among the leaders, what survives most single
    faults of that part of a piece, if it adds none that shorts by metal alone.
    """
    built = cases[0]
    usable = [c for c in cases if not c.out]
    told = not any(c.random for c in cases) or _runs(cases) >= RUNS_THAT_TELL
    leaders = _leaders(usable, told)
    ranked = sorted(
        range(len(cases)),
        key=lambda k: (
            cases[k].out,
            not cases[k].in_order,
            cases[k] not in leaders,
            cases[k].work if cases[k] in leaders else (),
            -sum(cases[k].clean),
            cases[k].work,
            k,
        ),
    )
    of_use = [c for c in leaders if c.in_order or c is not built]
    best = min(of_use, key=lambda c: c.work, default=None)
    if built in usable and built.in_order:
        best = built
    enough = best if best is not None and best.in_order else None
    choice = best
    if enough is not None and survive is not None:
        choice = _surviving(leaders, enough, survive)
    if best is not None and not best.in_order and not _helps(best, built):
        choice = None
    facts = [_fact(cases[k], built, leaders, enough, best) for k in ranked]
    facts += [more for k in ranked for more in _beyond(cases[k], leaders, enough)]
    if not told:
        facts.append(Fact(built.name, "cannot be told", number=_runs(cases)))
    return Verdict(
        None if choice is None else choice.name,
        None if enough is None else enough.name,
        tuple(cases[k].name for k in ranked),
        tuple(c.name for c in leaders),
        told,
        tuple(facts),
    )


def differs(one: CaseFacts, other: CaseFacts) -> bool:
    """Whether clean legs of two cases can be told apart, run by run.

    An exact two-sided sign-flip test over runs; where nothing is random any
    difference is real.
    """
    runs = max(len(one.clean), len(other.clean))
    pairs = zip(_spread(one.clean, runs), _spread(other.clean, runs), strict=True)
    differences = [a - b for a, b in pairs]
    if not (one.random or other.random):
        return any(differences)
    found = stats.paired_mean(differences)
    return found is not None and found.p_value <= CHANCE


def _spread(clean: tuple[int, ...], runs: int) -> tuple[int, ...]:
    return clean if len(clean) == runs else clean * runs


def _runs(cases: Sequence[CaseFacts]) -> int:
    return max(len(c.clean) for c in cases)


def _mean(case: CaseFacts) -> float:
    return sum(case.clean) / len(case.clean)


def _leaders(usable: Sequence[CaseFacts], told: bool) -> list[CaseFacts]:
    """The best class, and in it what cannot be told from the most clean legs."""
    best_class = [c for c in usable if c.in_order] or list(usable)
    if not told or not best_class:
        return best_class
    top = min(best_class, key=lambda c: (-_mean(c), c.work, c.name))
    return [c for c in best_class if c is top or not differs(top, c)]


def _is_asked(fault: AfterFault, asked: Survive) -> bool:
    return asked == "both" or fault.part == asked


def _surviving(leaders: Sequence[CaseFacts], enough: CaseFacts, survive: Survive) -> CaseFacts:
    able = [c for c in leaders if not c.metal - enough.metal]
    most = max(len(c.survived(survive)) for c in (*able, enough))
    if most <= len(enough.survived(survive)):
        return enough
    return min((c for c in able if len(c.survived(survive)) == most), key=lambda c: c.work)


def _helps(case: CaseFacts, built: CaseFacts) -> bool:
    return case is not built and (built.out or _mean(case) > _mean(built))


def _fact(
    case: CaseFacts,
    built: CaseFacts,
    leaders: Sequence[CaseFacts],
    enough: CaseFacts | None,
    best: CaseFacts | None,
) -> Fact:
    """The one thing that has to be said of a case first."""
    kind: FactKind
    number = None
    if case.shorts:
        kind = "shorts in use"
    elif case.short_of_mm > 0.0:
        kind, number = "does not fit", case.short_of_mm
    elif case is built and case.in_order:
        kind = "in order"
    elif case is enough:
        kind = "enough"
    elif enough is None and case is best and _helps(case, built):
        kind = "helps most"
    elif not case.in_order:
        kind = "out of order"
    elif case in leaders:
        kind = "more work"
    else:
        kind = "does less"
    return Fact(case.name, kind, number=number)


def _beyond(
    case: CaseFacts, leaders: Sequence[CaseFacts], enough: CaseFacts | None
) -> list[Fact]:
    """What more work buys than what is enough, and what it costs."""
    if enough is None or case is enough or case not in leaders:
        return []
    found = []
    gained = sorted(case.survived() - enough.survived())
    kinds: tuple[tuple[FactKind, list[str]], ...] = (
        ("survives more", gained),
        ("shorts by metal", sorted(case.metal - enough.metal)),
        ("shorts under a train", sorted(case.under_train - enough.under_train)),
    )
    for kind, faults in kinds:
        if faults:
            found.append(Fact(case.name, kind, tuple(faults), len(faults)))
    return found
