"""Which faults of a scenario have a part in exact odds, and which are left to runs."""

from __future__ import annotations

from collections.abc import Iterable

from sim.layout.traffic import Wear

#: Parts of one rule that are named.
NAMED = 3


def off_from_the_start(wear: Iterable[Wear]) -> dict[str, float]:
    """The chance that a supply is off for a whole run, by its name."""
    found: dict[str, float] = {}
    for rule in wear:
        if _is_off(rule):
            good = (1.0 - found.get(rule.part, 0.0)) * (1.0 - (rule.chance or 0.0))
            found[rule.part] = round(1.0 - good, 12)
    return found


def _is_off(rule: Wear) -> bool:
    return (
        rule.kind == "supply"
        and rule.per == "run"
        and rule.for_s is None
        and not rule.cleared_by
    )


def left_out(wear: Iterable[Wear]) -> tuple[str, ...]:
    """Faults that come and go within a run, or that tracing cannot see, in words."""
    rules: dict[tuple[str, str], list[str]] = {}
    for rule in wear:
        if not _is_off(rule):
            rules.setdefault((rule.what, _when(rule)), []).append(rule.part)
    return tuple(f"{_named(parts)}: {what}, {when}" for (what, when), parts in rules.items())


def _when(rule: Wear) -> str:
    if rule.at_s is not None:
        return f"at {rule.at_s:g} s"
    if rule.at_throw is not None:
        return f"at throw {rule.at_throw}"
    return f"{rule.chance:g} per {rule.per}"


def _named(parts: list[str]) -> str:
    more = len(parts) - NAMED
    return ", ".join(parts[:NAMED]) + (f" and {more} more" if more > 0 else "")
