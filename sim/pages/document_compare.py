"""The document of a comparison."""

from __future__ import annotations

from sim.judge.comparison import CaseResult, Comparison, Difference, LeverByLever
from sim.judge.verdict import verdict
from sim.pages.documents import (
    FORMAT_VERSION,
    Asked,
    Document,
    assumptions_list,
    seconds,
)


def compare_document(asked: Asked, comparison: Comparison) -> Document:
    """All cases, the paired differences and what they say."""
    return {
        "format_version": FORMAT_VERSION,
        "scenario": comparison.scenario,
        "seed": comparison.seed,
        "command": asked.command,
        "runs": comparison.runs,
        "run_seeds": list(comparison.seeds),
        "duration_s": seconds(comparison.duration_s),
        "cases": [_case(c) for c in comparison.cases],
        "differences": [_difference(d) for d in comparison.differences],
        "verdicts": [
            {"fix": d.fix, "says": list(verdict(comparison, k))}
            for k, d in enumerate(comparison.differences)
        ],
        "assumptions": assumptions_list(comparison.assumptions),
    }


def _case(case: CaseResult) -> Document:
    return {
        "name": case.name,
        "note": case.note,
        "random": case.random,
        "legs": case.legs,
        "stalled_legs": case.stalled_legs,
        "passes": case.passes,
        "stalled_passes": case.stalled_passes,
        "stalls": case.stalls,
        "hesitations": case.hesitations,
        "trips": case.trips,
        "derailments": case.derailments,
        "run_throughs": case.run_throughs,
        "stall_rate": _share(case.stall_rate),
        "low": _share(case.low),
        "high": _share(case.high),
        "by_section": [
            {"section": s.section, "stalls": s.stalls, "kind": s.kind, "cause": list(s.cause)}
            for s in case.by_section
        ],
        "by_piece": [{"piece": p.piece, "stalls": p.stalls} for p in case.by_piece],
        "settings": {
            "total": case.settings.total,
            "dead": case.settings.dead,
            "short": case.settings.short,
            "skipped": case.settings.skipped,
            "joined_supplies": [
                {"poles": list(j.poles), "how": j.how} for j in case.settings.joined
            ],
            "lever_by_lever": _lever_by_lever(case.settings.each),
            "joined_districts": [list(pair) for pair in case.settings.districts],
        },
    }


def _lever_by_lever(each: LeverByLever | None) -> Document | None:
    if each is None:
        return None
    return {"total": each.total, "dead": each.dead, "short": each.short}


def _difference(difference: Difference) -> Document:
    return {
        "fix": difference.fix,
        "stalls_removed": _share(difference.stalls_removed),
        "low": _share(difference.low),
        "high": _share(difference.high),
        "p_value": _share(difference.p_value),
        "exact": difference.exact,
        "legs_cured": difference.legs_cured,
        "legs_harmed": difference.legs_harmed,
        "runs_cured": difference.runs_cured,
        "runs_harmed": difference.runs_harmed,
        "runs_p_value": _share(difference.runs_p_value),
    }


def _share(value: float | None) -> float | None:
    """Six digits after the point; never minus zero."""
    return None if value is None else round(float(value), 6) + 0.0
