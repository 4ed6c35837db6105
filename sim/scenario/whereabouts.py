"""Where everything stands that was put together of several files: file, place and line."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace
from typing import Any

from sim.scenario.load import KeyPath, Lines, path_of
from sim.scenario.problems import Problem
from sim.scenario.refusals import where as path_in_words
from sim.scenario.shelf import SourceFile

#: A place in a file; None is the show itself.
Home = tuple[SourceFile | None, KeyPath]


@dataclass(frozen=True)
class Part:
    """A table put together of several places, and where each of its keys stands."""

    data: dict[str, Any]
    homes: Mapping[str, Home]
    rest: Home  #: where a key would stand that it lacks

    @staticmethod
    def of(data: dict[str, Any], at: Home) -> Part:
        """``data`` as it stands at one place."""
        return Part(data, {key: (at[0], (*at[1], key)) for key in data}, at)

    def under(self, own: Part) -> Part:
        """This part with the keys of ``own``, which outweigh it."""
        return Part({**self.data, **own.data}, {**self.homes, **own.homes}, self.rest)

    def without(self, keys: Iterable[str]) -> Part:
        """This part without those keys."""
        away = set(keys)
        data = {key: item for key, item in self.data.items() if key not in away}
        return Part(data, {k: h for k, h in self.homes.items() if k not in away}, self.rest)


@dataclass
class Whereabouts:
    """In which file and on which line each part of a show's data stands.

    ``text`` is the show's own.  ``homes`` has the paths into the data that stand
    elsewhere than the same path of the show; what lies deeper goes with them.
    """

    text: str
    homes: dict[KeyPath, Home] = field(default_factory=dict)

    def put(self, path: KeyPath, part: Part) -> None:
        """``part`` is what the data has at ``path``."""
        self.homes[path] = part.rest
        for key, home in part.homes.items():
            self.homes[(*path, key)] = home

    def located(self, problems: Iterable[Problem]) -> list[Problem]:
        """``problems`` with file and line; what several tables share is told once."""
        lines: dict[str, Lines] = {}
        found: list[Problem] = []
        for problem in problems:
            if problem.file:
                found.append(problem)
                continue
            file, moved = self._at_home(problem)
            if moved.file not in lines:
                lines[moved.file] = Lines(self.text if file is None else file.text)
            found.append(replace(moved, line=lines[moved.file].of(moved.where)))
        return list(dict.fromkeys(found)) if self.homes else found

    def _at_home(self, problem: Problem) -> tuple[SourceFile | None, Problem]:
        path = path_of(problem.where) if self.homes else ()
        for length in range(len(path), 0, -1):
            home = self.homes.get(path[:length])
            if home is not None:
                file, place = home
                prefix, mark, _ = problem.where.rpartition("': ")
                where = prefix + mark + path_in_words((*place, *path[length:]))
                return file, replace(problem, where=where, file=file.name if file else "")
        return None, problem
