"""What a result rests on, and how to get it again: the end of every page with numbers."""

from __future__ import annotations

from collections.abc import Sequence

from sim.layout.traffic import Assumption
from sim.pages.page import Page


def print_assumptions(page: Page, assumptions: Sequence[Assumption]) -> None:
    """A table of the numbers behind the result and whose they are."""
    if not assumptions:
        return
    page.heading("What these numbers rest on")
    page.table(
        ("Assumption", "Value", "Whose"),
        ((a.what, a.value, a.whose) for a in assumptions),
    )


def print_again(page: Page, command: str, seed: int | None = None) -> None:
    """The command line that gives the same result."""
    page.heading("To get the same result again")
    page.line(command, indent=2)
    if seed is not None:
        page.line(f"The seed is {seed}; the same seed gives the same luck.", indent=2)
