"""What is said when a piece cannot be built."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any, cast

from pydantic import ValidationError

#: (field, what was expected, what was found)
Problem = tuple[str, str, str]
_LONGEST_FOUND = 60


class PieceError(ValueError):
    """A piece that cannot exist; carries every problem found, not the first one.

    ``problems`` is a list of (field, expected, found), all of them text.
    """

    def __init__(self, problems: Iterable[Problem]) -> None:
        self.problems: list[Problem] = list(problems)
        super().__init__(
            "\n".join(
                f"{field}: expected {exp}, got {got}" for field, exp, got in self.problems
            )
        )


def raise_problems(problems: list[Problem]) -> None:
    """Raise :class:`PieceError` when there is anything in ``problems``."""
    if problems:
        raise PieceError(problems)


def validation_problems(error: ValidationError) -> list[Problem]:
    """What pydantic found, as (field, expected, found)."""
    problems: list[Problem] = []
    for item in error.errors(include_url=False):
        field = "".join(
            f"[{part}]" if isinstance(part, int) else f".{part}" for part in item["loc"]
        ).lstrip(".")
        problems.append((field or "piece", *_explain(cast("Mapping[str, Any]", item))))
    return problems


def _explain(item: Mapping[str, Any]) -> tuple[str, str]:
    """(expected, found) of one finding."""
    if item["type"] == "missing":
        return "a value", "nothing"
    if item["type"] == "extra_forbidden":
        return "no such field", _short(item["input"])
    expected = item["msg"].removeprefix("Input should be ").removeprefix("a valid ")
    found = item["input"]
    if isinstance(found, Mapping):
        return expected, "a table"
    if isinstance(found, list):
        return expected, "a list"
    return expected, _short(found)


def _short(found: object) -> str:
    """What was found, cut where it would fill the screen."""
    text = repr(found)
    return text if len(text) <= _LONGEST_FOUND else text[: _LONGEST_FOUND - 1] + "…"
