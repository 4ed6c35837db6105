"""Clean legs: those of the ideal run that a case runs without being stopped.

Stalls per leg rewards a layout on which nothing moves.  So the timetable is run once
with sound supply everywhere (:mod:`sim.run.ideal_supply`), and what counts is which
of the legs that this finishes are finished clean.
"""

from __future__ import annotations

from collections.abc import Iterable
from typing import Literal, get_args

from sim.layout.traffic import Case
from sim.records.model import Leg, Record

#: A leg by its train and its name: the same in every run of a scenario's cases.
LegId = tuple[str, str]
#: What stopped a leg that is not clean; the first that fits.
Spoiled = Literal["dead rails", "shorts and trips", "waiting behind a stopped train"]
#: In the order in which they are told; a leg that was never finished at all is told last.
STOPPED: tuple[Spoiled, ...] = get_args(Spoiled)


def ideal_legs(case: Case) -> frozenset[LegId]:
    """The legs that ``case`` would finish if every motor had the volts it is asked for."""
    from sim.run.run import run

    record = run(case, 0, ideal=True)
    return frozenset((leg.train, leg.leg) for leg in record.legs if leg.finished)


def clean_legs(record: Record) -> tuple[LegId, ...]:
    """Legs that were finished without having been stalled, tripped, or kept waiting by
    a train that was.

    Waiting behind a moving train, or one that waits by order, keeps a leg clean, and
    so does a hesitation.
    """
    return tuple(
        (leg.train, leg.leg) for leg in record.legs if leg.finished and spoiled(leg) is None
    )


def spoiled_legs(record: Record) -> tuple[tuple[LegId, Spoiled], ...]:
    """Legs that began and were stopped, and by what."""
    found = (((leg.train, leg.leg), spoiled(leg)) for leg in record.legs)
    return tuple((leg, why) for leg, why in found if why is not None)


def spoiled(leg: Leg) -> Spoiled | None:
    """What stopped a leg, or None."""
    if leg.outcome == "stalled":
        return "dead rails"
    if leg.outcome == "tripped":
        return "shorts and trips"
    if leg.waited_for == "stopped train":
        return "waiting behind a stopped train"
    return None


def count_of(legs: Iterable[LegId], ideal: frozenset[LegId]) -> int:
    """How many of ``legs`` are among the ideal ones."""
    return sum(leg in ideal for leg in legs)
