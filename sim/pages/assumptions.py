"""What a result rests on, and how to get it again: the end of every page with numbers."""

from __future__ import annotations

from collections.abc import Sequence

from sim.layout.traffic import Assumption
from sim.pages.page import AGAIN, Page

YOURS = "yours"


def print_assumptions(page: Page, assumptions: Sequence[Assumption]) -> None:
    """The numbers behind the result, by whose they are: the scenario's own first."""
    if not assumptions:
        return
    page.heading("What these numbers rest on", "assumptions")
    decisive = [a for a in assumptions if a.decisive]
    if decisive:
        page.line("Not in the file, and a verdict hangs on them (measure or count yours):",
                  indent=1)  # fmt: skip
        page.items((f"{a.what}: {a.value} ({a.whose})" for a in decisive), 3)
    assumptions = [a for a in assumptions if not a.decisive]
    whose = dict.fromkeys(a.whose for a in assumptions)
    for source in sorted(whose, key=lambda w: w != YOURS):
        page.line(f"{source[:1].upper()}{source[1:]}:", indent=1)
        page.items((f"{a.what}: {a.value}" for a in assumptions if a.whose == source), 3)


def print_again(page: Page, command: str, seed: int | None = None) -> None:
    """The command line that gives the same result."""
    page.heading("To get the same result again", AGAIN)
    page.line(command, indent=2)
    if seed is not None:
        page.line(f"The seed is {seed}; the same seed gives the same luck.", indent=2)
