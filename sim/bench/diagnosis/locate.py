"""From readings to faults: what explains them, what to read again, what to read next.

What tracing a fault finds: explanations, readings in doubt, and what to read next.

Readings to take again, where nothing explains all of them or only much does.

From readings to faults: what explains all of them, and what to read next.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field, replace

import numpy as np
from numpy.typing import NDArray

from sim.bench.diagnosis.candidates import FAULTS_AT_MOST, Candidates, Minimal, minimal, touched
from sim.bench.diagnosis.impossible import wrong_readings
from sim.bench.diagnosis.model import FaultSet, weight_of
from sim.bench.diagnosis.next_reading import (
    Ask,
    Choice,
    Chooser,
    Reachable,
    Reply,
    Suggestion,
    Ways,
    asks,
    by_sound,
    choose,
    near,
    sayings,
)
from sim.bench.diagnosis.states import LAYOUT, Columns
from sim.bench.readings.model import Probe, Reading, sounds_only
from sim.bench.readings.places import REACHES, Reach
from sim.faults.possible import Fault
from sim.layout.model import Layout


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
class LeftOut:
    """What was too much to go through, each as (looked at, of how many).

    ``singles``: single faults.  ``explanations``: those weighed when the next reading was
    chosen.  ``pieces``: pieces that it may be taken on, and ``places`` on these.
    ``settings``: whether levers were moved only one at a time for it, as all settings are
    too many.  ``retakes``: ways to contradict, or readings in doubt.
    """

    singles: tuple[int, int] = (0, 0)
    explanations: tuple[int, int] = (0, 0)
    pieces: tuple[int, int] = (0, 0)
    places: tuple[int, int] = (0, 0)
    settings: bool = False
    retakes: tuple[int, int] = (0, 0)

    @property
    def of_next(self) -> bool:
        """Whether there are readings or explanations that the next reading passed over."""
        few = (self.explanations, self.pieces, self.places)
        return self.settings or any(looked < every for looked, every in few)


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
    left_out: LeftOut = LeftOut()

    @property
    def simplest(self) -> tuple[Explanation, ...]:
        """Explanations of the fewest faults, and that nothing is wrong if that explains all."""
        fewest = min((len(e.faults) for e in self.explanations if e.faults), default=0)
        return tuple(e for e in self.explanations if len(e.faults) <= fewest)

    @property
    def may_hide_another(self) -> bool:
        """Whether faults explain all: a second may hide behind whatever is mended."""
        return not self.sound and any(e.faults for e in self.explanations)

    @property
    def groups(self) -> int:
        """How many groups of the simplest explanations could still be told apart."""
        return len({e.group for e in self.simplest})


Counts = NDArray[np.int32]

#: Ways to contradict that are told.
TOLD = 20


def retakes(
    candidates: Candidates, readings: Sequence[Reading], most_faults: int
) -> tuple[tuple[Retake, ...], int]:
    """Smallest sets of readings whose being wrong leaves faults that explain the rest.

    The likeliest of them, and how many there are.
    """
    faults = candidates.faults
    best: dict[tuple[int, ...], tuple[float, FaultSet]] = {}
    least = len(readings) + 1
    for columns in _gone_through(candidates, readings, most_faults):
        agree = candidates.agreeing(columns, readings)
        missed = _missed(agree, len(columns.sets))
        lowest = int(missed.min())
        if lowest > least:
            continue
        if lowest < least:
            best, least = {}, lowest
        for k in np.flatnonzero(missed == lowest).tolist():
            numbers = tuple(
                r.number for r, bits in zip(readings, agree, strict=True) if not bits >> k & 1
            )
            weight = weight_of(faults, columns.sets[k])
            if numbers not in best or weight > best[numbers][0]:
                best[numbers] = weight, columns.sets[k]
    total = sum(w for w, _ in best.values()) or 1.0
    ways = sorted(best.items(), key=lambda item: (-item[1][0], item[0]))
    told = tuple(
        Retake(numbers, tuple(faults[f] for f in chosen), weight / total)
        for numbers, (weight, chosen) in ways[:TOLD]
    )
    return told, len(ways)


def _gone_through(
    candidates: Candidates, readings: Sequence[Reading], most_faults: int
) -> Iterator[Columns]:
    pairs = candidates.pairs() if most_faults > 1 else None
    for columns in (candidates.sound, candidates.singles(readings), pairs):
        if columns is not None and columns.sets:
            yield columns


def _missed(agree: Sequence[int], count: int) -> Counts:
    """By candidate how many readings it does not agree with."""
    missed = np.zeros(count, np.int32)
    for bits in agree:
        raw = np.frombuffer(bits.to_bytes(count // 8 + 1, "little"), np.uint8)
        missed += np.unpackbits(raw, bitorder="little")[:count] == 0
    return missed


#: Explanations of more faults than need be are pursued down to this share in all.
SURE = 0.05
#: Explanations that are weighed when the next reading is chosen.
SETS_WEIGHED = 2000

#: What is left after each answer is counted in layouts of up to so many faults, else estimated.
COUNTED_AT_MOST = 1000

#: Best readings by reach, the group of each explanation, and what was gone through for it.
Next = tuple[dict[Reach, Choice], list[int], Reachable]


@dataclass(slots=True)
class Locator:
    """Explains readings on one layout.

    ``where`` are the wheres that may be suggested besides those of the readings;
    ``worst`` is the hardest reach that may be suggested; ``lamps`` lets lamps across
    rails be suggested, with the supply on; ``each`` lets gangs be moved lever by lever.
    """

    layout: Layout
    faults: tuple[Fault, ...]
    where: tuple[str, ...] = (LAYOUT,)
    worst: Reach = "opened"
    lamps: bool = True
    each: bool = False
    skipped: set[tuple[object, ...]] = field(default_factory=set)
    _candidates: Candidates = field(init=False)

    def __post_init__(self) -> None:
        self._candidates = Candidates(self.layout, self.faults)

    def find(self, readings: Sequence[Reading], suggest: bool = True) -> Findings:
        """Everything that can be said after ``readings``."""
        wrong, all_told = wrong_readings(readings)
        if wrong:
            return _impossible(readings, wrong, all_told)
        sound, least = self._least(readings)
        if not least.sets and not sound:
            again, ways = retakes(self._candidates, readings, FAULTS_AT_MOST)
            out = LeftOut(singles=self._singles(least), retakes=(len(again), ways))
            return Findings(
                tuple(readings), False, (), again, False, (), None, None, least.size,
                least.complete, least.looked, out,
            )  # fmt: skip
        sets, weights = self._likeliest_first(least.sets, sound)
        best: dict[Reach, Choice] = {}
        groups = list(range(len(sets)))
        out = LeftOut(singles=self._singles(least))
        if suggest and len(sets) > 1:
            best, groups, may = self._suggested(sets, weights, readings)
            out = replace(
                out, explanations=(min(len(sets), SETS_WEIGHED), len(sets)),
                pieces=may.of_pieces, places=may.of_places, settings=may.some_settings,
            )  # fmt: skip
        told = self._told(sets, weights, groups)
        doubts: tuple[Retake, ...] = ()
        if told and not sound:
            doubts, ways = self._doubts(readings, len(told[0].faults))
            out = replace(out, retakes=(len(doubts), ways))
        easy, opened = (self._with_replies(c, told, readings) for c in _by_reach(best))
        return Findings(
            tuple(readings), sound, told, (), False, doubts, easy, opened, least.size,
            least.complete, least.looked, out,
        )  # fmt: skip

    def _singles(self, least: Minimal) -> tuple[int, int]:
        return least.singles, len(self.faults)

    def _with_replies(
        self, choice: Choice | None, told: Sequence[Explanation], readings: Sequence[Reading]
    ) -> Suggestion | None:
        """``choice`` with what each answer to it would leave."""
        if choice is None:
            return None
        chooser = Chooser([e.share for e in told[:SETS_WEIGHED]])
        replies = []
        for said, allows, bits in sayings(choice):
            left, exact = self._left_after(choice, allows, readings)
            share = None if bits is None else chooser.share(bits)
            if not exact and len(told) > SETS_WEIGHED:  # as among those that were weighed
                left = round(left * len(told) / SETS_WEIGHED)
            replies.append(Reply(said, allows, share, left, exact))
        return Suggestion(choice.ask, choice.bits, tuple(replies))

    def _left_after(
        self, choice: Choice, allows: frozenset[str], readings: Sequence[Reading]
    ) -> tuple[int, bool]:
        """How many explanations there would be, and whether that is exact."""
        if len(self.faults) > COUNTED_AT_MOST:
            left = 0
            for outcome in allows:
                left |= choice.answers.get(outcome, 0)
            return left.bit_count(), False
        then = Reading(len(readings) + 1, choice.ask.probe, "", allows)
        if wrong_readings([*readings, then])[0]:
            return 0, True
        sound, least = self._least([*readings, then])
        return len(least.sets) + sound, least.complete

    def _least(self, readings: Sequence[Reading]) -> tuple[bool, Minimal]:
        """Whether nothing need be wrong, and the smallest sets of faults that explain all."""
        sound = self._candidates.left(self._candidates.sound, readings) != 0
        return sound, minimal(self._candidates, readings, sound)

    def _likeliest_first(
        self, sets: list[FaultSet], sound: bool
    ) -> tuple[list[FaultSet], list[float]]:
        weights = [weight_of(self.faults, s) for s in sets]
        if sound:
            # Who traces a fault has seen something: no fault at all counts as little.
            sets, weights = [*sets, ()], [*weights, min(weights, default=1.0)]
        order = sorted(range(len(sets)), key=lambda k: (-weights[k], len(sets[k]), sets[k]))
        return [sets[k] for k in order], [weights[k] for k in order]

    def _told(
        self, sets: list[FaultSet], weights: list[float], groups: list[int]
    ) -> tuple[Explanation, ...]:
        total = sum(weights) or 1.0
        return tuple(
            Explanation(tuple(self.faults[f] for f in s), w / total, g)
            for s, w, g in zip(sets, weights, groups, strict=True)
        )

    def _doubts(
        self, readings: Sequence[Reading], faults: int
    ) -> tuple[tuple[Retake, ...], int]:
        """Single readings that would leave less than ``faults`` to explain, were they wrong.

        The likeliest of them, and how many there are.
        """
        if faults < 2:
            return (), 0
        found, ways = retakes(self._candidates, readings, faults - 1)
        alone = tuple(r for r in found if len(r.readings) == 1)
        return alone, ways if alone else 0

    def _suggested(
        self, sets: list[FaultSet], weights: list[float], readings: Sequence[Reading]
    ) -> Next:
        """What to read next: first the fewest faults are told apart."""
        fewest = _fewest(sets)
        first = [w if len(s) <= fewest else 0.0 for s, w in zip(sets, weights, strict=True)]
        best, groups, may = self._next(sets, first, readings)
        if best:
            return best, groups, may
        best, groups, may = self._next(sets, weights, readings)
        # Where the fewest faults are all but certain, nothing more is asked.
        return (best if _unsure(sets, weights) else {}), groups, may

    def _next(
        self, sets: list[FaultSet], weights: list[float], readings: Sequence[Reading]
    ) -> Next:
        """Best readings by reach, and the group of each explanation.

        Of very many explanations only the first, likeliest ones are weighed.
        """
        rest = list(range(len(sets), 2 * len(sets) - SETS_WEIGHED))
        sets, weights = sets[:SETS_WEIGHED], weights[:SETS_WEIGHED]
        columns = Columns(self.faults, sets)
        chooser = Chooser(weights)
        last = readings[-1].probe.positions if readings else None
        may = self.reachable(columns, readings)
        taken = {_key(r.probe) for r in readings} | self.skipped
        split = self._split_before(columns, readings, may.sounds_only)
        best = choose(
            asks(self._candidates.states, columns, may),
            chooser,
            lambda ask, answers: _key(ask.probe) in taken or _cut(ask.probe, answers) in split,
            last,
        )
        return best, chooser.groups() + rest, may

    def _split_before(
        self, columns: Columns, readings: Sequence[Reading], sounds_only: bool
    ) -> set[tuple[object, ...]]:
        """How readings that left two outcomes open split the candidates.

        Another one that splits them the same way would be answered the same.
        """
        found = set()
        for r in readings:
            if len(r.allows) > 1 and r.probe.what != "train":
                answers = self._candidates.states.answers(columns, r.probe)
                if sounds_only:
                    answers = by_sound(answers)
                found.add(_cut(r.probe, answers))
        return found

    def reachable(self, columns: Columns, readings: Sequence[Reading]) -> Reachable:
        """Where and how to read: near the suspects, with the levers that concern them."""
        suspects = [self.faults[f] for f in columns.when]
        at = [n for r in readings for n in touched(r.probe)]
        last = readings[-1].probe.positions if readings else None
        ways = Ways(self.where, self.worst, self.lamps, self.each)
        return replace(
            near(self.layout, suspects, at, last, ways), sounds_only=sounds_only(readings)
        )

    def skip(self, ask: Ask) -> None:
        """Never suggest this reading again."""
        self.skipped.add(_key(ask.probe))


def _impossible(
    readings: Sequence[Reading], wrong: list[frozenset[int]], all_told: bool
) -> Findings:
    """Readings that contradict one another whatever is wrong."""
    again = tuple(Retake(tuple(sorted(s)), None, 1.0 / len(wrong)) for s in wrong)
    return Findings(tuple(readings), False, (), again, True, (), None, None, 0, all_told, 0)


def _fewest(sets: Sequence[FaultSet]) -> int:
    """Faults in the smallest set that has any."""
    return min((len(s) for s in sets if s), default=0)


def _unsure(sets: list[FaultSet], weights: list[float]) -> bool:
    """Whether sets of more than the fewest faults are together likely enough to matter."""
    fewest = _fewest(sets)
    larger = sum(w for s, w in zip(sets, weights, strict=True) if len(s) > fewest)
    return larger > SURE * sum(weights)


def _key(probe: Probe) -> tuple[object, ...]:
    low, high = sorted((probe.a, probe.b))
    return probe.what, low, high, probe.positions, probe.where


def _cut(probe: Probe, answers: dict[str, int]) -> tuple[object, ...]:
    return probe.what, *answers.values()


def _by_reach(best: dict[Reach, Choice]) -> tuple[Choice | None, Choice | None]:
    """Best from outside, and best when opened if that tells more."""
    outside = [best[r] for r in REACHES if r in best and r != "opened"]
    easy = max(outside, key=lambda s: round(s.bits, 6), default=None)
    opened = best.get("opened")
    if opened is not None and easy is not None and opened.bits <= easy.bits + 1e-6:
        opened = None
    return easy, opened
