"""Pieces that a fix alters: what is asked, whether it makes sense, and what comes of it."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from sim.layout.report import Report
from sim.scenario.document import Scenario
from sim.scenario.fixes import AlterTable, FixTable
from sim.scenario.problems import shown
from sim.scenario.tracks import PieceTable

_ODDS = "a table of probabilities", "a probability from 0 to 1", 1.0
#: Keys of a piece that are not parameters of its kind: what they hold.
_OWN_KEYS = {
    "opens": _ODDS,
    "fails": _ODDS,
    "contact_ohm": ("a table of resistances", "a resistance from 0 to 1e9 ohm", 1e9),
}


def alters_of(
    scenario: Scenario, fix: FixTable | None, fix_at: str, report: Report
) -> dict[str, tuple[str, AlterTable]]:
    """By piece that the fix alters: where the file says so, and how."""
    known = [f"{m.name}/{p.name}" for m in scenario.module for p in m.piece]
    alters: dict[str, tuple[str, AlterTable]] = {}
    for number, alter in enumerate(fix.alter if fix is not None else ()):
        where = f"{fix_at}.alter[{number}]"
        if alter.piece not in known:
            report.unknown(f"{where}.piece", "a piece, 'module/piece'", alter.piece, known)
        elif alter.piece in alters:
            report.error(f"{where}.piece", "each piece altered once", shown(alter.piece))
        elif _well_formed(alter, where, report):
            alters[alter.piece] = where, alter
    return alters


def _well_formed(alter: AlterTable, where: str, report: Report) -> bool:
    """Check the keys of ``set`` that are ours and not the piece kind's."""
    before = len(report.problems)
    if not isinstance(alter.set.get("kind", ""), str):
        report.error(f"{where}.set.kind", "text", shown(alter.set["kind"]))
    if "name" in alter.set:
        report.error(f"{where}.set.name", "no name: the piece keeps its own",
                     shown(alter.set["name"]))  # fmt: skip
    for key, (whole, each, most) in _OWN_KEYS.items():
        given = alter.set.get(key, {})
        if not isinstance(given, Mapping):
            report.error(f"{where}.set.{key}", whole, shown(given))
            continue
        for name, value in given.items():
            number = isinstance(value, (int, float)) and not isinstance(value, bool)
            if not number or not 0 <= value <= most:
                report.error(f"{where}.set.{key}.{name}", each, shown(value))
    return len(report.problems) == before


def altered(table: PieceTable, alter: AlterTable) -> tuple[str, dict[str, Any], PieceTable]:
    """Kind, parameters and table of ``table`` with ``alter`` made."""
    new = dict(alter.set)
    own = {key: new.pop(key, getattr(table, key)) for key in _OWN_KEYS}
    kind = new.pop("kind", table.kind)
    params = new if kind != table.kind else {**table.params, **new}
    changed = table.model_copy(update={**own, "kind": kind})
    return kind, params, changed
