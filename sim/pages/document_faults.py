"""The document of a survey of faults."""

from __future__ import annotations

from collections.abc import Sequence

from sim.faults.harm import Change, FixChange, Harm, Survey
from sim.faults.model import Fault
from sim.pages.documents import FORMAT_VERSION, Asked, Document


def faults_document(asked: Asked, survey: Survey, fixes: Sequence[FixChange]) -> Document:
    """Every fault, the most harmful first, and what each fix changes."""
    double = survey.double
    return {
        "format_version": FORMAT_VERSION,
        "scenario": survey.scenario,
        "fix": survey.fix,
        "command": asked.command,
        "settings": survey.settings,
        "states": survey.states,
        "skipped": list(survey.skipped),
        "without_fault": _harm(survey.healthy),
        "single": [_harm(h) for h in survey.single],
        "double": None if double is None else [_harm(h) for h in double],
        "fixes": [_fix(f) for f in fixes],
    }


def _harm(harm: Harm) -> Document:
    return {
        "faults": [_fault(f) for f in harm.faults],
        "lost": harm.lost,
        "short": harm.short,
        "joined": harm.joined,
        "dead": harm.dead,
        "shorted": harm.shorted,
        "routes_lost": harm.routes_lost,
        "routes": [
            {
                "route": r.route,
                "kinds": list(r.kinds),
                "settings": r.settings,
                "example": dict(r.example),
            }
            for r in harm.routes
        ],
        "joined_supplies": [list(pair) for pair in harm.supplies],
    }


def _fault(fault: Fault) -> Document:
    return {"id": fault.id, "part": fault.part, "kind": fault.kind}


def _fix(change: FixChange) -> Document:
    return {
        "fix": change.fix,
        "without_fault": {
            "before": _sum(change.before.healthy),
            "after": _sum(change.after.healthy),
        },
        "harmful_faults": {
            "before": sum(h.harms for h in change.before.single),
            "after": sum(h.harms for h in change.after.single),
        },
        "cured": [_fault(c.fault) for c in change.cured],
        "worse": [_change(c) for c in change.worse],
        "skipped": list(change.after.skipped),
    }


def _sum(harm: Harm) -> Document:
    return {"dead": harm.dead, "short": harm.short, "joined": harm.joined}


def _change(change: Change) -> Document:
    before, after = change.toll_before, change.toll_after
    return {
        "fault": _fault(change.fault),
        "before": {"dead": before.dead, "short": before.short},
        "after": {"dead": after.dead, "short": after.short},
    }
