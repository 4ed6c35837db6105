"""From a file to plain data, and where in its text everything stands.

Where in the text a path lies: line numbers for people, good enough to click on.

From a file to plain data: whatever the bytes are, the answer is data or problems.
"""

from __future__ import annotations

import re
import tomllib
from pathlib import Path
from typing import Any

from sim.scenario.problems import Problem, ScenarioError, shown
from sim.scenario.refusals import KeyPath as Place
from sim.scenario.refusals import where as path_in_words

KeyPath = tuple[str | int, ...]

_HEADER = re.compile(r"^\s*(\[\[?)\s*([^\[\]]+?)\s*\]\]?\s*(?:#.*)?$")
_KEY = re.compile(r"^\s*([A-Za-z0-9_\-\"'.]+)\s*=")
_LINE_TOKEN = re.compile(
    r'"""|\'\'\'|"(?:\\.|[^"\\])*"|\'[^\']*\'|#.*|[\[\]{},]|[^\s"\'#\[\]{},]+|["\']'
)
#: Longer lines are passed over: looking at them could take quadratic time.
_LONGEST_LINE = 500
_STEP = re.compile(r"([^.\[\]]+)|\[(\d+)\]")


class Lines:
    """Line (counted from 1) of every header, key and entry of a list in a TOML text."""

    def __init__(self, text: str) -> None:
        self._line: dict[KeyPath, int] = {}
        self._count: dict[KeyPath, int] = {}
        self._open_text = ""
        #: lists and inline tables that are open: (path of a list or None, entries before)
        self._inside: list[tuple[KeyPath | None, int]] = []
        table: KeyPath = ()
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

    def _read(
        self, line: str, number: int, table: KeyPath
    ) -> tuple[KeyPath, KeyPath | None, int]:
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

    def _table(self, names: list[str], repeats: bool) -> KeyPath:
        path: KeyPath = ()
        for position, name in enumerate(names):
            path = (*path, name)
            if repeats and position == len(names) - 1:
                self._count[path] = self._count.get(path, -1) + 1
            if path in self._count:
                path = (*path, self._count[path])
        return path

    def _follow(self, line: str, number: int, position: int, key: KeyPath | None) -> None:
        """Note the entries of lists on ``line``, and what is still open at its end."""
        while True:
            if self._open_text:
                end = line.find(self._open_text, position)
                if end < 0:
                    return
                position, self._open_text = end + 3, ""
            token = _LINE_TOKEN.search(line, position)
            if token is None or token[0].startswith("#"):
                return
            position = token.end()
            self._take(token[0], number, key)

    def _take(self, token: str, number: int, key: KeyPath | None) -> None:
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


def path_of(where: str) -> KeyPath:
    """The path that ``where`` spells, without a fix's prefix."""
    where = where.rsplit("': ", 1)[-1]
    return tuple(
        int(match[2]) if match[2] is not None else match[1] for match in _STEP.finditer(where)
    )


def _names(text: str) -> list[str]:
    return [part.strip().strip("\"'") for part in text.split(".")]


#: Larger files are refused before they are parsed.
BYTES_AT_MOST = 4 * 1024 * 1024
#: Tables and lists nested deeper than this are refused.
DEPTH_AT_MOST = 12
DEPTH = f"at most {DEPTH_AT_MOST} levels of nesting"
WHOLE_NUMBERS = "whole numbers of at most 64 bits"

_DIGITS = re.compile(r"[0-9_]{4000,}")
#: Texts and comments whole, dots, and what ends a dotted key; blanks and names do not.
_TOKEN = re.compile(
    r'''(?P<text>"""(?:[^\\]|\\.)*?(?:"""|\Z)|'{3}.*?(?:'{3}|\Z)'''
    r"""|"(?:[^"\\\n]|\\.)*"?|'[^'\n]*'?)|(?P<comment>\#[^\n]*)"""
    r"""|(?P<dot>\.)|(?P<other>[\n=,\[\]{}])""",
    re.DOTALL,
)


def load_text(path: Path, where: str = "file") -> str:
    """Text of the file; raises :class:`ScenarioError` with one problem."""
    name = path.name or str(path)
    try:
        if path.is_dir():
            raise _one(where, "a scenario file", f"{shown(name)}, a directory")
        if not path.is_file():
            found = f"no such file as {shown(name)}"
            if path.exists():
                found = f"{shown(name)}, a pipe or device and no ordinary file"
            raise _one(where, "a scenario file", found)
        with path.open("rb") as file:
            data = file.read(BYTES_AT_MOST + 1)
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or "a path that cannot be used"
        raise _one(where, "a file that can be read", f"{shown(name)}: {reason}") from None
    if len(data) > BYTES_AT_MOST:
        limit = BYTES_AT_MOST // (1024 * 1024)
        raise _one(where, f"a file of at most {limit} MB", "a larger one")
    try:
        return data.decode("utf-8-sig").replace("\r\n", "\n")
    except UnicodeDecodeError as error:
        line = data.count(b"\n", 0, error.start) + 1
        found = f"byte 0x{data[error.start]:02x} at offset {error.start}"
        raise ScenarioError([Problem(where, "text in UTF-8", found, line=line)]) from None


def parse_toml(text: str, where: str = "file") -> dict[str, Any]:
    """Data of a TOML text; raises :class:`ScenarioError` with one problem."""
    line = _line_of_long_key(text)
    if line is not None:
        raise _one(where, DEPTH, "a key of many more", line)
    try:
        raw = tomllib.loads(text)
    except RecursionError:
        raise _one(where, DEPTH, "many more") from None
    except tomllib.TOMLDecodeError as error:
        raise _one(where, "TOML", str(error)[:200]) from None
    except ValueError:  # Python reads no number of thousands of digits
        digits = _DIGITS.search(text)
        line = text.count("\n", 0, digits.start()) + 1 if digits else None
        raise _one(where, WHOLE_NUMBERS, "a longer one", line) from None
    depth, huge = _extremes(raw)
    if depth > DEPTH_AT_MOST:
        raise _one(where, DEPTH, str(depth))
    if huge is not None:
        raise _one(huge, WHOLE_NUMBERS, "a longer one", Lines(text).of(huge))
    return raw


def _one(where: str, expected: str, found: str, line: int | None = None) -> ScenarioError:
    return ScenarioError([Problem(where, expected, found, line=line)])


def _line_of_long_key(text: str) -> int | None:
    """Line of a dotted key of too many parts: the parser's time grows as their square."""
    dots = 0
    for token in _TOKEN.finditer(text):
        kind = token.lastgroup
        if kind == "dot":
            dots += 1
            if dots > DEPTH_AT_MOST:
                return text.count("\n", 0, token.start()) + 1
        elif kind == "other":
            dots = 0
    return None


def _extremes(value: object) -> tuple[int, str | None]:
    """Levels of tables and lists, and where a whole number is beyond TOML's 64 bits.

    Found without recursion, so that nothing is too deep for it.
    """
    deepest: int = 0
    huge: str | None = None
    todo: list[tuple[object, int, Place]] = [(value, 0, ())]
    while todo:
        here, depth, place = todo.pop()
        deepest = max(deepest, depth)
        inner = () if depth > DEPTH_AT_MOST else place
        if isinstance(here, dict):
            todo += [(item, depth + 1, (*inner, key)) for key, item in here.items()]
        elif isinstance(here, list):
            todo += [(item, depth + 1, (*inner, n)) for n, item in enumerate(here)]
        elif isinstance(here, int) and here.bit_length() > 64:
            huge = path_in_words(place)
    return deepest, huge


def frozen(value: Any) -> Any:
    """``value`` with tuples for lists: what the models hold."""
    if isinstance(value, dict):
        return {key: frozen(item) for key, item in value.items()}
    return tuple(frozen(item) for item in value) if isinstance(value, list) else value
