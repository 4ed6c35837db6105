"""The document of a module card."""

from __future__ import annotations

from sim.neighbours.card import Card
from sim.pages.documents import FORMAT_VERSION, Asked, Document, mm


def card_document(asked: Asked, card: Card) -> Document:
    """Changes with their undoing, verdicts by neighbours and wiring, tests when joining."""
    judged = card.judged
    return {
        "format_version": FORMAT_VERSION,
        "scenario": card.scenario,
        "fix": card.fix,
        "command": asked.command,
        "module": card.module,
        "length_mm": None if card.length_mm is None else mm(card.length_mm),
        "loops": list(card.loops),
        "changes": [{"done": s.done, "undo": s.undo} for s in card.steps],
        "elsewhere": list(judged.elsewhere),
        "safe_anywhere": judged.anywhere,
        "neighbourhoods": [
            {
                "name": v.neighbourhood,
                "wiring": v.wiring,
                "safe": v.safe,
                "harms": list(v.harms),
                "standing": list(v.standing),
                "settings": v.settings,
                "dead_before": v.dead_before,
                "dead": v.dead,
                "cautions": list(v.cautions),
            }
            for v in judged.verdicts
        ],
        "not_possible": list(judged.skipped),
        "tests": list(card.tests),
        "cautions": list(card.cautions),
    }
