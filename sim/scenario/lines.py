"""Where in the text a path lies: line numbers for people, good enough to click on."""

from __future__ import annotations

import re

Path = tuple[str | int, ...]

_HEADER = re.compile(r"^\s*(\[\[?)\s*([^\[\]]+?)\s*\]\]?\s*(?:#.*)?$")
_KEY = re.compile(r"^\s*([A-Za-z0-9_\-\"'.]+)\s*=")
_TOKEN = re.compile(r'"""|\'\'\'|"(?:\\.|[^"\\])*"|\'[^\']*\'|#.*|[\[\]{}]')
#: Longer lines are passed over: looking at them could take quadratic time.
_LONGEST_LINE = 500
_STEP = re.compile(r"([^.\[\]]+)|\[(\d+)\]")


class Lines:
    """Line (counted from 1) of every header and key of a TOML text."""

    def __init__(self, text: str) -> None:
        self._line: dict[Path, int] = {}
        self._count: dict[Path, int] = {}
        table: Path = ()
        open_text, depth = "", 0
        for number, line in enumerate(text.split("\n"), start=1):
            if not open_text and depth == 0 and len(line) <= _LONGEST_LINE:
                table = self._read(line, number, table)
            open_text, depth = _after(line, open_text, depth)

    def of(self, where: str) -> int | None:
        """Line of the longest known start of ``where``, if any."""
        path = path_of(where)
        while path:
            if path in self._line:
                return self._line[path]
            path = path[:-1]
        return None

    def _read(self, line: str, number: int, table: Path) -> Path:
        header = _HEADER.match(line)
        if header is not None:
            table = self._table(_names(header[2]), header[1] == "[[")
            self._line.setdefault(table, number)
            return table
        key = _KEY.match(line)
        if key is not None:
            path = table
            for name in _names(key[1]):
                path = (*path, name)
                self._line.setdefault(path, number)
        return table

    def _table(self, names: list[str], repeats: bool) -> Path:
        path: Path = ()
        for position, name in enumerate(names):
            path = (*path, name)
            if repeats and position == len(names) - 1:
                self._count[path] = self._count.get(path, -1) + 1
            if path in self._count:
                path = (*path, self._count[path])
        return path


def path_of(where: str) -> Path:
    """The path that ``where`` spells, without a fix's prefix."""
    where = where.rsplit("': ", 1)[-1]
    return tuple(
        int(match[2]) if match[2] is not None else match[1] for match in _STEP.finditer(where)
    )


def _names(text: str) -> list[str]:
    return [part.strip().strip("\"'") for part in text.split(".")]


def _after(line: str, open_text: str, depth: int) -> tuple[str, int]:
    """State at the end of ``line``: the quote of an open long text, depth of brackets."""
    position = 0
    while True:
        if open_text:
            end = line.find(open_text, position)
            if end < 0:
                return open_text, depth
            position, open_text = end + 3, ""
        token = _TOKEN.search(line, position)
        if token is None or token[0].startswith("#"):
            return open_text, max(depth, 0)
        position = token.end()
        if token[0] in ('"""', "'''"):
            open_text = token[0]
        elif token[0] in "[{":
            depth += 1
        elif token[0] in "]}":
            depth -= 1
