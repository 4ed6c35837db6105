"""What a comparison says about each fix, as facts."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from sim.judge.comparison import CaseResult, Comparison, Difference

#: A p-value above this is what chance does too: one in twenty.
CHANCE = 0.05
#: With a smaller share of the legs as built, numbers of stalls are no longer alike.
LEGS_KEPT = 0.8

#: ``now`` is with the fix, ``was`` as built; ``of`` what they are counted among.
FindingKind = Literal[
    "stalls are new",  # none as built
    "all stalls go",
    "some stalls go",
    "no stall goes",
    "more stalls",
    "no legs",  # nothing to compare by
    "needless",  # nothing stalls or trips as built
    "all trips go",  # the following four: nothing stalls, as built or with it
    "some trips go",
    "no trip goes",
    "more trips",
    "chance",  # would do as much, with the p-value ``now``
    "fewer legs",  # trains stood still
    "shorts",  # settings, ``of`` settings; ``same`` where all is as built
    "dead settings",
    "joins districts",  # ``names``
    "joins supplies",  # the poles ``names``, ``how``
    "shorts lever by lever",  # a lever that does not follow its gang
    "trips",
    "stalls stay",  # on ``section``, of the kind ``how``
    "new stalls",  # the same
    "derailments",
]


@dataclass(frozen=True, slots=True)
class Finding:
    """One thing that a comparison shows of a fix; see its kinds."""

    kind: FindingKind
    now: float = 0
    was: float = 0
    of: int = 0
    runs: int = 1
    same: bool = False
    names: tuple[str, ...] = ()
    section: str = ""
    how: str = ""


def verdict(comparison: Comparison, fix: int) -> tuple[Finding, ...]:
    """What is found of fix number ``fix`` (from 0), the most important first."""
    before = comparison.as_built
    after = comparison.cases[fix + 1]
    found = [
        _stalls(before, after, comparison.runs),
        _doubt(comparison.differences[fix]),
        _traffic(before, after),
        *_settings(before, after),
        _lever_by_lever(before, after),
        _trips(before, after),
        *_unchanged(before, after),
        *_new(before, after),
        _derailments(before, after),
    ]
    return tuple(finding for finding in found if finding is not None)


def count(number: int, one: str, many: str | None = None) -> str:
    """``1 stall``, ``2 stalls``."""
    return f"{number} {one if number == 1 else many or one + 's'}"


def section_named(section: str) -> str:
    """What a section is called; over plastic or dirt there is none to name."""
    return section or "plastic or dirt"


def _stalls(before: CaseResult, after: CaseResult, runs: int) -> Finding:
    was, now = before.stalls, after.stalls
    if was == 0 == now:
        return _nothing_stalls(before, after, runs)
    kind: FindingKind = "more stalls"
    if was == 0:
        kind = "stalls are new"
    elif now == 0:
        kind = "all stalls go"
    elif now < was:
        kind = "some stalls go"
    elif now == was:
        kind = "no stall goes"
    return Finding(kind, now, was, runs=runs)


def _nothing_stalls(before: CaseResult, after: CaseResult, runs: int) -> Finding:
    """Trips decide then: a supply that trips halts trains that do not count as stalled."""
    was, now = before.trips, after.trips
    kind: FindingKind = "more trips"
    if was == 0 == now:
        kind = "no legs" if before.legs == 0 == after.legs else "needless"
    elif now == 0:
        kind = "all trips go"
    elif now < was:
        kind = "some trips go"
    elif now == was:
        kind = "no trip goes"
    return Finding(kind, now, was, runs=runs)


def _doubt(difference: Difference) -> Finding | None:
    p_value = difference.p_value
    if difference.stalls_removed == 0 or p_value is None or p_value <= CHANCE:
        return None
    return Finding("chance", p_value)


def _settings(before: CaseResult, after: CaseResult) -> list[Finding]:
    old, new = before.settings, after.settings
    found = []
    if new.short or old.short:
        same = (old.short, old.total) == (new.short, new.total)
        found.append(Finding("shorts", new.short, old.short, new.total, same=same))
    if new.dead != old.dead:
        found.append(Finding("dead settings", new.dead, old.dead, new.total))
    found += [
        Finding("joins districts", names=pair)
        for pair in new.districts
        if pair not in old.districts
    ]
    return found + [
        Finding("joins supplies", names=joint.poles, how=joint.how)
        for joint in new.joined
        if joint not in old.joined
    ]


def _traffic(before: CaseResult, after: CaseResult) -> Finding | None:
    """Fewer legs mean that trains stood about, which hides stalls."""
    if after.legs >= LEGS_KEPT * before.legs:
        return None
    return Finding("fewer legs", after.legs, before.legs)


def _lever_by_lever(before: CaseResult, after: CaseResult) -> Finding | None:
    """Shorts that only a lever out of step with its gang makes."""
    old, new = before.settings.each, after.settings.each
    if new is None or new.short == after.settings.short or not new.short:
        return None
    same = old is None or old.short == new.short
    was = 0 if old is None else old.short
    return Finding("shorts lever by lever", new.short, was, new.total, same=same)


def _trips(before: CaseResult, after: CaseResult) -> Finding | None:
    if after.trips == before.trips or before.stalls == 0 == after.stalls:
        return None  # no more to tell than the first finding did
    return Finding("trips", after.trips, before.trips)


def _unchanged(before: CaseResult, after: CaseResult) -> list[Finding]:
    left = {s.section: s.stalls for s in after.by_section}
    if after.stalls >= before.stalls:
        return []
    return [
        Finding("stalls stay", s.stalls, s.stalls, section=s.section, how=s.kind)
        for s in before.by_section
        if left.get(s.section, 0) >= s.stalls
    ]


def _new(before: CaseResult, after: CaseResult) -> list[Finding]:
    known = {s.section for s in before.by_section}
    return [
        Finding("new stalls", s.stalls, section=s.section, how=s.kind)
        for s in after.by_section
        if s.section not in known
    ]


def _derailments(before: CaseResult, after: CaseResult) -> Finding | None:
    if after.derailments <= before.derailments:
        return None
    return Finding("derailments", after.derailments, before.derailments)
