"""Collect what is wrong while a layout is put together, without stopping at the first."""

from __future__ import annotations

import re
from collections.abc import Iterable
from fnmatch import translate

from sim.scenario.problems import Problem, nearest, shown


class Report:
    """Problems found so far.

    ``broken`` holds names and ``module/piece`` ids of things that were already
    refused: what refers to them is not reported again.
    """

    def __init__(self, prefix: str = "", broken: Iterable[str] = ()) -> None:
        self.prefix = prefix
        self.broken: set[str] = set(broken)
        self.problems: list[Problem] = []

    def error(self, where: str, expected: str, found: str) -> None:
        """Something that makes the scenario unusable."""
        self.problems.append(Problem(self.prefix + where, expected, found))

    def warn(self, where: str, expected: str, found: str) -> None:
        """Something that a builder should know, but that can be run."""
        self.problems.append(Problem(self.prefix + where, expected, found, "warning"))

    def unknown(self, where: str, what: str, name: str, known: Iterable[str]) -> None:
        """``name`` is none of the ``known`` ones."""
        if not self.is_broken(name):
            self.error(where, f"{what}{nearest(name, known)}", shown(name))

    def is_broken(self, name: str) -> bool:
        """True when ``name`` is, or lies in, something already refused."""
        if "" in self.broken:
            return True
        parts = name.split("/")
        return any("/".join(parts[:n]) in self.broken for n in range(1, len(parts) + 1))

    def is_whole(self, module: str) -> bool:
        """True when no piece of ``module`` was refused."""
        return not any(name.split("/")[0] in (module, "") for name in self.broken)

    @property
    def failed(self) -> bool:
        """True when there is any error."""
        return any(problem.severity == "error" for problem in self.problems)


def matching(pattern: str, ids: Iterable[str]) -> list[str]:
    """The ``ids`` that a pattern fits, in their order; ``*`` also spans slashes."""
    match = re.compile(translate(pattern)).match
    return [name for name in ids if name == pattern or match(name)]


def is_glob(pattern: str) -> bool:
    """True when ``pattern`` is more than one plain id."""
    return any(mark in pattern for mark in "*?[")
