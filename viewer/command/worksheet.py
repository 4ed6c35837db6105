"""``gapwright worksheet``: the sheet to work from, as text, HTML, PDF or JSON."""

from __future__ import annotations

import argparse
import shlex
from typing import TYPE_CHECKING

from sim.command import frame, options
from sim.command.frame import DONE, UsageError
from viewer.command import common

if TYPE_CHECKING:
    from sim.bench.worksheet.model import Worksheet
    from sim.layout.project import Project
    from sim.scenario.document import Scenario
    from sim.scenario.fixes import FixTable

RESULT_DEPENDS_ON = ("fix",)


def configure(parser: argparse.ArgumentParser) -> None:
    """Add the arguments."""
    options.add_scenario(parser)
    parser.add_argument(
        "--fix", metavar="NAME", required=True, help="the fix of the scenario to work on"
    )
    parser.add_argument(
        "--out", metavar="FILE", help="write X.html or X.pdf, with drawings; default: text"
    )
    options.add_json(parser, "the worksheet")


def run(given: argparse.Namespace) -> int:
    """Put the sheet together and give it out."""
    kind = None
    if given.out is not None:
        kind = common.kind_of(given, ("html", "htm", "pdf"))
    project = frame.read(given)
    fix = _fix(project.scenario, given.fix)
    from sim.bench.worksheet.make import make_worksheet
    from sim.pages.worksheet import worksheet_document

    sheet = make_worksheet(project, fix)
    again = frame.command_line(given, RESULT_DEPENDS_ON, given.scenario)
    if kind is not None:
        again += f" --out {shlex.quote(given.out)}"
        _draw(given, project, sheet, again, kind)
        if given.json is not None:
            asked = frame.asked(given, sheet.scenario, RESULT_DEPENDS_ON)
            frame.write_json(given.json, worksheet_document(asked, sheet))
        return DONE
    from sim.pages.worksheet import print_worksheet

    frame.give(
        given,
        lambda page: print_worksheet(page, sheet, again),
        lambda: worksheet_document(
            frame.asked(given, sheet.scenario, RESULT_DEPENDS_ON), sheet
        ),
    )
    return DONE


def _fix(scenario: Scenario, name: str) -> FixTable:
    fix = scenario.fix_named(name)
    if fix is None:
        known = ", ".join(repr(n) for n in scenario.fix_names) or "none"
        raise UsageError(f"--fix: expected a fix of the scenario ({known}), got {name!r}")
    return fix


def _draw(
    given: argparse.Namespace, project: Project, sheet: Worksheet, again: str, kind: str
) -> None:
    from sim.pages.documents import write_bytes_atomically, write_text_atomically
    from viewer.worksheet.render import NoPdfError, worksheet_html, worksheet_pdf

    html = worksheet_html(sheet, project.case(sheet.fix).layout, again)
    if kind != "pdf":
        common.write(given, lambda path: write_text_atomically(path, html))
        return
    try:
        made = worksheet_pdf(html)
    except NoPdfError as error:
        raise UsageError(
            f"--out: a PDF needs WeasyPrint: {error}; or write X.html and print it"
        ) from None
    common.write(given, lambda path: write_bytes_atomically(path, made))
