"""From readings to faults: what explains all of them, and what to read next."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np

from sim.diagnose.conflicts import NetConsequences, every_set
from sim.diagnose.engine import minimal_diagnoses
from sim.diagnose.findings import Explanation, Findings, Retake
from sim.diagnose.impossible import wrong_readings
from sim.diagnose.model import Fault, FaultSet, weight_of
from sim.diagnose.nearby import Ways, near
from sim.diagnose.next_reading import (
    Ask,
    Chooser,
    Reachable,
    Suggestion,
    asks,
    choose,
)
from sim.diagnose.states import LAYOUT, Columns, States
from sim.layout.model import PLASTIC, Layout
from sim.readings.model import Positions, Probe, Reading
from sim.readings.places import REACHES, Reach, pieces_at

#: Single faults are all gone through up to so many, else those that readings point at.
SINGLES_AT_MOST = 4000
#: Two faults at once are all gone through up to so many pairs, else found by conflicts.
PAIRS_AT_MOST = 12_000
#: Faults at once that are looked for.
FAULTS_AT_MOST = 3
#: What a search by conflicts may cost: sets times elements.
SEARCH_AT_MOST = 600_000
#: Explanations of more faults than need be are pursued down to this share in all.
SURE = 0.05
#: Explanations that are weighed when the next reading is chosen.
SETS_WEIGHED = 2000
#: Explanations, and ways to contradict, that are told.
TOLD = 20


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
    states: States = field(init=False)
    _singles: Columns | None = None
    _pairs: Columns | None = None

    def __post_init__(self) -> None:
        self.states = States(self.layout, self.faults)

    def find(self, readings: Sequence[Reading], suggest: bool = True) -> Findings:
        """Everything that can be said after ``readings``."""
        wrong, all_told = wrong_readings(readings)
        if wrong:
            return self._impossible(readings, wrong, all_told)
        sound = self._left(Columns(self.faults, [()]), readings) != 0
        sets, size, complete, looked = self._minimal(readings, sound)
        if not sets and not sound:
            retakes = self._retakes(readings, FAULTS_AT_MOST)
            return Findings(
                tuple(readings), False, (), retakes, False, (), None, None, size, complete,
                looked,
            )  # fmt: skip
        weights = [weight_of(self.faults, s) for s in sets]
        if sound:
            # Who traces a fault has seen something: no fault at all counts as little.
            sets, weights = [*sets, ()], [*weights, min(weights, default=1.0)]
        order = sorted(range(len(sets)), key=lambda k: (-weights[k], len(sets[k]), sets[k]))
        sets, weights = [sets[k] for k in order], [weights[k] for k in order]
        best: dict[Reach, Suggestion] = {}
        groups = list(range(len(sets)))
        if suggest and len(sets) > 1:
            best, groups = self._next(sets, self._weighed(sets, weights), readings)
            if not best:
                best, groups = self._next(sets, weights, readings)
                # Where the fewest faults are all but certain, nothing more is asked.
                best = best if _unsure(sets, weights) else {}
        total = sum(weights) or 1.0
        told = tuple(
            Explanation(tuple(self.faults[f] for f in s), w / total, g)
            for s, w, g in zip(sets, weights, groups, strict=True)
        )
        doubts: tuple[Retake, ...] = ()
        if not sound and told and len(told[0].faults) > 1:
            fewer = len(told[0].faults) - 1
            doubts = tuple(r for r in self._retakes(readings, fewer) if len(r.readings) == 1)
        easy, opened = _by_reach(best)
        return Findings(
            tuple(readings), sound, told, (), False, doubts, easy, opened, size, complete,
            looked,
        )  # fmt: skip

    # -- explaining -------------------------------------------------------------

    def _left(self, columns: Columns, readings: Sequence[Reading]) -> int:
        """Candidates that agree with every reading."""
        left = columns.every
        for agree in self._agreeing(columns, readings):
            left &= agree
        return left

    def _agreeing(self, columns: Columns, readings: Sequence[Reading]) -> list[int]:
        """For each reading, the candidates that agree with it."""
        found = []
        views: dict[tuple[str, Positions], object] = {}
        for r in readings:
            key = r.probe.where, r.probe.positions
            if r.probe.what == "meter":
                if key not in views:
                    views[key] = self.states.meter(columns, r.probe.positions, r.probe.where)
                answers = views[key].answers(r.probe.a, r.probe.b)  # type: ignore[attr-defined]
            else:
                answers = self.states.answers(columns, r.probe)
            bits = 0
            for outcome in sorted(r.allows):
                bits |= answers.get(outcome, 0)
            found.append(bits)
        return found

    def _single_columns(self, readings: Sequence[Reading]) -> Columns:
        """All single faults; in a big layout those that can have to do with the readings."""
        if len(self.faults) > SINGLES_AT_MOST:
            return Columns(self.faults, [(k,) for k in self._near(readings)])
        if self._singles is None:
            self._singles = Columns(self.faults, every_set(self.faults, 1))
        return self._singles

    def _near(self, readings: Sequence[Reading]) -> list[int]:
        """Faults in conflicts of the readings; and, with no conflict, of pieces read at."""
        found: dict[int, None] = {}
        for conflict in NetConsequences(self.states, readings).conflicts(frozenset()):
            found.update(dict.fromkeys(conflict[:SINGLES_AT_MOST]))
        if not found:
            at = pieces_at(self.layout, [n for r in readings for n in _nodes(r.probe)])
            homes = tuple(f"{self.layout.pieces[k].id}/" for k in at)
            found.update(
                (k, None) for k, f in enumerate(self.faults) if f.part.startswith(homes)
            )
        return sorted(found)

    def _pair_columns(self) -> Columns | None:
        """All pairs of faults, or None where they are too many."""
        if len(self.faults) * (len(self.faults) - 1) // 2 > PAIRS_AT_MOST:
            return None
        if self._pairs is None:
            self._pairs = Columns(self.faults, every_set(self.faults, 2))
        return self._pairs

    def _minimal(
        self, readings: Sequence[Reading], sound: bool
    ) -> tuple[list[FaultSet], int, bool, int]:
        """Minimal explanations, faults at once looked for, whether all, and sets seen."""
        columns = self._single_columns(readings)
        singles = [columns.sets[k] for k in _each(self._left(columns, readings))]
        looked = 1 + len(columns.sets)
        if sound:
            return singles, 1, len(self.faults) <= SINGLES_AT_MOST, looked
        alone = {s[0] for s in singles}
        pairs = self._pair_columns()
        if pairs is not None:
            left = _each(self._left(pairs, readings))
            two = [s for k in left if not alone & set(s := pairs.sets[k])]
            looked += len(pairs.sets)
            if singles or two:
                return singles + two, 2, True, looked
        model = NetConsequences(self.states, readings)
        most = 2 if singles else FAULTS_AT_MOST
        room = max(40, SEARCH_AT_MOST // max(1, len(self.layout.elements) * len(readings)))
        found = minimal_diagnoses(model, most, room)
        grown = [tuple(sorted(s)) for s in found.sets if len(s) > 1]
        return singles + grown, most, found.complete, looked + found.looked_at

    def _impossible(
        self, readings: Sequence[Reading], wrong: list[frozenset[int]], all_told: bool
    ) -> Findings:
        retakes = tuple(Retake(tuple(sorted(s)), None, 1.0 / len(wrong)) for s in wrong)
        return Findings(
            tuple(readings), False, (), retakes, True, (), None, None, 0, all_told, 0
        )

    def _retakes(self, readings: Sequence[Reading], most_faults: int) -> tuple[Retake, ...]:
        """Smallest sets of readings whose being wrong leaves faults that explain the rest."""
        best: dict[tuple[int, ...], tuple[float, FaultSet]] = {}
        least = len(readings) + 1
        pools = [Columns(self.faults, [()]), self._single_columns(readings)]
        pairs = self._pair_columns() if most_faults > 1 else None
        for columns in (*pools, *([pairs] if pairs else [])):
            if not columns.sets:
                continue
            agree = self._agreeing(columns, readings)
            missed = np.zeros(len(columns.sets), np.int32)
            for bits in agree:
                raw = np.frombuffer(
                    bits.to_bytes(len(columns.sets) // 8 + 1, "little"), np.uint8
                )
                missed += np.unpackbits(raw, bitorder="little")[: len(columns.sets)] == 0
            lowest = int(missed.min())
            if lowest > least:
                continue
            if lowest < least:
                best, least = {}, lowest
            for k in np.flatnonzero(missed == lowest).tolist():
                numbers = tuple(
                    r.number for r, bits in zip(readings, agree, strict=True)
                    if not bits >> k & 1
                )  # fmt: skip
                weight = weight_of(self.faults, columns.sets[k])
                if numbers not in best or weight > best[numbers][0]:
                    best[numbers] = weight, columns.sets[k]
        total = sum(w for w, _ in best.values()) or 1.0
        ways = sorted(best.items(), key=lambda item: (-item[1][0], item[0]))
        return tuple(
            Retake(numbers, tuple(self.faults[f] for f in chosen), weight / total)
            for numbers, (weight, chosen) in ways[:TOLD]
        )

    @staticmethod
    def _weighed(sets: list[FaultSet], weights: list[float]) -> list[float]:
        """Weights with which to choose: first the fewest faults are told apart."""
        fewest = _fewest(sets)
        return [w if len(s) <= fewest else 0.0 for s, w in zip(sets, weights, strict=True)]

    # -- what to read next --------------------------------------------------------

    def _next(
        self, sets: list[FaultSet], weights: list[float], readings: Sequence[Reading]
    ) -> tuple[dict[Reach, Suggestion], list[int]]:
        """Best readings by reach, and the group of each explanation.

        Of very many explanations only the first, likeliest ones are weighed.
        """
        rest = list(range(len(sets), 2 * len(sets) - SETS_WEIGHED))
        sets, weights = sets[:SETS_WEIGHED], weights[:SETS_WEIGHED]
        columns = Columns(self.faults, sets)
        chooser = Chooser(weights)
        last = readings[-1].probe.positions if readings else None
        taken = {_key(r.probe) for r in readings if len(r.allows) == 1} | self.skipped
        best = choose(
            asks(self.states, columns, self.reachable(columns, readings)),
            chooser,
            lambda ask: _key(ask.probe) in taken,
            last,
        )
        return best, chooser.groups() + rest

    def reachable(self, columns: Columns, readings: Sequence[Reading]) -> Reachable:
        """Where and how to read: near the suspects, with the levers that concern them."""
        suspects = [self.faults[f] for f in columns.when]
        at = [n for r in readings for n in _nodes(r.probe)]
        last = readings[-1].probe.positions if readings else None
        ways = Ways(self.where, self.worst, self.lamps, self.each)
        return near(self.layout, suspects, at, last, ways)

    def skip(self, ask: Ask) -> None:
        """Never suggest this reading again."""
        self.skipped.add(_key(ask.probe))


def _fewest(sets: Sequence[FaultSet]) -> int:
    """Faults in the smallest set that has any."""
    return min((len(s) for s in sets if s), default=0)


def _unsure(sets: list[FaultSet], weights: list[float]) -> bool:
    """Whether sets of more than the fewest faults are together likely enough to matter."""
    fewest = _fewest(sets)
    larger = sum(w for s, w in zip(sets, weights, strict=True) if len(s) > fewest)
    return larger > SURE * sum(weights)


def _nodes(probe: Probe) -> list[int]:
    pairs = probe.pairs or ((probe.a, probe.b),)
    return [n for pair in pairs for n in pair if n != PLASTIC]


def _key(probe: Probe) -> tuple[object, ...]:
    low, high = sorted((probe.a, probe.b))
    return probe.what, low, high, probe.positions, probe.where


def _by_reach(best: dict[Reach, Suggestion]) -> tuple[Suggestion | None, Suggestion | None]:
    """Best from outside, and best when opened if that tells more."""
    outside = [best[r] for r in REACHES if r in best and r != "opened"]
    easy = max(outside, key=lambda s: round(s.bits, 6), default=None)
    opened = best.get("opened")
    if opened is not None and easy is not None and opened.bits <= easy.bits + 1e-6:
        opened = None
    return easy, opened


def _each(bits: int) -> list[int]:
    if not bits:
        return []
    raw = np.frombuffer(bits.to_bytes(bits.bit_length() // 8 + 1, "little"), np.uint8)
    found: list[int] = np.flatnonzero(np.unpackbits(raw, bitorder="little")).tolist()
    return found
