"""What can be wrong with a scenario, told in a form that a person can act on."""

from __future__ import annotations

import difflib
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, time
from typing import Literal

Severity = Literal["error", "warning"]

_FOUND_AT_MOST = 120


@dataclass(frozen=True, slots=True)
class Problem:
    """One thing wrong: where it is, what was expected there, what was found.

    ``where`` is a path into the file such as ``module[3].piece[0].frog_number``,
    counted from 0; problems of one fix start with ``fix 'its name': ``.  ``line``
    is the line of the file, counted from 1, when it could be told.
    """

    where: str
    expected: str
    found: str
    severity: Severity = "error"
    line: int | None = None
    code: str = ""  #: a stable word for programs, where the problem has one

    def __str__(self) -> str:
        """One sentence for a terminal."""
        at = f" (line {self.line})" if self.line is not None else ""
        return f"{self.where}{at}: expected {self.expected}, found {self.found}"


class ScenarioError(Exception):
    """A scenario cannot be used. ``problems`` lists everything that was found.

    ``file`` is what the file is called that they are in.
    """

    file = "scenario"

    def __init__(self, problems: Iterable[Problem]) -> None:
        self.problems: tuple[Problem, ...] = tuple(problems)
        super().__init__("\n".join(str(problem) for problem in self.problems))


class ReadingsError(ScenarioError):
    """The same of a file of readings."""

    file = "file of readings"


def fix_prefix(name: str) -> str:
    """What ``where`` starts with in problems of the fix of that name."""
    return f"fix '{name}': "


def shown(value: object) -> str:
    """``value`` as a file would spell it, shortened to one readable line."""
    if isinstance(value, bool):
        text = "true" if value else "false"
    elif isinstance(value, dict):
        text = "a table"
    elif isinstance(value, (list, tuple)):
        text = "[" + ", ".join(shown(item) for item in value[:8])
        text += ", ...]" if len(value) > 8 else "]"
    else:
        text = _literal(value)
    return text if len(text) <= _FOUND_AT_MOST else text[:_FOUND_AT_MOST] + "..."


def _literal(value: object) -> str:
    if isinstance(value, (date, time)):
        return value.isoformat()
    try:
        return repr(value)
    except ValueError:  # Python refuses to print whole numbers of thousands of digits
        return "a number too long to print"


def nearest(name: str, known: Iterable[str]) -> str:
    """`` (did you mean 'x'?)`` for the known name most like ``name``, or nothing."""
    if len(name) > _FOUND_AT_MOST:
        return ""
    names = list(known)
    if len(names) > 2000:  # a full search would take seconds; the near ones come first
        names = [n for n in names if n[:3] == name[:3]][:2000]
    close = difflib.get_close_matches(name, names, n=1, cutoff=0.6)
    return f" (did you mean {close[0]!r}?)" if close else ""
