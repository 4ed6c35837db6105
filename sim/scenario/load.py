"""From a file to plain data: whatever the bytes are, the answer is data or problems."""

from __future__ import annotations

import tomllib
from pathlib import Path
from typing import Any

from sim.scenario.problems import Problem, ScenarioError, shown

#: Larger files are refused before they are parsed.
BYTES_AT_MOST = 4 * 1024 * 1024
#: Tables and lists nested deeper than this are refused.
DEPTH_AT_MOST = 12


def load_text(path: Path, where: str = "file") -> str:
    """Text of the file; raises :class:`ScenarioError` with one problem."""
    name = path.name or str(path)
    try:
        if path.is_dir():
            raise _one(where, "a scenario file", f"{shown(name)}, a directory")
        if not path.is_file():
            raise _one(where, "a scenario file", f"no such file as {shown(name)}")
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
    try:
        raw = tomllib.loads(text)
    except RecursionError:
        raise _one(where, f"at most {DEPTH_AT_MOST} levels of nesting", "many more") from None
    except ValueError as error:  # TOMLDecodeError, and whole numbers too long for Python
        raise _one(where, "TOML", str(error)[:200]) from None
    depth, huge = _extremes(raw)
    if depth > DEPTH_AT_MOST:
        raise _one(where, f"at most {DEPTH_AT_MOST} levels of nesting", str(depth))
    if huge:
        raise _one(where, "whole numbers of at most 64 bits", "a longer one")
    return raw


def _one(where: str, expected: str, found: str) -> ScenarioError:
    return ScenarioError([Problem(where, expected, found)])


def _extremes(value: object) -> tuple[int, bool]:
    """Levels of tables and lists, and whether any whole number is beyond TOML's 64 bits.

    Found without recursion, so that nothing is too deep for it.
    """
    deepest, huge, todo = 0, False, [(value, 0)]
    while todo:
        here, depth = todo.pop()
        deepest = max(deepest, depth)
        if isinstance(here, dict):
            todo += [(item, depth + 1) for item in here.values()]
        elif isinstance(here, list):
            todo += [(item, depth + 1) for item in here]
        elif isinstance(here, int):
            huge = huge or here.bit_length() > 64
    return deepest, huge


def frozen(value: Any) -> Any:
    """``value`` with tuples for lists: what the models hold."""
    if isinstance(value, dict):
        return {key: frozen(item) for key, item in value.items()}
    return tuple(frozen(item) for item in value) if isinstance(value, list) else value


def with_piece_files(raw: dict[str, Any], folder: Path) -> tuple[dict[str, Any], list[Problem]]:
    """``raw`` with every ``[[piece]]`` that names a file replaced by what the file holds.

    The file lies in the scenario's own folder or below; the scenario's keys
    outweigh those of the file.
    """
    pieces = raw.get("piece")
    if not isinstance(pieces, list):
        return raw, []
    done: list[Any] = []
    problems: list[Problem] = []
    for number, table in enumerate(pieces):
        if not isinstance(table, dict) or "file" not in table:
            done.append(table)
            continue
        own = {key: item for key, item in table.items() if key != "file"}
        where = f"piece[{number}].file"
        try:
            done.append({**_piece_file(table["file"], folder, where), **own})
        except ScenarioError as error:
            problems += error.problems
            done.append(own)
    return {**raw, "piece": done}, problems


def _piece_file(name: object, folder: Path, where: str) -> dict[str, Any]:
    expected = "a relative path to a file in the scenario's folder or below"
    if not isinstance(name, str) or not name.isprintable() or len(name) > 300:
        raise _one(where, expected, shown(name))
    path = Path(name)
    if path.is_absolute() or ".." in path.parts or not path.parts:
        raise _one(where, expected, shown(name))
    return parse_toml(load_text(folder / path, where), where)
