"""The smallest sets of faults that explain readings."""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

import numpy as np

from sim.diagnose.candidates import SINGLES_AT_MOST, Candidates
from sim.diagnose.conflicts import NetConsequences
from sim.diagnose.engine import minimal_diagnoses
from sim.diagnose.model import FaultSet
from sim.readings.model import Reading

#: Faults at once that are looked for.
FAULTS_AT_MOST = 3
#: What a search by conflicts may cost: sets times elements.
SEARCH_AT_MOST = 600_000


class Minimal(NamedTuple):
    """Minimal explanations: up to ``size`` faults at once were looked for, ``complete``
    if all were found, and ``looked`` sets were seen."""

    sets: list[FaultSet]
    size: int
    complete: bool
    looked: int


def minimal(candidates: Candidates, readings: Sequence[Reading], sound: bool) -> Minimal:
    """Minimal explanations; ``sound`` tells that no fault at all explains everything too."""
    columns = candidates.singles(readings)
    singles = [columns.sets[k] for k in _each(candidates.left(columns, readings))]
    looked = 1 + len(columns.sets)
    if sound:
        return Minimal(singles, 1, len(candidates.faults) <= SINGLES_AT_MOST, looked)
    alone = {s[0] for s in singles}
    pairs = candidates.pairs()
    if pairs is not None:
        left = _each(candidates.left(pairs, readings))
        two = [s for k in left if not alone & set(s := pairs.sets[k])]
        looked += len(pairs.sets)
        if singles or two:
            return Minimal(singles + two, 2, True, looked)
    model = NetConsequences(candidates.states, readings)
    most = 2 if singles else FAULTS_AT_MOST
    work = max(1, len(candidates.layout.elements) * len(readings))
    found = minimal_diagnoses(model, most, max(40, SEARCH_AT_MOST // work))
    grown = [tuple(sorted(s)) for s in found.sets if len(s) > 1]
    return Minimal(singles + grown, most, found.complete, looked + found.looked_at)


def _each(bits: int) -> list[int]:
    if not bits:
        return []
    raw = np.frombuffer(bits.to_bytes(bits.bit_length() // 8 + 1, "little"), np.uint8)
    found: list[int] = np.flatnonzero(np.unpackbits(raw, bitorder="little")).tolist()
    return found
