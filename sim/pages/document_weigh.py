"""The document of a weighing."""

from __future__ import annotations

from sim.pages.documents import FORMAT_VERSION, Asked, Document, assumptions_list
from sim.weigh.model import CRITERIA, Weighed, Weighing


def weigh_document(asked: Asked, weighing: Weighing) -> Document:
    """All criteria and all cases; values by the criterion's name, null: unknown or no limit."""
    return {
        "format_version": FORMAT_VERSION,
        "scenario": weighing.scenario,
        "seed": weighing.seed,
        "command": asked.command,
        "runs": weighing.runs,
        "criteria": [
            {"name": c.name, "words": c.words, "better": c.better, "unit": c.unit or None}
            for c in CRITERIA
        ],
        "weights": dict(weighing.weights),
        "cases": [_case(c) for c in weighing.cases],
        "notes": list(weighing.notes),
        "assumptions": assumptions_list(weighing.assumptions),
    }


def _case(case: Weighed) -> Document:
    return {
        "name": case.name,
        "note": case.note,
        "found": case.found,
        "values": {c.name: v for c, v in zip(CRITERIA, case.values, strict=True)},
        "faults": case.faults,
        "stalled_low": case.low,
        "stalled_high": case.high,
        "fits": case.work.fits,
        "opened": list(case.work.opened),
        "held_down": list(case.work.held_down),
        "replaced": list(case.work.replaced),
        "unmeasured_wires": case.work.unmeasured,
        "refused": list(case.work.refused),
        "cautions": list(case.work.cautions),
        "undominated": case.undominated,
        "beaten_by": case.beaten_by,
        "says": list(case.words),
        "score": case.score,
    }
