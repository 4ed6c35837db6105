"""What a comparison says about each fix, in plain words."""

from __future__ import annotations

from collections.abc import Callable

from sim.judge.comparison import CaseResult, Comparison, Difference

#: A p-value above this is what chance does too: one in twenty.
CHANCE = 0.05
#: With a smaller share of the legs as built, numbers of stalls are no longer alike.
LEGS_KEPT = 0.8


def verdict(
    comparison: Comparison, fix: int, call: Callable[[str], str] = str
) -> tuple[str, ...]:
    """Sentences on fix number ``fix`` (from 0), the most important first.

    ``call`` says what a section is called.
    """
    before = comparison.as_built
    after = comparison.cases[fix + 1]
    said = [
        _stalls(before, after, comparison.runs),
        _doubt(comparison.differences[fix]),
        _traffic(before, after),
        *_settings(before, after),
        _lever_by_lever(before, after),
        _trips(before, after),
        *_unchanged(before, after, call),
        *_new(before, after, call),
        _derailments(before, after),
    ]
    return tuple(sentence for sentence in said if sentence)


def count(number: int, one: str, many: str | None = None) -> str:
    """``1 stall``, ``2 stalls``."""
    return f"{number} {one if number == 1 else many or one + 's'}"


def section_named(section: str) -> str:
    """What a section is called; over plastic or dirt there is none to name."""
    return section or "plastic or dirt"


def _stalls(before: CaseResult, after: CaseResult, runs: int) -> str:
    where = "" if runs == 1 else f" in {runs} runs"
    if before.stalls == 0:
        if after.stalls == 0:
            return _nothing_stalls(before, after, where)
        return f"Makes it worse: {count(after.stalls, 'stall')}{where}, none as built."
    removed = before.stalls - after.stalls
    if after.stalls == 0:
        what = "the only stall" if before.stalls == 1 else f"all {before.stalls} stalls"
        return f"Removes {what}{where}."
    if removed > 0:
        return f"Removes {removed} of {count(before.stalls, 'stall')}{where}."
    if removed == 0:
        return f"Removes none: {count(before.stalls, 'stall')}{where}, as many as before."
    return f"Makes it worse: {count(after.stalls, 'stall')}{where}, {before.stalls} as built."


def _nothing_stalls(before: CaseResult, after: CaseResult, where: str) -> str:
    """Trips decide then: a supply that trips halts trains that do not count as stalled."""
    if before.trips == 0 == after.trips:
        if before.legs == 0 == after.legs:
            return "No train finishes a leg, so runs tell nothing of it; its settings do."
        return f"Needless for this timetable: as built nothing stalls{where}."
    stalls = "nothing stalls, as built or with it"
    trips = count(before.trips, "trip")
    if after.trips == 0:
        what = "the only trip" if before.trips == 1 else f"all {trips}"
        return f"Prevents {what}{where}; {stalls}."
    if after.trips < before.trips:
        return f"Prevents {before.trips - after.trips} of {trips}{where}; {stalls}."
    if after.trips == before.trips:
        return f"Prevents none of {trips}{where}; {stalls}."
    return f"Makes it worse: {count(after.trips, 'trip')}{where}; {stalls}."


def _doubt(difference: Difference) -> str:
    p_value = difference.p_value
    if difference.stalls_removed == 0 or p_value is None or p_value <= CHANCE:
        return ""
    return f"Chance alone could do as much (p = {p_value:.2g}): make more runs."


def _settings(before: CaseResult, after: CaseResult) -> list[str]:
    old, new = before.settings, after.settings
    said = []
    if new.short or old.short:
        was = "" if (old.short, old.total) == (new.short, new.total) else _was(old.short)
        said.append(f"Shorts in {new.short} of {count(new.total, 'setting')}{was}.")
    if new.dead != old.dead:
        said.append(f"Settings with a dead route: {new.dead} of {new.total}{_was(old.dead)}.")
    said += [
        f"Joins the rails of {one} and {other}, which are to stay apart."
        for one, other in new.districts
        if (one, other) not in old.districts
    ]
    said += [
        f"Joins {' and '.join(joint.poles)} ({joint.how})."
        for joint in new.joined
        if joint not in old.joined
    ]
    return said


def _traffic(before: CaseResult, after: CaseResult) -> str:
    """Fewer legs mean that trains stood about, which hides stalls."""
    if after.legs >= LEGS_KEPT * before.legs:
        return ""
    return (
        f"Fewer legs were run, {after.legs} and {before.legs} as built: trains stood still, "
        "so read the rate and not the number of stalls."
    )


def _lever_by_lever(before: CaseResult, after: CaseResult) -> str:
    """Shorts that only a lever out of step with its gang makes."""
    old, new = before.settings.each, after.settings.each
    if new is None or new.short == after.settings.short or not new.short:
        return ""
    was = _was(old.short) if old and old.short != new.short else ""
    return (
        f"Shorts when a lever does not follow its gang: in {new.short} of "
        f"{count(new.total, 'setting')} lever by lever{was}."
    )


def _was(number: int) -> str:
    return f" ({number or 'none'} as built)"


def _trips(before: CaseResult, after: CaseResult) -> str:
    if after.trips == before.trips or before.stalls == 0 == after.stalls:
        return ""  # no more to tell than the first sentence did
    return f"Supplies trip {count(after.trips, 'time')}, {before.trips} as built."


def _unchanged(before: CaseResult, after: CaseResult, call: Callable[[str], str]) -> list[str]:
    left = {s.section: s.stalls for s in after.by_section}
    if after.stalls >= before.stalls:
        return []
    return [
        f"Does nothing for the {count(s.stalls, 'stall')} on {section_named(call(s.section))} "
        f"({s.kind})."
        for s in before.by_section
        if left.get(s.section, 0) >= s.stalls
    ]


def _new(before: CaseResult, after: CaseResult, call: Callable[[str], str]) -> list[str]:
    known = {s.section for s in before.by_section}
    return [
        f"New: {count(s.stalls, 'stall')} on {section_named(call(s.section))} ({s.kind})."
        for s in after.by_section
        if s.section not in known
    ]


def _derailments(before: CaseResult, after: CaseResult) -> str:
    if after.derailments <= before.derailments:
        return ""
    return f"Derailments: {after.derailments}, {before.derailments} as built."
