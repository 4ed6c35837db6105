"""The document of a worksheet."""

from __future__ import annotations

from typing import Any

from sim.pages.documents import FORMAT_VERSION, Asked, Document, assumptions_list
from sim.worksheet.model import Expected, Lit, MeterRow, MeterTable, Worksheet


def worksheet_document(asked: Asked, sheet: Worksheet) -> Document:
    """Places, wires, order of work, tables of readings before and after, cautions."""
    return {
        "format_version": FORMAT_VERSION,
        "scenario": sheet.scenario,
        "fix": sheet.fix,
        "command": asked.command,
        "pieces": list(sheet.pieces),
        "places": [
            {
                "number": s.number,
                "ref": s.ref,
                "section": s.section,
                "piece": s.piece,
                "x_mm": s.x_mm,
                "y_mm": s.y_mm,
                "face": s.face,
                "solder": s.solder,
                "iron_s": s.iron_s,
                "refused": s.refused,
            }
            for s in sheet.spots
        ],
        "wires": [
            {
                "name": w.name,
                "from": w.start,
                "from_words": w.start_words,
                "to": w.to,
                "to_words": w.to_words,
                "cut_mm": w.cut_mm,
                "measured": w.measured,
                "wire": w.wire,
                "bare_mm": w.bare_mm,
                "sleeve_mm": w.sleeve_mm,
                "way": w.way,
            }
            for w in sheet.wires
        ],
        "steps": [{"title": s.title, "details": list(s.details)} for s in sheet.steps],
        "trial": list(sheet.trial),
        "continuity": [_table(t) for t in sheet.meter],
        "lamp": [
            {
                "route": r.route,
                "setting": r.setting,
                "from_mm": r.from_mm,
                "to_mm": r.to_mm,
                "left": r.left,
                "right": r.right,
                "before": None if r.before is None else _lit(r.before),
                "after": _lit(r.after),
            }
            for r in sheet.lamp
        ],
        "lamp_left_out": sheet.lamp_left_out,
        "cautions": list(sheet.cautions),
        "refused": list(sheet.refused),
        "hints": list(sheet.hints),
        "assumptions": assumptions_list(sheet.assumptions),
    }


def _table(table: MeterTable) -> dict[str, Any]:
    return {
        "board": table.board,
        "settings": list(table.settings),
        "left_out": table.left_out,
        "readings": [_row(r) for r in table.rows],
        "must_stay_open": [_row(r) for r in table.isolation],
    }


def _row(row: MeterRow) -> dict[str, Any]:
    return {
        "places": [row.a, row.b],
        "before": [_expected(e) for e in row.before],
        "after": [_expected(e) for e in row.after],
    }


def _expected(expected: Expected | None) -> dict[str, Any] | None:
    if expected is None:
        return None
    if not expected.joined:
        return {"read": "open"}
    return {"read": "joined", "ohm": expected.ohm, "good_up_to_ohm": expected.good_ohm}


def _lit(lit: Lit) -> dict[str, Any]:
    return {
        "state": lit.state,
        "volts": lit.volts,
        "good_from_v": lit.good_from,
        "good_to_v": lit.good_to,
    }
