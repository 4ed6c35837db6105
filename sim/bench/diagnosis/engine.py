"""Minimal diagnoses from conflicts, whatever is diagnosed.

A *conflict* is a set of faults of which at least one must have happened, because
without any of them what was read cannot be.  A *diagnosis* is a set of faults that
explains everything; only minimal ones are wanted.  Diagnoses are grown from nothing:
each set that does not explain everything has a conflict, and each fault of the
conflict makes a larger set to look at.  That misses no minimal diagnosis, for a
diagnosis that contains the set must contain a fault of its conflict too.

After R. Reiter, A theory of diagnosis from first principles, and J. de Kleer and
B. C. Williams, Diagnosing multiple faults, both Artificial Intelligence 32 (1987).
What follows from a set of faults is not known here: a model says it.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Hashable, Iterable
from dataclasses import dataclass
from typing import Generic, Protocol, TypeVar

F = TypeVar("F", bound=Hashable)


class Consequences(Protocol[F]):
    """What is diagnosed: faults, what cannot be together, and what contradicts what."""

    def conflict(self, faults: frozenset[F]) -> Collection[F] | None:
        """Faults one of which must be there besides ``faults``; None when all is explained.

        The order decides in which order diagnoses of one size are found.
        """

    def together(self, faults: frozenset[F], fault: F) -> bool:
        """Whether ``fault`` can be there besides ``faults``: a part has one fault at most."""


@dataclass(frozen=True, slots=True)
class Diagnoses(Generic[F]):
    """Minimal sets of faults, small ones first.

    ``complete``: every one of at most so many faults as were asked for is there;
    otherwise the search was cut off after ``looked_at`` sets.
    """

    sets: tuple[frozenset[F], ...]
    complete: bool
    looked_at: int


def minimal_diagnoses(
    model: Consequences[F], most_faults: int, most_sets: int = 20_000
) -> Diagnoses[F]:
    """Every minimal diagnosis of at most ``most_faults`` faults.

    At most ``most_sets`` sets are looked at.
    """
    found: list[frozenset[F]] = []
    level: list[frozenset[F]] = [frozenset()]
    looked = 0
    for size in range(most_faults + 1):
        larger: dict[frozenset[F], None] = {}
        for faults in level:
            if any(known <= faults for known in found):
                continue
            if looked >= most_sets:
                return Diagnoses(tuple(found), False, looked)
            looked += 1
            conflict = model.conflict(faults)
            if conflict is None:
                found.append(faults)
            elif size < most_faults:
                for fault in conflict:
                    if fault not in faults and model.together(faults, fault):
                        larger[faults | {fault}] = None
        level = list(larger)
    return Diagnoses(tuple(found), True, looked)


def shrunk(parts: Iterable[F], contradicts: Callable[[Collection[F]], bool]) -> list[F]:
    """A minimal part of ``parts`` that still ``contradicts``.

    For models that can only say whether parts, all taken as sound, contradict what
    was read, and for which more sound parts never contradict less.
    """
    kept = list(parts)
    for part in list(kept):
        fewer = [p for p in kept if p != part]
        if contradicts(fewer):
            kept = fewer
    return kept


def minimal_hitting_sets(sets: Iterable[Collection[F]]) -> list[frozenset[F]]:
    """Every minimal set that has something in common with each of ``sets``.

    Minimal conflicts hit minimal diagnoses and the other way round, so this gives
    either from the other where faults are told only by their part.
    """
    found: list[frozenset[F]] = [frozenset()]
    for group in sets:
        hit = [s for s in found if not s.isdisjoint(group)]
        grown = [s | {item} for s in found if s.isdisjoint(group) for item in group]
        found = minimal([*hit, *grown])
    return found


def minimal(sets: Iterable[frozenset[F]]) -> list[frozenset[F]]:
    """``sets`` without those that contain another; small ones first, each once."""
    kept: list[frozenset[F]] = []
    for candidate in sorted(dict.fromkeys(sets), key=len):
        if not any(known <= candidate for known in kept):
            kept.append(candidate)
    return kept
