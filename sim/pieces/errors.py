"""What is said when a piece cannot be built."""

from __future__ import annotations

from collections.abc import Iterable

#: (field, what was expected, what was found)
Problem = tuple[str, str, str]


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
