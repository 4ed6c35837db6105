"""Which sets of faults are gone through, and the smallest that explain readings.

Which sets of faults are gone through, and which of them agree with readings.

The smallest sets of faults that explain readings.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import NamedTuple

import numpy as np

from sim.bench.diagnosis.conflicts import NetConsequences, every_set
from sim.bench.diagnosis.engine import minimal_diagnoses
from sim.bench.diagnosis.model import FaultSet
from sim.bench.diagnosis.states import Columns, MeterView, States
from sim.bench.readings.model import Positions, Probe, Reading
from sim.bench.readings.places import pieces_at
from sim.faults.possible import Fault
from sim.layout.model import PLASTIC, Layout

#: Single faults are all gone through up to so many, else those that readings point at.
SINGLES_AT_MOST = 4000
#: Two faults at once are all gone through up to so many pairs, else found by conflicts.
PAIRS_AT_MOST = 12_000


class Candidates:
    """No fault, single faults and pairs of one layout, each under every reading.

    ``sound`` is the one candidate without a fault.
    """

    def __init__(self, layout: Layout, faults: tuple[Fault, ...]) -> None:
        self.layout, self.faults = layout, faults
        self.states = States(layout, faults)
        self.sound = Columns(faults, [()])
        self._singles: Columns | None = None
        self._pairs: Columns | None = None
        self._read: dict[tuple[int, Probe], Mapping[str, int]] = {}

    def left(self, columns: Columns, readings: Sequence[Reading]) -> int:
        """Candidates that agree with every reading."""
        left = columns.every
        for agree in self.agreeing(columns, readings):
            left &= agree
        return left

    def agreeing(self, columns: Columns, readings: Sequence[Reading]) -> list[int]:
        """For each reading, the candidates that agree with it."""
        found = []
        views: dict[tuple[str, Positions], MeterView] = {}
        for r in readings:
            answers = self._answers(columns, r.probe, views)
            bits = 0
            for outcome in sorted(r.allows):
                bits |= answers.get(outcome, 0)
            found.append(bits)
        return found

    def _answers(
        self, columns: Columns, probe: Probe, views: dict[tuple[str, Positions], MeterView]
    ) -> Mapping[str, int]:
        """What ``probe`` would say; kept for sets that are gone through again and again."""
        kept = columns in (self.sound, self._singles, self._pairs)
        if kept and (known := self._read.get((id(columns), probe))) is not None:
            return known
        answers: Mapping[str, int]
        if probe.what == "meter":
            key = probe.where, probe.positions
            if key not in views:
                views[key] = self.states.meter(columns, probe.positions, probe.where)
            answers = views[key].answers(probe.a, probe.b)
        else:
            answers = self.states.answers(columns, probe)
        if kept:
            self._read[id(columns), probe] = answers
        return answers

    def singles(self, readings: Sequence[Reading]) -> Columns:
        """All single faults; in a big layout those that can have to do with the readings.

        Where no reading points at any, as none was taken yet, the likeliest.
        """
        if len(self.faults) > SINGLES_AT_MOST and (near := self._near(readings)):
            return Columns(self.faults, [(k,) for k in near])
        if len(self.faults) > SINGLES_AT_MOST and self._singles is None:
            self._singles = Columns(self.faults, [(k,) for k in self._likeliest()])
        if self._singles is None:
            self._singles = Columns(self.faults, every_set(self.faults, 1))
        return self._singles

    def _likeliest(self) -> list[int]:
        by_weight = sorted(range(len(self.faults)), key=lambda k: -self.faults[k].weight)
        return sorted(by_weight[:SINGLES_AT_MOST])

    def _near(self, readings: Sequence[Reading]) -> list[int]:
        """Faults in conflicts of the readings; and, with no conflict, of pieces read at."""
        if not readings:
            return []
        found: dict[int, None] = {}
        for conflict in NetConsequences(self.states, readings).conflicts(frozenset()):
            found.update(dict.fromkeys(conflict[:SINGLES_AT_MOST]))
        if not found:
            at = pieces_at(self.layout, [n for r in readings for n in touched(r.probe)])
            homes = tuple(f"{self.layout.pieces[k].id}/" for k in at)
            found.update(
                (k, None) for k, f in enumerate(self.faults) if f.part.startswith(homes)
            )
        return sorted(found)

    def pairs(self) -> Columns | None:
        """All pairs of faults, or None where they are too many."""
        if len(self.faults) * (len(self.faults) - 1) // 2 > PAIRS_AT_MOST:
            return None
        if self._pairs is None:
            self._pairs = Columns(self.faults, every_set(self.faults, 2))
        return self._pairs


def touched(probe: Probe) -> list[int]:
    """The nodes that a probe touches."""
    pairs = probe.pairs or ((probe.a, probe.b),)
    return [n for pair in pairs for n in pair if n != PLASTIC]


#: Faults at once that are looked for.
FAULTS_AT_MOST = 3
#: What a search by conflicts may cost: sets times elements.
SEARCH_AT_MOST = 600_000


class Minimal(NamedTuple):
    """Minimal explanations: up to ``size`` faults at once were looked for, ``complete``
    if all were found, and ``looked`` sets were seen, ``singles`` of them of one fault."""

    sets: list[FaultSet]
    size: int
    complete: bool
    looked: int
    singles: int


def minimal(candidates: Candidates, readings: Sequence[Reading], sound: bool) -> Minimal:
    """Minimal explanations; ``sound`` tells that no fault at all explains everything too."""
    columns = candidates.singles(readings)
    singles = [columns.sets[k] for k in _each(candidates.left(columns, readings))]
    looked = 1 + len(columns.sets)
    if sound:
        whole = len(candidates.faults) <= SINGLES_AT_MOST
        return Minimal(singles, 1, whole, looked, len(columns.sets))
    alone = {s[0] for s in singles}
    pairs = candidates.pairs()
    if pairs is not None:
        left = _each(candidates.left(pairs, readings))
        two = [s for k in left if not alone & set(s := pairs.sets[k])]
        looked += len(pairs.sets)
        if singles or two:
            return Minimal(singles + two, 2, True, looked, len(columns.sets))
    model = NetConsequences(candidates.states, readings)
    most = 2 if singles else FAULTS_AT_MOST
    work = max(1, len(candidates.layout.elements) * len(readings))
    found = minimal_diagnoses(model, most, max(40, SEARCH_AT_MOST // work))
    grown = [tuple(sorted(s)) for s in found.sets if len(s) > 1]
    looked += found.looked_at
    return Minimal(singles + grown, most, found.complete, looked, len(columns.sets))


def _each(bits: int) -> list[int]:
    if not bits:
        return []
    raw = np.frombuffer(bits.to_bytes(bits.bit_length() // 8 + 1, "little"), np.uint8)
    found: list[int] = np.flatnonzero(np.unpackbits(raw, bitorder="little")).tolist()
    return found
