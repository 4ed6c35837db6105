"""Where in the text a path lies: line numbers for people, good enough to click on."""

from __future__ import annotations

import re

Path = tuple[str | int, ...]

_HEADER = re.compile(r"^\s*(\[\[?)\s*([^\[\]]+?)\s*\]\]?\s*(?:#.*)?$")
_KEY = re.compile(r"^\s*([A-Za-z0-9_\-\"'.]+)\s*=")
_TOKEN = re.compile(
    r'"""|\'\'\'|"(?:\\.|[^"\\])*"|\'[^\']*\'|#.*|[\[\]{},]|[^\s"\'#\[\]{},]+|["\']'
)
#: Longer lines are passed over: looking at them could take quadratic time.
_LONGEST_LINE = 500
_STEP = re.compile(r"([^.\[\]]+)|\[(\d+)\]")


class Lines:
    """Line (counted from 1) of every header, key and entry of a list in a TOML text."""

    def __init__(self, text: str) -> None:
        self._line: dict[Path, int] = {}
        self._count: dict[Path, int] = {}
        self._open_text = ""
        #: lists and inline tables that are open: (path of a list or None, entries before)
        self._inside: list[tuple[Path | None, int]] = []
        table: Path = ()
        for number, line in enumerate(text.split("\n"), start=1):
            start, key = 0, None
            if not self._open_text and not self._inside and len(line) <= _LONGEST_LINE:
                table, key, start = self._read(line, number, table)
            self._follow(line, number, start, key)

    def of(self, where: str) -> int | None:
        """Line of the longest known start of ``where``, if any."""
        path = path_of(where)
        while path:
            if path in self._line:
                return self._line[path]
            path = path[:-1]
        return None

    def _read(self, line: str, number: int, table: Path) -> tuple[Path, Path | None, int]:
        """The table that holds from here, the key on this line, and where its value begins."""
        header = _HEADER.match(line)
        if header is not None:
            table = self._table(_names(header[2]), header[1] == "[[")
            self._line.setdefault(table, number)
            return table, None, len(line)
        key = _KEY.match(line)
        if key is None:
            return table, None, 0
        path = table
        for name in _names(key[1]):
            path = (*path, name)
            self._line.setdefault(path, number)
        return table, path, key.end()

    def _table(self, names: list[str], repeats: bool) -> Path:
        path: Path = ()
        for position, name in enumerate(names):
            path = (*path, name)
            if repeats and position == len(names) - 1:
                self._count[path] = self._count.get(path, -1) + 1
            if path in self._count:
                path = (*path, self._count[path])
        return path

    def _follow(self, line: str, number: int, position: int, key: Path | None) -> None:
        """Note the entries of lists on ``line``, and what is still open at its end."""
        while True:
            if self._open_text:
                end = line.find(self._open_text, position)
                if end < 0:
                    return
                position, self._open_text = end + 3, ""
            token = _TOKEN.search(line, position)
            if token is None or token[0].startswith("#"):
                return
            position = token.end()
            self._take(token[0], number, key)

    def _take(self, token: str, number: int, key: Path | None) -> None:
        if token in "]}":
            if self._inside:
                self._inside.pop()
            return
        if token == ",":
            if self._inside:
                path, before = self._inside[-1]
                self._inside[-1] = path, before + 1
            return
        entry = key if not self._inside else None
        held = self._inside[-1] if self._inside else (None, 0)
        if held[0] is not None:
            entry = (*held[0], held[1])
            self._line.setdefault(entry, number)
        if token in ('"""', "'''"):
            self._open_text = token
        elif token == "[":
            self._inside.append((entry, 0))
        elif token == "{":
            self._inside.append((None, 0))


def path_of(where: str) -> Path:
    """The path that ``where`` spells, without a fix's prefix."""
    where = where.rsplit("': ", 1)[-1]
    return tuple(
        int(match[2]) if match[2] is not None else match[1] for match in _STEP.finditer(where)
    )


def _names(text: str) -> list[str]:
    return [part.strip().strip("\"'") for part in text.split(".")]
