"""The document of tracing a fault."""

from __future__ import annotations

from typing import Any

from sim.diagnose.findings import Findings, Retake
from sim.diagnose.model import KINDS, ODDS, ODDS_WHOSE, Fault
from sim.diagnose.next_reading import Suggestion
from sim.layout.model import Layout
from sim.pages.documents import FORMAT_VERSION, Asked, Document


def locate_document(
    asked: Asked, fix: str | None, layout: Layout, found: Findings, odds: dict[str, float]
) -> Document:
    """What explains the readings, most likely first, and the reading to take next."""
    return {
        "format_version": FORMAT_VERSION,
        "scenario": asked.scenario,
        "fix": fix,
        "command": asked.command,
        "readings": [
            {"number": r.number, "text": r.text, "said": r.said, "allows": sorted(r.allows)}
            for r in found.readings
        ],
        "nothing_contradicts_sound": found.sound,
        "explanations": [
            {"faults": _faults(e.faults), "share": round(e.share, 6), "group": e.group}
            for e in found.explanations
        ],
        "groups": found.groups,
        "searched": {
            "faults_at_once": found.faults_at_once,
            "complete": found.complete,
            "sets": found.looked_at,
        },
        "impossible": found.impossible,
        "take_again": [_retake(r) for r in found.retakes],
        "doubts": [_retake(r) for r in found.doubts],
        "next": _suggestion(layout, found.easy),
        "next_opened": _suggestion(layout, found.opened),
        "assumptions": _assumptions(odds),
    }


def _assumptions(odds: dict[str, float]) -> list[dict[str, str]]:
    """The odds of every kind of fault, then of the others that the user gives odds of."""
    kinds = [
        {
            "what": f"odds of {name}",
            "value": f"{odds.get(name, ODDS[name]):g}",
            "whose": "yours" if name in odds else ODDS_WHOSE,
        }
        for name in KINDS
    ]
    others = [
        {"what": f"odds of {name}", "value": f"{value:g}", "whose": "yours"}
        for name, value in odds.items()
        if name not in KINDS
    ]
    return kinds + others


def _faults(faults: tuple[Fault, ...]) -> list[dict[str, Any]]:
    return [{"kind": f.kind, "part": f.part} for f in faults]


def _retake(retake: Retake) -> dict[str, Any]:
    faults = None if retake.faults is None else _faults(retake.faults)
    return {"readings": list(retake.readings), "then": faults, "share": round(retake.share, 6)}


def _suggestion(layout: Layout, suggestion: Suggestion | None) -> dict[str, Any] | None:
    if suggestion is None:
        return None
    probe = suggestion.ask.probe
    return {
        "what": probe.what,
        "from": suggestion.ask.a,
        "to": suggestion.ask.b,
        "where": probe.where,
        "levers": {
            x.id: x.positions[p] for x, p in zip(layout.levers, probe.positions, strict=True)
        },
        "reach": suggestion.ask.reach,
        "expected_bits": round(suggestion.bits, 6),
        "answers": [
            {"outcome": outcome, "share": round(share, 6), "left": left}
            for outcome, share, left in suggestion.answers
        ],
    }
