"""Readings to take again, where nothing explains all of them or only much does."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import numpy as np
from numpy.typing import NDArray

from sim.diagnose.candidates import Candidates
from sim.diagnose.findings import Retake
from sim.diagnose.model import FaultSet, weight_of
from sim.diagnose.states import Columns
from sim.readings.model import Reading

Counts = NDArray[np.int32]

#: Ways to contradict that are told.
TOLD = 20


def retakes(
    candidates: Candidates, readings: Sequence[Reading], most_faults: int
) -> tuple[Retake, ...]:
    """Smallest sets of readings whose being wrong leaves faults that explain the rest."""
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
    return tuple(
        Retake(numbers, tuple(faults[f] for f in chosen), weight / total)
        for numbers, (weight, chosen) in ways[:TOLD]
    )


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
