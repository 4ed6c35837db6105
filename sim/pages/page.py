"""A page for people: headings, sentences, lists and tables, on a terminal or in a file.

A cell of a table: an id that is too long for it is parted at its strokes.

A page for people: headings, sentences, lists and tables on a terminal or in a file.

Text from a scenario is shown as it is, never as markup; a control character in
it is shown as ``?``.  Colour is used only on a terminal, and never alone: every
state is a word.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from typing import IO, TYPE_CHECKING, Any

from rich import box
from rich.cells import cell_len
from rich.console import Console, RenderableType
from rich.padding import Padding
from rich.table import Table
from rich.text import Text

from sim.pages.places import Ids, Names

if TYPE_CHECKING:
    from rich.containers import Lines


#: Stretches of a word up to where it may be parted.
_PARTS = re.compile(r"[^/-]*[/-]|[^/-]+")


class Cell(Text):
    """Text that parts ``module/piece/name`` after a stroke, not in the midst of a name."""

    def wrap(self, console: Console, width: int, **more: Any) -> Lines:
        """The lines of the cell, ``width`` columns wide."""
        parted = Text(parted_at_strokes(self.plain, width), style=self.style)
        return parted.wrap(console, width, **more)


def parted_at_strokes(text: str, width: int) -> str:
    """``text`` with a line feed in each word longer than ``width``, after a ``/`` or ``-``.

    Stretches between strokes that are longer still are left as they are.
    """
    return "".join(
        word if cell_len(word) <= width else _parted(word, width)
        for word in re.split(r"(\s+)", text)
    )


def _parted(word: str, width: int) -> str:
    lines = [""]
    for part in _PARTS.findall(word):
        if lines[-1] and cell_len(lines[-1] + part) > width:
            lines.append("")
        lines[-1] += part
    return "\n".join(lines)


#: Words that matter at a glance, in bold; the word itself says what it is.
STRONG = ("stalled", "short", "dead", "error", "tripped")


#: The part that every screen has room for: how to get the same result again.
AGAIN = "again"
#: Lines that a page takes at most where it is not asked for in full: one screen.
SCREEN_LINES = 60


@dataclass(slots=True, eq=False)
class Part:
    """What stands under one heading; the first has no name and is what comes before."""

    name: str
    text: list[str] = field(default_factory=list)

    @property
    def lines(self) -> int:
        """How many lines it takes."""
        return "".join(self.text).count("\n")


class NoPartError(Exception):
    """No part of the page is called so; ``known`` are the names of those there are."""

    def __init__(self, known: Sequence[str]) -> None:
        self.known = tuple(known)
        super().__init__(", ".join(known))


class Page:
    """Writes to ``file`` (standard output by default), ``width`` columns wide.

    ``names`` says what places are called on it; without it they keep their ids.
    While ``kept``, nothing is written until :meth:`give`: then it is one screen, or
    one part, or all of it.
    """

    def __init__(
        self,
        file: IO[str] | None = None,
        width: int | None = None,
        names: Names | None = None,
        kept: bool = False,
    ) -> None:
        self._parts = [Part("")]
        self._kept = kept
        self.names = Ids() if names is None else names
        self._console = Console(
            file=file, width=width, markup=False, emoji=False, highlight=False
        )

    @property
    def width(self) -> int:
        """Columns of the page."""
        return self._console.width

    def _print(self, *things: RenderableType) -> None:
        """Print without the blanks that would fill each line up to the width."""
        with self._console.capture() as printed:
            self._console.print(*things)
        text = re.sub(r" +$", "", printed.get(), flags=re.MULTILINE)
        if self._kept:
            self._parts[-1].text.append(text)
        else:
            self._console.file.write(text)

    def give(self, full: bool = False, part: str | None = None) -> None:
        """Write a page that was kept.

        In full; or the part whose name begins with ``part`` under the page's first
        line; or what comes before the first heading and as many whole parts as a
        screen holds, and the names of the rest.  Raises :class:`NoPartError`.
        """
        self._kept = False
        first, *parts = self._parts
        if full:
            self._write([first, *parts])
        elif part is not None:
            chosen = [p for p in parts if p.name.startswith(slug(part))]
            if not chosen:
                raise NoPartError(list(dict.fromkeys(p.name for p in parts)))
            self._write([Part("", first.text[:1]), *chosen])
        else:
            self._give_screen(first, parts)

    def _give_screen(self, first: Part, parts: Sequence[Part]) -> None:
        always = [part for part in parts if part.name == AGAIN]
        room = SCREEN_LINES - first.lines - 3 - sum(part.lines for part in always)
        shown, rest = [first], []
        for part in parts:
            if part in always:
                shown.append(part)
            elif part.lines <= room:
                shown.append(part)
                room -= part.lines
            else:
                rest.append(part.name)
        self._write(shown)
        if rest:
            self.line()
            names = ", ".join(dict.fromkeys(rest))
            self.line(f"More with --part NAME: {names}; or all with --full.")

    def _write(self, parts: Iterable[Part]) -> None:
        self._console.file.write("".join(text for part in parts for text in part.text))

    def heading(self, text: str, part: str = "") -> None:
        """A heading with an empty line above; a part of the page begins.

        Several parts may have one name: they are asked for together.
        """
        self._parts.append(Part(part or slug(text)))
        self._print()
        self._print(Text(plain(text), style="bold", overflow="fold"))

    def line(self, text: str = "", indent: int = 0) -> None:
        """One sentence or more, folded at the page's width; an empty line without text."""
        if not text:
            self._print()
            return
        self._print(
            Padding(Text(plain(text), overflow="fold"), (0, 0, 0, indent), expand=False)
        )

    def items(self, texts: Iterable[str], indent: int = 2, numbered: bool = False) -> None:
        """A list, each item hanging behind its mark."""
        grid = Table.grid(padding=(0, 1, 0, 0))
        grid.add_column(no_wrap=True, justify="right")
        grid.add_column(overflow="fold")
        for number, text in enumerate(texts, 1):
            grid.add_row(f"{number}." if numbered else "-", Text(plain(text)))
        if grid.row_count:
            self._print(Padding(grid, (0, 0, 0, indent), expand=False))

    def table(
        self,
        columns: Sequence[str],
        rows: Iterable[Sequence[str]],
        numbers: str = "",
        indent: int = 0,
    ) -> None:
        """A table; nothing where there are no rows.

        ``numbers`` holds one letter a column: ``r`` sets it to the right, ``l`` or
        none to the left, ``n`` to the right and never breaks it, so that where room is
        short others give way.
        """
        table = Table(box=box.SIMPLE_HEAD, pad_edge=False, show_edge=False)
        for place, name in enumerate(columns):
            kind = numbers[place : place + 1]
            table.add_column(
                Text(plain(name)),
                justify="right" if kind in ("r", "n") else "left",
                overflow="fold",
                no_wrap=kind == "n",
            )
        for row in rows:
            table.add_row(*(_cell(text) for text in row))
        if table.row_count:
            self._print(Padding(table, (0, 0, 0, indent), expand=False))


def slug(heading: str) -> str:
    """The name of the part under a heading: its first words, up to any punctuation."""
    words = re.split(r"[^\w' -]", plain(heading).lower(), maxsplit=1)[0].split()
    return "-".join(words[:3]) or "part"


def _cell(text: str) -> Cell:
    return Cell(plain(text), style="bold" if text.lower() in STRONG else "")


def plain(text: str) -> str:
    """``text`` with whatever a terminal would obey, not show, turned into ``?``."""
    return "".join(c if c.isprintable() or c == "\n" else "?" for c in text)
