"""Files that a show names, found and read: only inside the folders that it may use.

A show's folder and those below it, and folders that a caller names.  Links are
followed before it is asked whether a file lies inside, so none of them leads out.
"""

from __future__ import annotations

import os
import posixpath
import re
from collections.abc import Sequence
from dataclasses import dataclass, replace
from fnmatch import translate
from pathlib import Path, PurePosixPath, PureWindowsPath
from typing import Any

from sim.scenario.load import load_text, parse_toml
from sim.scenario.problems import Problem, ScenarioError, shown

FOLDERS = "a relative path to a file in the scenario's folder or below"
_LONGEST_PATH = 300


@dataclass(frozen=True)
class SourceFile:
    """One file that was read: what problems call it, its text, and its data."""

    name: str
    text: str
    data: dict[str, Any]
    real: str  #: where it lies, with links followed


class Shelf:
    """Files by the names that a show and its files give them, each read once."""

    def __init__(self, folder: Path, folders: Sequence[Path] = ()) -> None:
        self._folders = [folder, *folders]
        self._real = [os.path.realpath(f) for f in self._folders]
        self._read: dict[str, SourceFile] = {}

    def take(self, name: object, near: SourceFile | None, where: str) -> SourceFile:
        """The file ``name``, as the show (``near`` is None) or the file ``near`` calls it.

        Raises :class:`ScenarioError`: of a name that leads nowhere, at ``where`` in the
        file that gives it; of what the file holds, with the file's own name.
        """
        said, at = self._find(name, near, where)
        real = os.path.realpath(at)
        if real not in self._read:
            self._read[real] = _load(said, at, real)
        return self._read[real]

    def matching(self, pattern: str) -> list[str]:
        """Names of files that ``pattern`` fits, 2 before 10; a folder has no pattern."""
        head, tail = posixpath.split(pattern)
        fits = re.compile(translate(tail)).match
        for folder in self._folders:
            at = folder / head
            if not self._inside(at):
                continue
            try:
                names = [p.name for p in at.iterdir() if fits(p.name) and p.is_file()]
            except (OSError, ValueError):
                continue
            if names:
                return [posixpath.join(head, n) for n in sorted(names, key=_in_order)]
        return []

    def _find(self, name: object, near: SourceFile | None, where: str) -> tuple[str, Path]:
        if not isinstance(name, str) or not _is_relative(name):
            raise _refused(where, FOLDERS, shown(name))
        beside = "" if near is None else posixpath.dirname(near.name)
        said = posixpath.normpath(posixpath.join(beside, name))
        there = [] if near is None else [Path(near.real).parent / name]
        leads_out = False
        for at in [*there, *(folder / said for folder in self._folders)]:
            if not self._inside(at):
                leads_out = leads_out or said.startswith("..") or os.path.lexists(at)
            elif at.exists():
                return said, at
        if leads_out:
            raise _refused(where, FOLDERS, shown(name))
        raise _refused(where, "a scenario file", f"no such file as {shown(name)}")

    def _inside(self, at: Path) -> bool:
        real = os.path.realpath(at)
        return any(os.path.commonpath([real, folder]) == folder for folder in self._real)


def _is_relative(name: str) -> bool:
    """Whether ``name`` is a path that may be looked for, on any system."""
    if not name.isprintable() or not 1 <= len(name) <= _LONGEST_PATH or name.endswith("/"):
        return False
    return not (PurePosixPath(name).is_absolute() or PureWindowsPath(name).anchor)


def _load(said: str, at: Path, real: str) -> SourceFile:
    try:
        text = load_text(at)
        return SourceFile(said, text, parse_toml(text), real)
    except ScenarioError as error:
        raise ScenarioError(replace(p, file=said) for p in error.problems) from None


def _in_order(name: str) -> list[tuple[int, str]]:
    """What sorts ``corner 2`` before ``corner 10``."""
    parts = re.split(r"([0-9]{1,9})", name)
    return [(int(p), p) if n % 2 else (-1, p) for n, p in enumerate(parts)]


def _refused(where: str, expected: str, found: str) -> ScenarioError:
    return ScenarioError([Problem(where, expected, found)])
