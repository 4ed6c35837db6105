"""Pieces made by kind, as the scenario has them or as a fix alters them.

Make pieces by kind: from the library, or from a scenario's own descriptions.

Pieces that a fix alters: what is asked, whether it makes sense, and what comes of it.
"""

from __future__ import annotations

from collections.abc import Mapping
from contextlib import suppress
from typing import Any

from sim.layout.assembly_log import Report
from sim.pieces.kinds import KINDS, build
from sim.pieces.model import Piece
from sim.pieces.parameters import PieceError
from sim.scenario.document import Scenario
from sim.scenario.fields import length_in_mm
from sim.scenario.fixes import AlterTable, FixTable
from sim.scenario.problems import Problem, nearest, shown
from sim.scenario.tracks import PieceTable, ready_params


def _plain(value: Any, key: str = "") -> Any:
    """Lists again where the reader made tuples, and lengths in mm: what a form expects."""
    if isinstance(value, Mapping):
        return {name: _plain(item, name) for name, item in value.items()}
    if isinstance(value, str) and key.endswith("_mm"):
        with suppress(ValueError):  # a text that is no length is left for the form to refuse
            return length_in_mm(value)
    return [_plain(item) for item in value] if isinstance(value, (list, tuple)) else value


class PieceMaker:
    """Makes each distinct piece once, however many modules carry it."""

    def __init__(self, scenario: Scenario) -> None:
        self._gauge_mm = scenario.gauge_mm
        self._made: dict[str, tuple[Piece | None, list[Problem]]] = {}
        self._described: dict[str, Piece | None] = {}
        self.problems: list[Problem] = []
        for number, data in enumerate(scenario.piece):
            self._describe(f"piece[{number}]", data)

    def is_library(self, kind: str) -> bool:
        """True when ``kind`` has parameters of its own in the library."""
        return kind in KINDS

    def make(
        self, kind: str, params: Mapping[str, Any], where: str, report: Report
    ) -> Piece | None:
        """The piece; None, with problems in ``report``, when it cannot be made."""
        if kind in self._described:
            for key in params:
                report.error(f"{where}.{key}", "a known key", f"unknown key {shown(key)}")
            return self._described[kind] if not params else None
        if kind not in KINDS:
            if not report.broken & {kind, ""}:
                known = [*KINDS, *self._described]
                expected = f"a kind of piece{nearest(kind, known) or ': ' + ', '.join(known)}"
                report.error(f"{where}.kind", expected, shown(kind))
            return None
        key = f"{kind} {sorted(params.items())!r}"
        if key not in self._made:
            self._made[key] = self._build(kind, params)
        piece, problems = self._made[key]
        for problem in problems:
            report.error(where + problem.where, problem.expected, problem.found)
        return piece

    def _build(
        self, kind: str, params: Mapping[str, Any]
    ) -> tuple[Piece | None, list[Problem]]:
        ready, problems = ready_params(kind, params, self._gauge_mm, "")
        if problems:
            return None, problems
        try:
            return build(kind, ready), []
        except PieceError as error:
            return None, _of_piece(error)

    def _describe(self, where: str, data: Mapping[str, Any]) -> None:
        kind = data.get("kind")
        if not isinstance(kind, str) or kind in KINDS or kind in self._described:
            expected = "a kind that is neither in the library nor described before"
            self.problems.append(Problem(f"{where}.kind", expected, shown(kind)))
            return
        self._described[kind] = None
        from sim.pieces.described import from_data

        try:
            self._described[kind] = from_data({"gauge_mm": self._gauge_mm, **_plain(data)})
        except PieceError as error:
            self.problems += [
                Problem(where + p.where, p.expected, p.found) for p in _of_piece(error)
            ]


def _of_piece(error: PieceError) -> list[Problem]:
    return [
        Problem(f".{field}" if field else "", expected, found)
        for field, expected, found in error.problems
    ]


_ODDS = "a table of probabilities", "a probability from 0 to 1", 1.0
#: Keys of a piece that are not parameters of its kind: what they hold.
_OWN_KEYS = {
    "opens": _ODDS,
    "fails": _ODDS,
    "contact_ohm": ("a table of resistances", "a resistance from 0 to 1e9 ohm", 1e9),
}
#: ... and those that hold one value.
_OWN_VALUES = ("tested", "contacts_bad")


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
    if not isinstance(alter.set.get("tested", True), bool):
        report.error(f"{where}.set.tested", "true or false", shown(alter.set["tested"]))
    bad = alter.set.get("contacts_bad", 0.0)
    if not isinstance(bad, (int, float)) or isinstance(bad, bool) or not 0 <= bad <= 1:
        report.error(f"{where}.set.contacts_bad", _ODDS[1], shown(bad))
    return len(report.problems) == before


def altered(table: PieceTable, alter: AlterTable) -> tuple[str, dict[str, Any], PieceTable]:
    """Kind, parameters and table of ``table`` with ``alter`` made."""
    new = dict(alter.set)
    own = {key: new.pop(key, getattr(table, key)) for key in (*_OWN_KEYS, *_OWN_VALUES)}
    kind = new.pop("kind", table.kind)
    params = new if kind != table.kind else {**table.params, **new}
    changed = table.model_copy(update={**own, "kind": kind})
    return kind, params, changed
