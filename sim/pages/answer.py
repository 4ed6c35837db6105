"""What a question to a project came to: a page, a document, rows.

One place for what commands print and what Python is given, so that both say the same.
"""

from __future__ import annotations

import io
import shlex
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any, Generic, TypeVar

from sim.pages.documents import Asked, Document

if TYPE_CHECKING:
    from sim.pages.page import Page

Found = TypeVar("Found")
FlatRow = dict[str, Any]
#: What is shown of an answer that is looked at and not printed whole.
LINES_AT_MOST, COLUMNS = 10, 80


def command_line(command: str, file: str, options: Iterable[tuple[str, object]]) -> str:
    """The command line that gives the same result: only what changes it is in there."""
    words = ["gapwright", command, file]
    for name, value in options:
        option = f"--{name.removesuffix('_s').replace('_', '-')}"  # seconds say so in here
        if isinstance(value, bool):
            words += [option] if value else []
        elif isinstance(value, tuple):
            words += [option, "x".join(map(str, value))]
        else:
            for one in value if isinstance(value, list) else [value]:
                words += [] if one is None else [option, str(one)]
    return shlex.join(words)


def without_folder(file: str) -> str:
    """The file's name: the same question gives the same bytes wherever the file lies."""
    return Path(file).name.encode("utf-8", "replace").decode()


@dataclass(frozen=True, slots=True)
class Question:
    """A command, its file, and the options that its result depends on, in their order."""

    command: str
    file: str
    options: tuple[tuple[str, object], ...]

    def line(self) -> str:
        """The command line for whoever stands where the file was read."""
        return command_line(self.command, self.file, self.options)

    def asked(self, scenario: str | None) -> Asked:
        """The same for a document."""
        line = command_line(self.command, without_folder(self.file), self.options)
        return Asked(scenario, line)


class Answer(Generic[Found]):
    """What was found, ready to be read, kept or computed with.

    ``found`` is the result itself; what it has can be asked of the answer, too.
    """

    def __init__(
        self,
        found: Found,
        question: Question,
        scenario: str,
        page: Callable[[Page, str], None],
        document: Callable[[Asked], Document],
        rows: Callable[[Document], Iterable[FlatRow]],
    ) -> None:
        self.found = found
        self._question, self._scenario = question, scenario
        self._page, self._document, self._rows = page, document, rows

    def to_dict(self) -> Document:
        """The document that the command writes with ``--json``."""
        return self._document(self._question.asked(self._scenario))

    def rows(self) -> list[FlatRow]:
        """Flat rows for any data frame: dicts of plain values, all with the same keys.

        What a row has not is None.
        """
        rows = list(self._rows(self.to_dict()))
        columns = dict.fromkeys(name for row in rows for name in row)
        return [{name: row.get(name) for name in columns} for row in rows]

    def print(self, page: Page) -> None:
        """Print what the command prints."""
        self._page(page, self._question.line())

    def text(self, width: int = COLUMNS) -> str:
        """The page, ``width`` columns wide."""
        from sim.pages.page import Page

        file = io.StringIO()
        self.print(Page(file, width))
        return file.getvalue().strip("\n") + "\n"

    def __str__(self) -> str:
        """The page's first lines, which hold the answer, ten at most."""
        lines = self.text().splitlines()
        if len(lines) <= LINES_AT_MOST:
            return "\n".join(lines)
        shown = lines[: LINES_AT_MOST - 1]
        while not shown[-1]:
            shown.pop()
        return "\n".join([*shown, f"({len(lines) - len(shown)} more lines in text())"])

    __repr__ = __str__

    if not TYPE_CHECKING:  # a mistyped name is still found by the type checker

        def __getattr__(self, name: str) -> Any:
            if name.startswith("_") or name == "found":
                raise AttributeError(name)
            return getattr(self.found, name)


def rows_under(*path: str) -> Callable[[Document], Iterator[FlatRow]]:
    """A function that makes rows of what stands under ``path`` in a document.

    Each step names a list of tables, or tables by id as ``key:column`` with a column
    for the id.  What a table on the way says of itself is in every row below it, after
    its step's name and a dot.
    """
    return lambda document: _rows({}, document, path)


def _rows(above: FlatRow, table: Mapping[str, Any], path: Sequence[str]) -> Iterator[FlatRow]:
    key, _, column = path[0].partition(":")
    held = table[key]
    for name, item in held.items() if column else enumerate(held, 1):
        row = {**({column: name} if column else {}), **flat(item)}
        if len(path) == 1:
            yield {**above, **row}
            continue
        step = key.removesuffix("s")
        on_the_way = {step: name, **{f"{step}.{k}": v for k, v in row.items()}}
        yield from _rows({**above, **on_the_way}, item, path[1:])


def flat(table: Mapping[str, Any], prefix: str = "") -> FlatRow:
    """The plain values of a table; those of a table within under ``its key.``.

    A list is one text, of the names or ids where it holds tables that have them.
    Other lists of tables, tables by id, and what is empty are left out.
    """
    found: FlatRow = {}
    for key, value in table.items():
        name = f"{prefix}{key}"
        if isinstance(value, Mapping):
            if not all(isinstance(v, Mapping) for v in value.values()):
                found.update(flat(value, f"{name}."))
        elif isinstance(value, (list, tuple)):
            words = [_word(item) for item in value]
            if words and None not in words:
                found[name] = "; ".join(map(str, words))
        else:
            found[name] = value
    return found


def _word(value: Any) -> Any:
    """What stands for an entry of a list; None where nothing does."""
    if isinstance(value, Mapping):
        return next((value[key] for key in ("name", "id", "joins") if key in value), None)
    return " + ".join(map(str, value)) if isinstance(value, (list, tuple)) else value
