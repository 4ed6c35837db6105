"""``gapwright locate``: from readings to the faults that explain them.

Asking for readings at the terminal, one after the other.
"""

from __future__ import annotations

import argparse
from typing import TYPE_CHECKING

from sim.bench.diagnosis.locate import Findings, Locator
from sim.bench.diagnosis.next_reading import Suggestion
from sim.bench.readings.model import (
    LAMP_LETTERS,
    LAMP_WORDS,
    METER_LETTERS,
    Reading,
    meter_outcomes,
    reading_words,
)
from sim.command import frame, options
from sim.command.frame import DONE, UsageError
from sim.pages.locate import print_findings
from sim.pages.page import Page

if TYPE_CHECKING:
    from sim.bench.readings.file import ReadingsFile
    from sim.layout.traffic import Case


#: What a meter may be answered, also where a piece is learned.
HELP_METER = (
    "j joined, t tired, o open, or the ohms as a number; a battery and a lamp: l lit, d dim, "
    "n dark"
)
HELP_LAMP = "l lit, d dim, n dark, t the supply trips"
HELP = "s skip it, u undo the last, i take the one inside the opened piece, e end"


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
        words = HELP_LAMP if lamp else HELP_METER
        page.line()
        page.line(f"Answer {words}. Or {HELP}.")
        said = answer("> ")
        if said is None or said in ("e", "end"):
            return "e"
        if said in ("s", "skip", ""):
            return "s"
        if said in ("u", "undo"):
            return "u"
        if said in ("i", "inside"):
            if found.opened is not None:
                suggestion = found.opened
            page.line("Now the reading inside the opened piece." if found.opened else
                      "There is none that tells more.")  # fmt: skip
            continue
        said = (LAMP_LETTERS if lamp else METER_LETTERS).get(said, said)
        allows = LAMP_WORDS.get(said) if lamp else meter_outcomes(number_or_word(said))
        if allows is not None:
            return suggestion, said, allows
        page.line(f"Expected {words}, got {said[:40]!r}.")


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


RESULT_DEPENDS_ON = ("readings", "fix", "reach", "where", "levers")


def configure(parser: argparse.ArgumentParser) -> None:
    """Add the arguments."""
    options.add_scenario(parser)
    parser.add_argument(
        "--readings",
        metavar="FILE",
        help="a file of readings (TOML), see --blank; none: start with nothing",
    )
    options.add_fix(parser)
    options.add_levers(parser)
    parser.add_argument(
        "--reach",
        choices=("end", "top", "opened"),
        default="opened",
        help="suggest readings at rail ends only, on rail tops too, or also inside an opened "
        "piece (default)",
    )
    parser.add_argument(
        "--where",
        choices=("layout", "bench", "both"),
        default="layout",
        help="suggest readings in the layout (default), on pieces taken out, or both",
    )
    parser.add_argument(
        "--ask", action="store_true", help="ask for one reading after the other at the terminal"
    )
    parser.add_argument(
        "--blank",
        action="store_true",
        help="print a file of readings to fill in, with this layout's names",
    )
    parser.add_argument(
        "--save", metavar="FILE", help="write the readings taken, or the blank, to this file"
    )
    options.add_json(parser, "what was found")


def run(given: argparse.Namespace) -> int:
    """Explain readings, ask for more if wanted, print what is left."""
    if given.ask and given.json == "-":
        raise UsageError("--json: expected a file where --ask is given, got '-'")
    if given.save is not None and not (given.ask or given.blank):
        raise UsageError("--save: expected --ask or --blank too, as only these are new")
    if given.blank:
        return _blank(given)
    file = _file(given)
    if given.fix is None and file is not None and file.fix is not None:
        given.fix = file.fix
    case = frame.build(given)
    from sim.bench.readings.file import readings_on
    from sim.faults.kinds import FOUND

    readings = readings_on(case.layout, file, tuple(FOUND)) if file is not None else []
    odds = dict(file.odds) if file is not None else {}
    locator = _locator(given, case, odds)
    if given.ask:
        readings = ask_until_left(locator, readings)
        _save(given, case, readings, odds)
        given.readings = given.save or given.readings
    _give(given, case, locator.find(readings), odds)
    return DONE


def _give(
    given: argparse.Namespace, case: Case, found: Findings, odds: dict[str, float]
) -> None:
    from sim.pages.figures import case_name
    from sim.pages.locate import locate_document, print_locate

    title = f"Tracing a fault in '{case.scenario}' {case_name(case.fix)}"
    again = frame.command_line(given, RESULT_DEPENDS_ON, given.scenario)
    frame.give(
        given,
        lambda page: print_locate(page, case.layout, found, odds, title, again),
        lambda: locate_document(
            frame.asked(given, case.scenario, RESULT_DEPENDS_ON),
            case.fix, case.layout, found, odds,
        ),
    )  # fmt: skip


def _blank(given: argparse.Namespace) -> int:
    if given.ask or given.readings or given.json:
        raise UsageError("--blank: expected neither --ask nor --readings nor --json beside it")
    case = frame.build(given)
    from sim.bench.readings.file import blank_readings

    frame.write_text("--save", given.save or "-", blank_readings(case.layout, case.fix))
    return DONE


def _file(given: argparse.Namespace) -> ReadingsFile | None:
    if given.readings is None:
        return None
    from sim.bench.readings.file import load_readings

    return load_readings(given.readings)


def _locator(given: argparse.Namespace, case: Case, odds: dict[str, float]) -> Locator:
    from sim.bench.diagnosis.locate import Locator
    from sim.bench.diagnosis.model import faults_of
    from sim.layout.traffic import standing

    wheres = ("layout", "bench") if given.where == "both" else (given.where,)
    return Locator(
        case.layout,
        faults_of(case.layout, odds, standing=standing(case.wear)),
        where=wheres,
        worst=given.reach,
        lamps=given.where != "bench",
        each=given.levers == "each",
    )


def _save(
    given: argparse.Namespace, case: Case, readings: list[Reading], odds: dict[str, float]
) -> None:
    if given.save is None:
        return
    from sim.bench.readings.file import readings_text

    text = readings_text(case.layout, readings, case.fix, odds)
    frame.write_text("--save", given.save, text)
