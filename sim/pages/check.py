"""The page of a checked scenario."""

from __future__ import annotations

from collections.abc import Sequence

from sim.judge.verdict import count
from sim.layout.traffic import Assumption
from sim.pages.page import Page
from sim.scenario.problems import Problem


def print_check(
    page: Page, file: str, problems: Sequence[Problem], assumed: Sequence[Assumption] = ()
) -> None:
    """How many problems first, then each with where, what was expected and found.

    ``assumed`` is what a verdict hangs on and the file does not give.
    """
    _print_problems(page, file, problems)
    if assumed:
        page.heading("Assumed, as the file does not say; a verdict hangs on it", "assumed")
        page.items(f"{a.what}: {a.value} ({a.whose})" for a in assumed)


def _print_problems(page: Page, file: str, problems: Sequence[Problem]) -> None:
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
