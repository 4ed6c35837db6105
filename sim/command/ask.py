"""Asking for readings at the terminal, one after the other."""

from __future__ import annotations

from sim.diagnose.findings import Findings
from sim.diagnose.locate import Locator
from sim.diagnose.next_reading import Suggestion
from sim.pages.page import Page
from sim.pages.text_locate import print_findings
from sim.readings.model import LAMP_WORDS, Reading, meter_outcomes
from sim.readings.words import reading_words

HELP_METER = "joined, open, lit, dim, dark, or ohms"
HELP_LAMP = "lit, dim, dark or trips"
HELP = "s: skip it, u: undo the last, o: take the one inside the opened piece, e: end"


def answer(prompt: str) -> str | None:
    """A line from the terminal; None at its end."""
    try:
        return input(prompt).strip().lower()
    except EOFError:
        return None


def ask_until_left(locator: Locator, readings: list[Reading]) -> list[Reading]:
    """Ask until one explanation is left, nothing tells more, or the user ends."""
    page, taken = Page(), list(readings)
    while True:
        found = locator.find(taken)
        print_findings(page, locator.layout, found, readings=False)
        suggestion = found.easy or found.opened
        if suggestion is None:
            return taken
        said = _one(page, found, suggestion)
        if said == "e":
            return taken
        if said == "s":
            locator.skip(suggestion.ask)
        elif said == "u":
            if taken:
                taken.pop()
            else:
                page.line("There is no reading to undo.")
        elif isinstance(said, tuple):
            taken.append(_reading(locator, len(taken) + 1, *said))


def _one(
    page: Page, found: Findings, suggestion: Suggestion
) -> str | tuple[Suggestion, str, frozenset[str]]:
    """A command, or a reading: what was asked, what was said, what that allows."""
    while True:
        lamp = suggestion.ask.probe.what == "lamp"
        said = answer(f"\nreading ({HELP_LAMP if lamp else HELP_METER}; {HELP}): ")
        if said is None or said in ("e", "end"):
            return "e"
        if said in ("s", "skip", ""):
            return "s"
        if said in ("u", "undo"):
            return "u"
        if said in ("o", "opened"):
            if found.opened is not None:
                suggestion = found.opened
            page.line("Now the reading inside the opened piece." if found.opened else
                      "There is none that tells more.")  # fmt: skip
            continue
        allows = LAMP_WORDS.get(said) if lamp else meter_outcomes(number_or_word(said))
        if allows is not None:
            return suggestion, said, allows
        page.line(f"Expected {HELP_LAMP if lamp else HELP_METER}, got {said[:40]!r}.")


def number_or_word(said: str) -> str | float:
    """Ohms where a number was typed, with or without `ohm`; else the word itself."""
    text = said.removesuffix("ohm").strip().replace(",", ".")
    try:
        value = float(text)
    except ValueError:
        return said
    return value if value == value else said


def _reading(
    locator: Locator, number: int, suggestion: Suggestion, said: str, allows: frozenset[str]
) -> Reading:
    value = number_or_word(said)
    word = value if isinstance(value, str) else f"{value:g} ohm"
    probe = suggestion.ask.probe
    return Reading(number, probe, word, allows, reading_words(locator.layout, probe, word))
