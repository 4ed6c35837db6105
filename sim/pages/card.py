"""The card of a module, as a document and as a page to be printed and to travel with it."""

from __future__ import annotations

from collections.abc import Sequence

from sim.analyses.handwork.hazards import HeldDown, Refusal
from sim.analyses.handwork.tasks import Task
from sim.analyses.neighbours.card import Card
from sim.analyses.neighbours.verdicts import Harm, Verdict
from sim.pages.assumptions import print_again
from sim.pages.documents import Asked, heading
from sim.pages.figures import joined
from sim.pages.page import Page
from sim.pages.phrases import UNDO, card_caution, harm_line, task_line
from sim.pages.plain import Document, Plain


def card_document(asked: Asked, card: Card) -> Document:
    """Changes with their undoing, verdicts by neighbours and wiring, tests when joining."""
    return {**heading(asked, scenario=card.scenario, fix=card.fix), **_plain(card)}


_plain = Plain(
    {
        Card: "module length_mm loops changes=steps elsewhere=judged.elsewhere "
        "safe_anywhere=judged.anywhere neighbourhoods=judged.verdicts "
        "not_possible=judged.skipped tests cautions",
        Verdict: "name=neighbourhood wiring safe harms standing settings dead_before dead "
        "cautions",
        Task: task_line,
        Harm: harm_line,
        Refusal: card_caution,
        HeldDown: card_caution,
    },
    {"changes": lambda steps: [{"done": s, "undo": UNDO[s.kind]} for s in steps]},
)


def print_card(page: Page, card: Card, command: str) -> None:
    """What was changed and how to undo it, where it is safe, what to test when joining."""
    page.line(f"Module card: {card.module}, of '{card.scenario}'")
    size = "" if card.length_mm is None else f"{card.length_mm:g} mm long; "
    page.line(f"{size}loops, from north to south: {joined(card.loops) or 'none'}")
    page.heading("What was changed", "changes")
    if card.fix is None:
        page.line("Nothing: the module is as built.", indent=1)
    else:
        page.line(f"Fix '{card.fix}'{f': {card.note}' if card.note else ''}", indent=1)
        if not card.steps:
            page.line("Nothing of it is on this module.", indent=1)
    page.items((f"{task_line(s)}. To undo: {UNDO[s.kind]}." for s in card.steps), numbered=True)
    for words in card.judged.elsewhere:
        page.line(f"Not on this module: {words}.", indent=1)
    page.items(map(card_caution, card.cautions))
    _print_places(page, card)
    page.heading("What to test when joining", "tests")
    page.items(map(task_line, card.tests), numbered=True)
    page.line("Low volts are not low energy: use a current-limited supply first.", indent=1)
    print_again(page, command)


def _print_places(page: Page, card: Card) -> None:
    judged = card.judged
    if card.fix is None:
        heading = "Among which neighbours it is alive"
    else:
        heading = "Safe anywhere" if judged.anywhere else "Only here: not safe everywhere"
    page.heading(heading)
    wirings = list(dict.fromkeys(v.wiring for v in judged.verdicts))
    for wiring in wirings:
        if len(wirings) > 1:
            page.line(f"If the piece is: {wiring}", indent=1)
        verdicts = [v for v in judged.verdicts if v.wiring == wiring]
        page.table(
            ("Neighbours", "", "Dead settings before", "with it", "of", "Why"),
            (_row(v, card.fix is None) for v in verdicts),
            "llrrrl",
        )
    cautions = dict.fromkeys(c for v in judged.verdicts for c in v.cautions)
    page.items(f"anywhere: {harm_line(caution)}" for caution in cautions)
    if judged.skipped:
        page.line(f"It cannot stand so: {joined(_quoted(judged.skipped))}.", indent=1)


def _row(verdict: Verdict, as_built: bool) -> tuple[str, ...]:
    if not as_built:
        state = "safe" if verdict.safe else "not safe"
    elif verdict.standing:
        state = "shorts" if verdict.standing[0].kind == "shorts" else "joins supplies"
    else:
        state = "alive" if verdict.dead == 0 else "dead in part"
    said = map(harm_line, verdict.standing)
    standing = [words if as_built else f"as built too: {words}" for words in said]
    return (
        verdict.neighbourhood,
        state,
        str(verdict.dead_before),
        str(verdict.dead),
        str(verdict.settings),
        "; ".join((*map(harm_line, verdict.harms), *standing)),
    )


def _quoted(names: Sequence[str]) -> list[str]:
    return [f"'{name}'" for name in names]
