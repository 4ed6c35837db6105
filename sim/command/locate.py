"""``gapwright locate``: from readings to the faults that explain them."""

from __future__ import annotations

import argparse
from typing import TYPE_CHECKING

from sim.command import frame, options
from sim.command.errors import DONE, UsageError

if TYPE_CHECKING:
    from sim.diagnose.findings import Findings
    from sim.diagnose.locate import Locator
    from sim.layout.traffic import Case
    from sim.readings.file import ReadingsFile
    from sim.readings.model import Reading

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
    from sim.diagnose.model import KINDS
    from sim.readings.file import readings_on

    readings = readings_on(case.layout, file, KINDS) if file is not None else []
    odds = dict(file.odds) if file is not None else {}
    locator = _locator(given, case, odds)
    if given.ask:
        from sim.command.ask import ask_until_left

        readings = ask_until_left(locator, readings)
        _save(given, case, readings, odds)
        given.readings = given.save or given.readings
    _give(given, case, locator.find(readings), odds)
    return DONE


def _give(
    given: argparse.Namespace, case: Case, found: Findings, odds: dict[str, float]
) -> None:
    from sim.pages.document_locate import locate_document
    from sim.pages.page import case_name
    from sim.pages.text_locate import print_locate

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
    from sim.readings.blank import blank_readings

    frame.write_text("--save", given.save or "-", blank_readings(case.layout, case.fix))
    return DONE


def _file(given: argparse.Namespace) -> ReadingsFile | None:
    if given.readings is None:
        return None
    from sim.readings.file import load_readings

    return load_readings(given.readings)


def _locator(given: argparse.Namespace, case: Case, odds: dict[str, float]) -> Locator:
    from sim.diagnose.locate import Locator
    from sim.diagnose.model import faults_of

    wheres = ("layout", "bench") if given.where == "both" else (given.where,)
    return Locator(
        case.layout,
        faults_of(case.layout, odds),
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
    from sim.readings.write import readings_text

    text = readings_text(case.layout, readings, case.fix, odds)
    frame.write_text("--save", given.save, text)
