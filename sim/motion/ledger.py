"""Writes down what happens in one run, and closes what is open when it ends."""

from __future__ import annotations

from dataclasses import dataclass, field, replace

from sim.layout.traffic import Case
from sim.motion.kinematics import US_PER_S
from sim.records.model import (
    Change,
    Derailment,
    Dropout,
    Event,
    Hesitation,
    Leg,
    Motion,
    Outcome,
    Pass,
    Record,
    Reversal,
    RunThrough,
    Stall,
    Trip,
)

#: The worst that happened names the outcome.
RANK: dict[Outcome, int] = {
    "clean": 0,
    "hesitated": 1,
    "held": 2,
    "not finished": 3,
    "tripped": 4,
    "stalled": 5,
}


@dataclass(slots=True)
class Open:
    """A leg or pass under way."""

    train: str
    name: str
    start_us: int
    outcome: Outcome = "clean"

    def worsen(self, outcome: Outcome) -> None:
        """Note something that happened during it."""
        if RANK[outcome] > RANK[self.outcome]:
            self.outcome = outcome


@dataclass(slots=True)
class Ledger:
    """The record of a run while it is being written."""

    legs: list[Leg] = field(default_factory=list)
    passes: list[Pass] = field(default_factory=list)
    stalls: list[Stall] = field(default_factory=list)
    hesitations: list[Hesitation] = field(default_factory=list)
    dropouts: list[Dropout] = field(default_factory=list)
    trips: list[Trip] = field(default_factory=list)
    derailments: list[Derailment] = field(default_factory=list)
    run_throughs: list[RunThrough] = field(default_factory=list)
    reversals: list[Reversal] = field(default_factory=list)
    events: list[Event] = field(default_factory=list)
    motions: list[Motion] = field(default_factory=list)
    changes: list[Change] = field(default_factory=list)

    def close_leg(self, leg: Open, now_us: int, finished: bool) -> None:
        """End a leg; one that is cut short is at best not finished."""
        if not finished:
            leg.worsen("not finished")
        self.legs.append(
            Leg(leg.train, leg.name, leg.outcome, seconds(leg.start_us), seconds(now_us))
        )

    def close_pass(self, passing: Open, now_us: int | None) -> None:
        """End a pass; ``now_us`` is None when the train never left."""
        if now_us is None:
            passing.worsen("not finished")
        leave = None if now_us is None else seconds(now_us)
        self.passes.append(
            Pass(passing.train, passing.name, passing.outcome, seconds(passing.start_us), leave)
        )

    def nudged(self, number: int) -> None:
        """One more nudge for stall ``number``."""
        stall = self.stalls[number]
        self.stalls[number] = replace(stall, nudges=stall.nudges + 1)

    def record(self, case: Case, seed: int, is_random: bool) -> Record:
        """The finished record; passes and legs in the order they began."""
        return Record(
            case.scenario,
            case.fix,
            seed,
            case.conduct.duration_s,
            tuple(sorted(self.legs, key=lambda x: (x.start_s, x.train, x.leg))),
            tuple(sorted(self.passes, key=lambda x: (x.enter_s, x.train, x.route))),
            tuple(self.stalls),
            tuple(sorted(self.hesitations, key=lambda x: (x.time_s, x.train))),
            tuple(sorted(self.dropouts, key=lambda x: (x.time_s, x.train, x.where))),
            tuple(self.trips),
            tuple(self.derailments),
            tuple(self.run_throughs),
            tuple(self.reversals),
            tuple(self.events),
            tuple(sorted(self.motions, key=lambda m: m.time_s)),
            is_random,
            tuple(self.changes),
        )


def seconds(time_us: int) -> float:
    """Whole microseconds as seconds."""
    return time_us / US_PER_S
