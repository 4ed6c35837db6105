"""Building every piece of a scenario and putting it in its place.

The first half of putting a layout together: names become numbers here, and
everything after refers to pieces, ends and nodes by number.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping

from sim.layout.alter import altered, alters_of
from sim.layout.ground import Board, Ground
from sim.layout.make import PieceMaker
from sim.layout.report import Report
from sim.pieces.model import Piece
from sim.scenario.document import Scenario
from sim.scenario.fixes import AlterTable, FixTable
from sim.scenario.problems import shown
from sim.scenario.tracks import PieceTable


def lay_ground(
    scenario: Scenario, fix: FixTable | None, fix_at: str, maker: PieceMaker, report: Report
) -> Ground:
    """Build and place every piece of the scenario, and those that the fix adds or alters."""
    ground = Ground()
    alters = alters_of(scenario, fix, fix_at, report)
    for number, table in enumerate(scenario.module):
        where = f"module[{number}]"
        if table.name in ground.board_index:
            report.error(f"{where}.name", "a name that no other module has", shown(table.name))
            continue
        ground.board_index[table.name] = len(ground.boards)
        board = Board(table.name, where, table)
        ground.boards.append(board)
        _place_own(ground, board, alters, maker, report)
        board.own = list(board.pieces)
        _place_added(ground, board, scenario, fix, fix_at, maker, report)
    _added_to_nothing(ground, fix, fix_at, report)
    return ground


def _place_own(
    ground: Ground,
    board: Board,
    alters: Mapping[str, tuple[str, AlterTable]],
    maker: PieceMaker,
    report: Report,
) -> None:
    names: set[str] = set()
    for number, table in enumerate(board.table.piece):
        where, name = f"{board.where}.piece[{number}]", f"{board.name}/{table.name}"
        if table.name in names:
            expected = "a name that no other piece of the module has"
            report.error(f"{where}.name", expected, shown(table.name))
            continue
        names.add(table.name)
        alter_at, alter = alters.get(name, ("", None))
        kind, params = table.kind, table.params
        if alter is not None:
            kind, params, table = altered(table, alter)
            if not maker.is_library(kind) and kind == table.kind and params:
                report.error(
                    f"{alter_at}.piece", "a library piece", f"{shown(kind)}, described"
                )
                continue
        at = where if alter is None else f"{alter_at}.set"
        piece = maker.make(kind, params, at, report)
        if piece is None:
            report.broken.add(name)
            continue
        ground.place(ground.board_index[board.name], table, piece, at)
        _check_odds(table, piece, at, report, strict=alter is None)


def _check_odds(
    table: PieceTable, piece: Piece, where: str, report: Report, strict: bool
) -> None:
    """An altered piece may lack contacts of the old one, so it is not held to them."""
    if not strict:
        return
    contacts = [contact.name for contact in piece.contacts]
    levers = [lever.name for lever in piece.levers]
    for what, given, known in (
        ("opens", table.opens, contacts),
        ("fails", table.fails, levers),
        ("contact_ohm", table.contact_ohm, contacts),
    ):
        thing = "lever" if what == "fails" else "contact"
        for name in given:
            if name not in known:
                one_of = _one_of(known, f"no {thing}")
                report.error(f"{where}.{what}.{name}", f"a {thing} of the piece: {one_of}",
                             shown(name))  # fmt: skip


def _one_of(names: Iterable[str], none: str) -> str:
    return ", ".join(repr(name) for name in names) or f"{none} in this one"


def _place_added(
    ground: Ground,
    board: Board,
    scenario: Scenario,
    fix: FixTable | None,
    fix_at: str,
    maker: PieceMaker,
    report: Report,
) -> None:
    for number, added in enumerate(fix.added_length if fix is not None else ()):
        if added.at.split("/")[0] != board.name:
            continue
        where = f"{fix_at}.added_length[{number}]"
        name = f"{board.name}/{added.name}"
        if name in ground.piece_index or report.is_broken(name):
            expected = "a name that no other piece of the module has"
            report.error(f"{where}.name", expected, shown(added.name))
            continue
        params = {"length_mm": added.length_mm}
        piece = maker.make("feeder length", params, where, report)
        if piece is not None:
            table = PieceTable(name=added.name, kind="feeder length")
            new = ground.place(ground.board_index[board.name], table, piece, where)
            ground.added_at[new] = added.at


def _added_to_nothing(
    ground: Ground, fix: FixTable | None, fix_at: str, report: Report
) -> None:
    for number, added in enumerate(fix.added_length if fix is not None else ()):
        if added.at not in ground.end_index:
            where = f"{fix_at}.added_length[{number}].at"
            report.unknown(where, "an end, 'module/piece/end'", added.at, ground.end_index)
