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

from sim.pages.figures import joined

if TYPE_CHECKING:
    from sim.layout.model import Element, Layout, PlacedPiece
    from sim.pages.part_words import Name
    from sim.pieces.model import Piece
    from sim.pieces.roles import Key, Sort

#: ``full`` in a sentence; ``row`` with the short form of what is longer, for a table; ``bare``
#: the short form alone, where the piece is told beside it.
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
        self._nodes: frozenset[str] | None = None

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
        return "; ".join(
            self.piece(piece) + (f": {', '.join(said)}" if any(said) else "")
            for piece, said in pieces.items()
        )

    def pair(self, tell: Callable[[str, Form], str], a: str, b: str, word: str = "to") -> str:
        """``a to b``, in short where both are on one piece: that is told once."""
        owner = a.rpartition("/")[0]
        if owner == b.rpartition("/")[0] and owner in self._place:
            return f"{tell(a, 'bare')} {word} {tell(b, 'bare')}, {self.piece(owner)}"
        return f"{tell(a, 'row')} {word} {tell(b, 'row')}"

    def is_node(self, id: str) -> bool:
        """Whether it is a section, or a pole, of these layouts."""
        if self._nodes is None:
            self._nodes = frozenset(node for layout in self._layouts for node in layout.nodes)
        return id in self._nodes

    def levers(self, set_so: Iterable[tuple[str, str]]) -> str:
        """Levers and their positions, piece by piece: ``scissors on x: AW through``."""
        to = dict(set_so)

        def tell(id: str, form: Form) -> str:
            return f"{self.lever(id, form)} {to[id]}"

        return self.by_piece(to, tell) or "no levers"

    def section(self, id: str, form: Form = "full") -> str:
        """A rail section; a pole where it is one."""
        found = self._part(("section",), id, form)
        return self.pole(id, form) if found is None else found

    def pad(self, id: str, form: Form = "full") -> str:
        """A place to solder: a pad or, where it was left open, a section."""
        found = self._part(("pad", "section"), id, form)
        return self.pole(id, form) if found is None else found

    def lever(self, id: str, form: Form = "full") -> str:
        """A lever."""
        return self._any(("lever",), id, form)

    def control(self, id: str, form: Form = "full") -> str:
        """What a hand moves: a gang, or a lever of its own."""
        return self._any(("gang", "lever"), id, form)

    def route(self, id: str, form: Form = "full") -> str:
        """A way through a piece; the only one is the piece, and ``bare`` nothing more."""
        return self._any(("route",), id, form)

    def added(self, id: str, rail: str, at: str) -> str:
        """The rail of a length that is to be added at an end, and so has no place yet."""
        return f"{rail} rail of a length added at the {self.end(at)}"

    def along(self, route: str, place_mm: float, form: Form = "full") -> str:
        """A place on a route, from the end that it is measured from."""
        owner, _, name = route.rpartition("/")
        for placed in self._placed.get(owner, ()):
            for known in placed.piece.routes if name else ():
                if known.name == name:
                    start = self.end(f"{owner}/{known.start}", "bare")
                    way = self.route(route, form)
                    on = f", {way}" if way else ""
                    return f"{place_mm:.0f} mm from the {start}{on}"
        return f"{place_mm:.0f} mm of {route}"

    def end(self, id: str, form: Form = "full") -> str:
        """An end of a piece."""
        return self._any(("end",), id, form)

    def pole(self, id: str, form: Form = "full") -> str:
        """A pole of a supply or a bus: ``plus of cab A``, in a table ``cab A+``."""
        sign = _SIGNS.get(id[-1:])
        if sign is None or form != "full":
            return id
        return f"{sign} of {spoken(id[:-1])}"

    def element(self, id: str, form: Form = "full") -> str:
        """A bond, joiner, contact, feeder, bus, common, jumper or gap."""
        found = self._part(_ELEMENTS, id, form)
        if found is None:
            found = self._joint(id, form) or self._changeover(id, form)
        element = None if found else self._element(id)
        if element is not None:
            return _wire(*element, form)
        return found or id

    def the(self, id: str, kind: str) -> str:
        """An element, lever or section, of that kind, as it stands in a sentence."""
        tell = {"lever": self.lever, "section": self.section}.get(kind, self.element)
        said = tell(id)
        return f"the {said}" if "/" in id else said

    @property
    def say(self) -> Callable[[str], str]:
        """What phrases ask for a name, see :mod:`sim.pages.phrases`."""
        return self.part

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
        found = self._part(sorts, id, form)
        return self.element(id, form) if found is None else found

    def _any(self, sorts: Sequence[Sort], id: str, form: Form) -> str:
        found = self._part(sorts, id, form)
        return id if found is None else found

    def _part(self, sorts: Sequence[Sort], id: str, form: Form) -> str | None:
        """The words for the first of ``sorts`` that has this id; None when none has."""
        owner, _, name = id.rpartition("/")
        for placed in self._placed.get(owner, ()):
            names = self._names_in(placed.piece)
            for sort in sorts:
                if (sort, name) in names:
                    said = names[sort, name]
                    return self._at(said.long, said.short, owner, form)
        return None

    def _at(self, long: str, short: str, owner: str, form: Form) -> str:
        """Words for a part of the piece ``owner``, with its place if the form asks for it."""
        if form == "bare":
            return short
        place = self.piece(owner)
        if not long:  # the piece itself, from end to end
            return place
        if not _OURS.search(long) and "," not in long:
            return f"{long} of {place}"
        return f"{short if form == 'row' else long}, {place}"

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
            if form == "full":
                return f"{kind} of the {rail} rail at the {self._at(*said, owner, form)}"
            return self._at(kind, f"{said.short} {rail} {kind}", owner, form)
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

    def pair(self, tell: Callable[[str, Form], str], a: str, b: str, word: str = "to") -> str:
        """Both ids."""
        return f"{tell(a, 'full')} {word} {tell(b, 'full')}"

    def added(self, id: str, rail: str, at: str) -> str:
        """The id that it will have."""
        return id

    def the(self, id: str, kind: str) -> str:
        """The id, behind what it is."""
        return f"{kind} {id}"

    def along(self, route: str, place_mm: float, form: Form = "full") -> str:
        """The place on the route."""
        return f"{place_mm:.0f} mm of {self.route(route, form)}"

    @property
    def say(self) -> Callable[[str], str]:
        """The id as it is."""
        return str

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
