"""Every piece in its place, with its ends, sections and pads numbered."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from sim.layout.report import Report
from sim.pieces.model import End, Pad, Piece
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
