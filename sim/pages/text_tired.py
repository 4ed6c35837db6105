"""Tired parts on the page of faults: where a standing train no longer starts."""

from __future__ import annotations

from collections.abc import Sequence

from sim.faults.tired_model import TiredChange, TiredHarm, TiredSurvey
from sim.judge.verdict import count
from sim.pages.page import Page

PARTS_TOLD = 15
CHANGES_TOLD = 12
ROUTES_NAMED = 3


def print_tired(page: Page, survey: TiredSurvey, said_before: Sequence[str] = ()) -> None:
    """Every tired part behind which a train that stands does not start.

    ``said_before`` is what the page has told of things left out.
    """
    page.heading("Tired parts: a train rolls on, and does not start again")
    for said in survey.skipped:
        if said not in said_before:
            page.line(said, indent=1)
    if not survey.parts:
        return
    train = survey.train
    page.line(
        f"Each of {count(survey.parts, 'part')} that carries current with {survey.ohm:g} Ω "
        f"({survey.whose}) in place of its own; one train that starts ({train.whose}: "
        f"{train.ohm:.3g} Ω on DC, {train.amps:g} A on digital), throttles fully open, "
        "and nothing else.",
        indent=1,
    )
    if not survey.harms:
        page.line("None of them keeps it from starting anywhere.", indent=1)
        return
    page.table(
        ("Part, and where no train starts", "Routes", "Left", "Needs"),
        (
            (_part(h), str(h.lost), f"{h.volts:.2f} V", f"{h.needs:g} V")
            for h in survey.harms[:PARTS_TOLD]
        ),
        "lrrr",
    )
    if len(survey.harms) > PARTS_TOLD:
        page.line(f"and {len(survey.harms) - PARTS_TOLD} more that do less", indent=1)
    page.line(
        "Routes: those on which the train would not start somewhere, added up over all "
        "settings. Left: what it gets at the worst place.",
        indent=1,
    )


def _part(harm: TiredHarm) -> str:
    said = [route for route, _ in harm.routes[:ROUTES_NAMED]]
    more = len(harm.routes) - len(said)
    said += [f"and {more} more"] if more else []
    return "\n".join([harm.id, *(f"   {route}" for route in said)])


def print_tired_change(page: Page, change: TiredChange) -> None:
    """What a fix changes of that."""
    if not change.after.parts:
        return
    page.line(
        f"Tired parts that keep a train from starting: {len(change.after.harms)} (as built "
        f"{len(change.before.harms)}).",
        indent=1,
    )
    if change.worse:
        page.line("More starts fail with the fix behind:", indent=1)
        told = [f"{h.id}: {h.lost}" for h in change.worse[:CHANGES_TOLD]]
        more = len(change.worse) - len(told)
        page.items([*told, *([f"and {more} more"] if more else [])], indent=2)
