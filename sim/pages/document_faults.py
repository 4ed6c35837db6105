"""The document of a survey of faults."""

from __future__ import annotations

from collections.abc import Sequence

from sim.faults.harm import Change, FixChange, Harm, Survey
from sim.faults.model import Fault
from sim.faults.tired_model import TiredChange, TiredHarm, TiredSurvey
from sim.pages.documents import FORMAT_VERSION, Asked, Document


def faults_document(
    asked: Asked,
    survey: Survey,
    fixes: Sequence[FixChange],
    tired: TiredSurvey,
    starts: Sequence[TiredChange],
) -> Document:
    """Every fault, the most harmful first, and what each fix changes.

    ``starts`` are the changes that each of ``fixes`` makes to tired parts.
    """
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
        "tired": _tired(tired),
        "fixes": [
            {**_fix(f), "tired": _tired_change(t)} for f, t in zip(fixes, starts, strict=True)
        ],
    }


def _tired(survey: TiredSurvey) -> Document:
    return {
        "starting_train": {
            "whose": survey.train.whose,
            "ohm": round(survey.train.ohm, 6),
            "starting_a": survey.train.amps,
        },
        "tired_ohm": survey.ohm,
        "tired_ohm_whose": survey.whose,
        "settings": survey.settings,
        "parts": survey.parts,
        "harms": [_tired_harm(h) for h in survey.harms],
        "skipped": list(survey.skipped),
    }


def _tired_harm(harm: TiredHarm) -> Document:
    return {
        "id": harm.id,
        "part": harm.part,
        "kind": harm.kind,
        "ohm": harm.ohm,
        "lost": harm.lost,
        "volts": harm.volts,
        "needs_v": harm.needs,
        "routes": [{"route": route, "settings": count} for route, count in harm.routes],
    }


def _tired_change(change: TiredChange) -> Document:
    return {
        "harmful": {"before": len(change.before.harms), "after": len(change.after.harms)},
        "cured": list(change.cured),
        "worse": [_tired_harm(h) for h in change.worse],
        "skipped": list(change.after.skipped),
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
