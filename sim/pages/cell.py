"""A cell of a table: an id that is too long for it is parted at its strokes."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING, Any

from rich.cells import cell_len
from rich.text import Text

if TYPE_CHECKING:
    from rich.console import Console
    from rich.containers import Lines

#: Stretches of a word up to where it may be parted.
_PARTS = re.compile(r"[^/-]*[/-]|[^/-]+")


class Cell(Text):
    """Text that parts ``module/piece/name`` after a stroke, not in the midst of a name."""

    def wrap(self, console: Console, width: int, **more: Any) -> Lines:
        """The lines of the cell, ``width`` columns wide."""
        parted = Text(parted_at_strokes(self.plain, width), style=self.style)
        return parted.wrap(console, width, **more)


def parted_at_strokes(text: str, width: int) -> str:
    """``text`` with a line feed in each word longer than ``width``, after a ``/`` or ``-``.

    Stretches between strokes that are longer still are left as they are.
    """
    return "".join(
        word if cell_len(word) <= width else _parted(word, width)
        for word in re.split(r"(\s+)", text)
    )


def _parted(word: str, width: int) -> str:
    lines = [""]
    for part in _PARTS.findall(word):
        if lines[-1] and cell_len(lines[-1] + part) > width:
            lines.append("")
        lines[-1] += part
    return "\n".join(lines)
