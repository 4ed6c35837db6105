"""Readings of known pieces, by the slow twin."""

from __future__ import annotations

import random
from collections.abc import Iterator
from itertools import combinations

from sim.bench.learning.subject import Subject, sections_at
from sim.bench.readings.model import Probe, Reading
from sim.pieces.model import Piece
from tests.twin import nets


def truth(subject: Subject, piece: Piece) -> Iterator[tuple[Probe, str]]:
    """What a meter says between all places in all settings."""
    at = sections_at(subject, piece)
    for positions in subject.settings:
        setting = {x.name: x.positions[p] for x, p in zip(piece.levers, positions, strict=True)}
        home = {name: k for k, group in enumerate(nets(piece, setting)) for name in group}
        for a, b in combinations(range(len(at)), 2):
            one, other = at[a], at[b]
            same = one is not None and other is not None and home[one] == home[other]
            yield Probe("meter", a, b, positions, "bench"), "joined" if same else "open"


def read(
    subject: Subject, piece: Piece, wrong: float = 0.0, missing: float = 0.0, seed: int = 0
) -> tuple[list[Reading], set[int]]:
    """Readings, and the numbers of those that are wrong."""
    rng = random.Random(seed)
    readings: list[Reading] = []
    bad: set[int] = set()
    for probe, said in truth(subject, piece):
        luck = rng.random()
        if luck < missing:
            continue
        number = len(readings) + 1
        if luck < missing + wrong:
            said = "open" if said == "joined" else "joined"
            bad.add(number)
        readings.append(Reading(number, probe, said, frozenset((said,)), f"reading {number}"))
    return readings, bad
