"""Asking for readings of an unknown piece at the terminal, one after the other."""

from __future__ import annotations

from sim.command.ask import answer, number_or_word
from sim.learn.filled import BENCH, Form
from sim.learn.next_pair import NextPair
from sim.learn.settings import setting_words
from sim.learn.study import study
from sim.pages.page import Page
from sim.pages.text_learn import print_next
from sim.readings.model import Positions, Probe, Reading, meter_outcomes

HELP = "joined, open, lit, dim, dark, or ohms; s: skip it, u: undo the last, e: end"


def ask_until_settled(form: Form, readings: list[Reading]) -> list[Reading]:
    """Ask until no reading tells more, or the user ends."""
    page, taken = Page(), list(readings)
    skipped: set[tuple[Positions, int, int]] = set()
    while True:
        found = study(form.subject, taken, form.plastic, frozenset(skipped))
        agree = len(found.matches)
        page.line(f"{len(taken)} readings; {agree} wirings of the library agree.")
        print_next(page, found)
        if found.next is None:
            return taken
        said = _one(page)
        if said == "e":
            return taken
        if said == "s":
            skipped.add((found.next.positions, found.next.a, found.next.b))
        elif said == "u":
            if taken:
                taken.pop()
            else:
                page.line("There is no reading to undo.")
        else:
            taken.append(_reading(form, len(taken) + 1, found.next, said))


def _one(page: Page) -> str:
    while True:
        said = answer(f"\nreading ({HELP}): ")
        if said is None or said in ("e", "end"):
            return "e"
        if said in ("", "s", "skip"):
            return "s"
        if said in ("u", "undo"):
            return "u"
        if meter_outcomes(number_or_word(said)) is not None:
            return said
        page.line(f"Expected {HELP}, got {said[:40]!r}.")


def _reading(form: Form, number: int, ask: NextPair, said: str) -> Reading:
    value = number_or_word(said)
    word = value if isinstance(value, str) else f"{value:g} ohm"
    one, other = form.subject.places[ask.a], form.subject.places[ask.b]
    words = setting_words(form.subject, ask.positions)
    text = f"{one.number}-{other.number} ({one.name}, {other.name}); {words}: {word}"
    allows = meter_outcomes(value) or frozenset()
    return Reading(
        number, Probe("meter", ask.a, ask.b, ask.positions, BENCH), word, allows, text
    )
