"""The document of a worksheet."""

from __future__ import annotations

from typing import Any

from sim.pages.documents import FORMAT_VERSION, Asked, Document, assumptions_list
from sim.worksheet.model import (
    Expected,
    LampRow,
    Lit,
    MeterRow,
    MeterTable,
    Spot,
    WireRow,
    Worksheet,
)


def worksheet_document(asked: Asked, sheet: Worksheet) -> Document:
    """Places, wires, order of work, tables of readings before and after, cautions."""
    return {
        "format_version": FORMAT_VERSION,
        "scenario": sheet.scenario,
        "fix": sheet.fix,
        "command": asked.command,
        "pieces": list(sheet.pieces),
        "places": [_place(s) for s in sheet.spots],
        "wires": [_wire(w) for w in sheet.wires],
        "steps": [{"title": s.title, "details": list(s.details)} for s in sheet.steps],
        "trial": list(sheet.trial),
        "continuity": [_table(t) for t in sheet.meter],
        "lamp": [_lamp(r) for r in sheet.lamp],
        "lamp_left_out": sheet.lamp_left_out,
        "cautions": list(sheet.cautions),
        "refused": list(sheet.refused),
        "hints": list(sheet.hints),
        "assumptions": assumptions_list(sheet.assumptions),
    }


def _place(spot: Spot) -> dict[str, Any]:
    return {
        "number": spot.number,
        "ref": spot.ref,
        "section": spot.section,
        "piece": spot.piece,
        "x_mm": spot.x_mm,
        "y_mm": spot.y_mm,
        "face": spot.face,
        "solder": spot.solder,
        "iron_s": spot.iron_s,
        "refused": spot.refused,
    }


def _wire(wire: WireRow) -> dict[str, Any]:
    return {
        "name": wire.name,
        "from": wire.start,
        "from_words": wire.start_words,
        "to": wire.to,
        "to_words": wire.to_words,
        "cut_mm": wire.cut_mm,
        "measured": wire.measured,
        "wire": wire.wire,
        "bare_mm": wire.bare_mm,
        "sleeve_mm": wire.sleeve_mm,
        "way": wire.way,
    }


def _lamp(row: LampRow) -> dict[str, Any]:
    return {
        "route": row.route,
        "setting": row.setting,
        "from_mm": row.from_mm,
        "to_mm": row.to_mm,
        "left": row.left,
        "right": row.right,
        "before": None if row.before is None else _lit(row.before),
        "after": _lit(row.after),
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
