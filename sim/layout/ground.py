"""Every piece built and in its place, with its ends, sections and pads numbered.

Every piece in its place, with its ends, sections and pads numbered.

Building every piece of a scenario and putting it in its place.

The first half of putting a layout together: names become numbers here, and
everything after refers to pieces, ends and nodes by number.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field

from sim.layout.assembly_log import Report
from sim.layout.piece_maker import PieceMaker, altered, alters_of
from sim.pieces.model import End, Pad, Piece
from sim.scenario.document import Scenario
from sim.scenario.fixes import AlterTable, FixTable
from sim.scenario.problems import shown
from sim.scenario.tracks import ModuleTable, PieceTable


@dataclass(frozen=True, slots=True)
class Placed:
    """A piece in its module; ``where`` is its place in the file."""

    id: str
    module: int
    piece: Piece
    where: str
    opens: Mapping[str, float]
    fails: Mapping[str, float]
    tested: bool | None
    contacts_bad: float | None
    contact_ohm: Mapping[str, float]
    first_end: int


@dataclass(frozen=True, slots=True)
class EndPlace:
    """An end of a placed piece, by number of the piece."""

    id: str
    piece: int
    end: End


@dataclass(slots=True)
class Board:
    """A module: ``own`` are its pieces in the file, ``pieces`` with what a fix adds."""

    name: str
    where: str
    table: ModuleTable
    own: list[int] = field(default_factory=list)
    pieces: list[int] = field(default_factory=list)


class Ground:
    """Boards, pieces, ends, sections and pads, each with its number."""

    def __init__(self) -> None:
        self.boards: list[Board] = []
        self.board_index: dict[str, int] = {}
        self.pieces: list[Placed] = []
        self.piece_index: dict[str, int] = {}
        self.ends: list[EndPlace] = []
        self.end_index: dict[str, int] = {}
        self.nodes: list[str] = []
        self.node_index: dict[str, int] = {}
        self.pads: dict[str, tuple[int, Pad]] = {}
        #: by number of an added piece: the end it was put at
        self.added_at: dict[int, str] = {}
        self._sections = 0

    @property
    def section_count(self) -> int:
        """Nodes below this number are rail sections."""
        return self._sections

    def add_node(self, name: str) -> int:
        """Number of the new node ``name``."""
        self.node_index[name] = len(self.nodes)
        self.nodes.append(name)
        return self.node_index[name]

    def place(self, board: int, table: PieceTable, piece: Piece, where: str) -> int:
        """Put ``piece`` on ``board``; the number that it gets."""
        number, name = len(self.pieces), f"{self.boards[board].name}/{table.name}"
        placed = Placed(
            name,
            board,
            piece,
            where,
            table.opens,
            table.fails,
            table.tested,
            table.contacts_bad,
            table.contact_ohm,
            len(self.ends),
        )
        self.pieces.append(placed)
        self.piece_index[name] = number
        self.boards[board].pieces.append(number)
        for end in piece.ends:
            self.end_index[f"{name}/{end.name}"] = len(self.ends)
            self.ends.append(EndPlace(f"{name}/{end.name}", number, end))
        for section in piece.sections:
            self.add_node(f"{name}/{section.name}")
        self._sections = len(self.nodes)
        for pad in piece.pads:
            self.pads[f"{name}/{pad.name}"] = self.node_index[f"{name}/{pad.section}"], pad
        return number

    def board_of(self, end: int) -> int:
        """Number of the board that an end is on."""
        return self.pieces[self.ends[end].piece].module

    def node_of(self, ref: str, report: Report, where: str) -> int | None:
        """Node of a section or pad id; None, and a problem, when there is none."""
        if ref in self.pads:
            return self.pads[ref][0]
        node = self.node_index.get(ref)
        if node is not None and node < self.section_count:
            return node
        known = [*self.nodes[: self.section_count], *self.pads]
        report.unknown(where, "the id of a section or pad", ref, known)
        return None

    def end_of(self, ref: str, report: Report, where: str, what: str) -> int | None:
        """Number of the end ``ref``; None, and a problem, when there is none."""
        number = self.end_index.get(ref)
        if number is None:
            report.unknown(where, what, ref, self.end_index)
        return number

    def piece_of(self, ref: str, report: Report, where: str) -> int | None:
        """Number of the piece ``ref``; None, and a problem, when there is none."""
        number = self.piece_index.get(ref)
        if number is None:
            report.unknown(where, "a piece, 'module/piece'", ref, self.piece_index)
        return number


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
        if name in ground.piece_index or name in report.broken:
            expected = "a name that no other piece of the module has"
            report.error(f"{where}.name", expected, shown(added.name))
            continue
        if report.is_broken(name):
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
