"""What a comparison keeps of one run, and the seeds of its runs.

Seeds of replications.

What a comparison keeps of one run: counts, small enough to send between processes.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass
from hashlib import blake2b

from sim.judge.legs import LegId, Spoiled, clean_legs, spoiled_legs
from sim.records.causes import Cause
from sim.records.model import Record


def replication_seed(seed: int, replication: int) -> int:
    """Seed of replication ``replication`` (from 0): a pure function of both numbers.

    32 bits, short enough to be typed again by a person who wants to see that
    one replication.
    """
    text = f"replication {replication} of seed {seed}".encode()
    return int.from_bytes(blake2b(text, digest_size=4).digest(), "big")


@dataclass(frozen=True, slots=True, order=True)
class StallPlace:
    """What stalls are counted by. ``piece`` is the one charged, empty for none."""

    section: str
    kind: str
    cause: Cause
    piece: str


@dataclass(frozen=True, slots=True)
class Tally:
    """Counts of one run. ``stalled`` names the stalled legs as (train, leg)."""

    legs: int
    stalled: tuple[tuple[str, str], ...]
    passes: int
    stalled_passes: int
    stalls: tuple[tuple[StallPlace, int], ...]
    hesitations: int
    trips: int
    derailments: int
    run_throughs: int
    random: bool
    #: legs that ran clean, and those that began and were stopped, with what stopped them
    clean: tuple[LegId, ...] = ()
    spoiled: tuple[tuple[LegId, Spoiled], ...] = ()

    @property
    def stall_count(self) -> int:
        """Single stalls; one leg may hold several."""
        return sum(n for _, n in self.stalls)


def tally(record: Record) -> Tally:
    """Count one record. Stalls that share section, kind, cause and piece are one line."""
    places = Counter(
        StallPlace(s.section, s.kind, s.cause, s.charged_to or "") for s in record.stalls
    )
    return Tally(
        legs=len(record.legs),
        stalled=tuple((x.train, x.leg) for x in record.legs if x.outcome == "stalled"),
        passes=len(record.passes),
        stalled_passes=sum(p.outcome == "stalled" for p in record.passes),
        stalls=tuple(sorted(places.items())),
        hesitations=len(record.hesitations),
        trips=len(record.trips),
        derailments=len(record.derailments),
        run_throughs=len(record.run_throughs),
        random=record.random,
        clean=clean_legs(record),
        spoiled=spoiled_legs(record),
    )


@dataclass(frozen=True, slots=True)
class SectionStalls:
    """Stalls on one section, with the kind and cause that most of them have."""

    section: str
    stalls: int
    kind: str
    cause: Cause


@dataclass(frozen=True, slots=True)
class PieceStalls:
    """Stalls charged to one piece (``module/piece``), None where no piece is at fault."""

    piece: str | None
    stalls: int


def by_section(tallies: Iterable[Tally]) -> tuple[SectionStalls, ...]:
    """Stalls per section, most first, then by name. Adds up to all stalls."""
    lines: dict[str, Counter[StallPlace]] = {}
    for place, count in _all_stalls(tallies):
        lines.setdefault(place.section, Counter())[place] += count
    found = [_section(name, places) for name, places in lines.items()]
    return tuple(sorted(found, key=lambda s: (-s.stalls, s.section)))


def by_piece(tallies: Iterable[Tally]) -> tuple[PieceStalls, ...]:
    """Stalls per charged piece, most first, then by name. Adds up to all stalls."""
    pieces: Counter[str] = Counter()
    for place, count in _all_stalls(tallies):
        pieces[place.piece] += count
    ordered = sorted(pieces.items(), key=lambda item: (-item[1], item[0]))
    return tuple(PieceStalls(piece or None, count) for piece, count in ordered)


def _all_stalls(tallies: Iterable[Tally]) -> Iterable[tuple[StallPlace, int]]:
    return (line for one in tallies for line in one.stalls)


def _section(name: str, places: Counter[StallPlace]) -> SectionStalls:
    """Among equally frequent causes the first in the order of their facts is taken."""
    kinds: Counter[tuple[str, Cause]] = Counter()
    for place, count in places.items():
        kinds[place.kind, place.cause] += count
    kind, cause = min(kinds, key=lambda k: (-kinds[k], k))
    return SectionStalls(name, places.total(), kind, cause)
