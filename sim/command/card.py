"""``gapwright card``: the card that travels with a module."""

from __future__ import annotations

import argparse

from sim.command import frame, options
from sim.command.frame import DONE, UsageError

RESULT_DEPENDS_ON = ("module", "fix", "unknown", "wiring")


def configure(parser: argparse.ArgumentParser) -> None:
    """Add the arguments."""
    options.add_scenario(parser)
    parser.add_argument("--module", metavar="NAME", required=True, help="the module")
    options.add_fix(parser)
    parser.add_argument(
        "--unknown",
        metavar="LIST",
        help="parameters of its pieces that you have not found out, such as family,centre_gap: "
        "every value is tried",
    )
    parser.add_argument(
        "--wiring",
        metavar="FILE",
        help="a piece file, as 'learn' writes it, that may be what lies there: judged too; "
        "PIECE=FILE where several pieces have levers, commas between several files",
    )
    options.add_json(parser, "the card")


def run(given: argparse.Namespace) -> int:
    """Judge the module among all neighbours and print its card."""
    project = frame.read(given)
    chosen, scenario = frame.fix_of(given, project), project.scenario
    names = [m.name for m in scenario.module]
    if given.module not in names:
        known = ", ".join(repr(name) for name in names)
        raise UsageError(f"--module: expected a module ({known}), got {given.module[:80]!r}")
    from sim.analyses.neighbours.card import card
    from sim.pages.card import card_document, print_card

    fix = None if chosen is None else scenario.fix_named(chosen)
    unknown = tuple(u.strip() for u in (given.unknown or "").split(",") if u.strip())
    files = tuple(w.strip() for w in (given.wiring or "").split(",") if w.strip())
    made = card(project, given.module, fix, unknown, files)
    again = frame.command_line(given, RESULT_DEPENDS_ON, given.scenario)
    frame.give(
        given,
        lambda page: print_card(page, made, again),
        lambda: card_document(frame.asked(given, made.scenario, RESULT_DEPENDS_ON), made),
    )
    return DONE
