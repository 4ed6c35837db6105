"""Words for the places of a layout: the one way from an id to what a page says.

An id is ``module/piece/name``.  The words are those of the part in its piece
(:mod:`sim.pages.part_words`) and of the piece on its board: ``frog of the north-west
turnout, scissors on south junction``.  A piece alone on its board is called by the
board.  No two parts of a layout have the same words.

West, east, north and south are those of the board's own drawing, which are also those
in the builder's own names, on the bench, and on whatever is written on the board.  They
do not turn with a board that a line turns round; :meth:`Names.notes` says of which
boards that was told.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Sequence
from typing import TYPE_CHECKING, Literal

from sim.pages.words import joined

if TYPE_CHECKING:
    from sim.layout.model import Element, Layout, PlacedPiece
    from sim.pages.part_words import Name
    from sim.pieces.model import Piece
    from sim.pieces.roles import Key, Sort

#: ``full`` in a sentence; ``row`` the short form with its place, for a table; ``bare`` the
#: short form alone, where the piece is told beside it.
Form = Literal["full", "row", "bare"]

_ELEMENTS: tuple[Sort, ...] = ("contact", "gap", "bond")
#: Names that read as names without marks around them.
_PLAIN = re.compile(r"[^\W_][\w.&#+°-]*( [\w.&#+°-]+)*")
#: Words that join the parts of a name here, so that no builder's name may be taken for them.
_OURS = re.compile(r"\b(on|of|to|at|in|from|and)\b")
_SIGNS = {"+": "plus", "-": "minus"}


def spoken(name: str) -> str:
    """A builder's name as it stands in a sentence: marked where it could be misread."""
    if _PLAIN.fullmatch(name) and not _OURS.search(name) and not name.isdecimal():
        return name
    return f"'{name}'"


class Names:
    """Words for everything with an id in some layouts: as built, and with fixes.

    What several of them have is called as in the first.
    """

    def __init__(self, layouts: Iterable[Layout]) -> None:
        self._layouts = tuple(layouts)
        self._placed: dict[str, list[PlacedPiece]] = {}
        for layout in self._layouts:
            for placed in layout.pieces:
                known = self._placed.setdefault(placed.id, [])
                if all(other.piece is not placed.piece for other in known):
                    known.append(placed)
        self._place = _places(self._placed)
        self._turned = {m.name for layout in self._layouts for m in layout.modules if m.turned}
        self._told_turned: dict[str, None] = {}
        self._parts: dict[int, dict[Key, Name]] = {}
        self._elements: dict[str, tuple[Element, Layout]] | None = None

    def notes(self) -> Sequence[str]:
        """What has to be said once of the words given so far."""
        if not self._told_turned:
            return ()
        boards = [spoken(name) for name in self._told_turned]
        stand = "stands" if len(boards) == 1 else "stand"
        its = "its" if len(boards) == 1 else "their"
        return (
            f"{joined(boards)} {stand} turned round: west, east, north and south there are "
            f"those of {its} own drawing.",
        )

    def board(self, name: str) -> str:
        """A board."""
        if name in self._turned:
            self._told_turned[name] = None
        return spoken(name)

    def piece(self, id: str) -> str:
        """A piece: its own name and its board's."""
        if id not in self._place:
            return id
        self.board(self._placed[id][0].module)
        return self._place[id]

    def by_piece(self, ids: Iterable[str], tell: Callable[[str, Form], str]) -> str:
        """Piece by piece what ``tell`` calls them: ``scissors on x: A outer, A mid; ...``."""
        pieces: dict[str, list[str]] = {}
        for id in ids:
            pieces.setdefault(id.rpartition("/")[0], []).append(tell(id, "bare"))
        return "; ".join(f"{self.piece(p)}: {', '.join(said)}" for p, said in pieces.items())

    def levers(self, set_so: Iterable[tuple[str, str]]) -> str:
        """Levers and their positions, piece by piece: ``scissors on x: AW through``."""
        to = dict(set_so)

        def tell(id: str, form: Form) -> str:
            return f"{self.lever(id, form)} {to[id]}"

        return self.by_piece(to, tell) or "no levers"

    def section(self, id: str, form: Form = "full") -> str:
        """A rail section; a pole where it is one."""
        return self._part(("section",), id, form) or self.pole(id, form)

    def pad(self, id: str, form: Form = "full") -> str:
        """A place to solder: a pad or, where it was left open, a section."""
        return self._part(("pad", "section"), id, form) or self.pole(id, form)

    def lever(self, id: str, form: Form = "full") -> str:
        """A lever."""
        return self._part(("lever",), id, form) or id

    def control(self, id: str, form: Form = "full") -> str:
        """What a hand moves: a gang, or a lever of its own."""
        return self._part(("gang", "lever"), id, form) or id

    def route(self, id: str, form: Form = "full") -> str:
        """A way through a piece."""
        return self._part(("route",), id, form) or id

    def end(self, id: str, form: Form = "full") -> str:
        """An end of a piece."""
        return self._part(("end",), id, form) or id

    def pole(self, id: str, form: Form = "full") -> str:
        """A pole of a supply or a bus: ``plus of cab A``, in a table ``cab A+``."""
        sign = _SIGNS.get(id[-1:])
        if sign is None or form != "full":
            return id
        return f"{sign} of {spoken(id[:-1])}"

    def element(self, id: str, form: Form = "full") -> str:
        """A bond, joiner, contact, feeder, bus, common, jumper or gap."""
        found = self._part(_ELEMENTS, id, form) or self._joint(id, form)
        if found:
            return found
        element = self._element(id)
        if element is None:
            return id
        return self._changeover(id, form) or _wire(*element, form) or id

    def part(self, id: str, form: Form = "full") -> str:
        """Whatever has this id among elements, levers, sections, routes and supplies."""
        if "/" not in id:
            return id if self._element(id) is None else self.element(id, form)
        sorts: tuple[Sort, ...] = (
            *_ELEMENTS,
            "lever",
            "section",
            "route",
            "pad",
            "gang",
            "end",
        )
        return self._part(sorts, id, form) or self.element(id, form)

    def _part(self, sorts: Sequence[Sort], id: str, form: Form) -> str:
        """The words for the first of ``sorts`` that has this id; empty when none has."""
        owner, _, name = id.rpartition("/")
        for placed in self._placed.get(owner, ()):
            names = self._names_in(placed.piece)
            for sort in sorts:
                if (sort, name) in names:
                    said = names[sort, name]
                    return self._at(said.long, said.short, owner, form)
        return ""

    def _at(self, long: str, short: str, owner: str, form: Form) -> str:
        """Words for a part of the piece ``owner``, with its place if the form asks for it."""
        if form == "bare":
            return short
        place = self.piece(owner)
        if form == "row":
            return f"{short}, {place}"
        if not long:
            return place
        return f"{long}, {place}" if _OURS.search(long) or "," in long else f"{long} of {place}"

    def _names_in(self, piece: Piece) -> dict[Key, Name]:
        """The names in one piece; layouts share their pieces, and hold them meanwhile."""
        if id(piece) not in self._parts:
            from sim.pages.part_words import names_in

            self._parts[id(piece)] = names_in(piece)
        return self._parts[id(piece)]

    def _joint(self, id: str, form: Form) -> str:
        """A joiner, or an insulated one, at an end of a piece; empty when it is neither."""
        owner, _, name = id.rpartition("/")
        what, _, at = name.partition("-")
        end, _, rail = at.rpartition("-")
        for placed in self._placed.get(owner, ()):
            said = self._names_in(placed.piece).get(("end", end))
            if said is None or what not in ("joiner", "gap"):
                continue
            kind = "joiner" if what == "joiner" else "insulated joiner"
            long = f"{kind} of the {rail} rail at the {said.long}"
            return self._at(long, f"{said.short} {rail} {kind}", owner, form)
        return ""

    def _changeover(self, id: str, form: Form) -> str:
        """A contact that a fix adds to a section; empty when it is something else."""
        owner, _, name = id.rpartition("/")
        rest = name.removeprefix("changeover-")
        for placed in self._placed.get(owner, ()) if rest != name else ():
            # the position comes last, and both names may hold strokes
            fits = [s.name for s in placed.piece.sections if rest.startswith(f"{s.name}-")]
            if fits:
                section = max(fits, key=len)
                position = rest[len(section) + 1 :]
                said = self._names_in(placed.piece)["section", section]
                long = f"changeover contact of the {said.long}, set {position}"
                return self._at(long, f"{said.short} changeover {position}", owner, form)
        return ""

    def _element(self, id: str) -> tuple[Element, Layout] | None:
        if self._elements is None:
            self._elements = {}
            for layout in self._layouts:
                for element in layout.elements:
                    self._elements.setdefault(element.id, (element, layout))
        return self._elements.get(id)


class Ids(Names):
    """The ids themselves: for other programs, and for whoever edits the file."""

    def __init__(self) -> None:
        super().__init__(())

    def _part(self, sorts: Sequence[Sort], id: str, form: Form) -> str:
        return id.rpartition("/")[2] if form == "bare" else id

    def board(self, name: str) -> str:
        """The name as it is."""
        return name

    def pole(self, id: str, form: Form = "full") -> str:
        """The id."""
        return id

    def part(self, id: str, form: Form = "full") -> str:
        """The id."""
        return self._part((), id, form)


def _places(placed: dict[str, list[PlacedPiece]]) -> dict[str, str]:
    """Where each piece is, no two alike."""
    on: dict[str, int] = {}
    for same in placed.values():
        on[same[0].module] = on.get(same[0].module, 0) + 1
    places: dict[str, str] = {}
    taken: dict[str, int] = {}
    for id, (first, *_) in placed.items():
        board, name = spoken(first.module), spoken(id.rpartition("/")[2])
        said = board if on[first.module] == 1 else f"{name} on {board}"
        taken[said] = taken.get(said, 0) + 1
        places[id] = said if taken[said] == 1 else f"{said} ({taken[said]})"
    return places


def _wire(element: Element, layout: Layout, form: Form) -> str:
    """A wire that belongs to no piece."""
    id, kind = element.id, element.kind
    if form != "full":
        return id
    if kind in ("feeder", "bus"):
        return f"{_kind_of(kind, id[:-1])}, {_SIGNS[id[-1]]} wire"
    if kind == "common":
        ends = [spoken(layout.nodes[node][:-1]) for node in (element.a, element.b)]
        return f"common wire between the minus poles of {joined(ends)}"
    return _kind_of(kind, id)


def _kind_of(kind: str, name: str) -> str:
    """``jumper 3``, ``jumper north A inner``."""
    return name if name.startswith(f"{kind} ") else f"{kind} {spoken(name)}"
