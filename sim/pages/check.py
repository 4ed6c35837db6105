"""The page of a checked scenario."""

from __future__ import annotations

from collections.abc import Sequence

from sim.judge.verdict import count
from sim.pages.page import Page
from sim.scenario.problems import Problem


def print_check(page: Page, file: str, problems: Sequence[Problem]) -> None:
    """How many problems first, then each with where, what was expected and found."""
    errors = sum(p.severity == "error" for p in problems)
    warnings = len(problems) - errors
    if not problems:
        page.line(f"{file}: no problems found.")
        return
    if errors:
        said = (
            f"{count(errors, 'error')}, {count(warnings, 'warning')}: cannot be used as it is."
        )
    else:
        said = f"{count(warnings, 'warning')}, no errors: can be used."
    page.line(f"{file}: {said}")
    for severity in ("error", "warning"):
        chosen = [p for p in problems if p.severity == severity]
        if chosen:
            page.heading(f"{severity.capitalize()}s")
            page.items((str(p) for p in chosen), numbered=True)
