"""``gapwright odds``: exact odds of every route, and the parts that decide them."""

from __future__ import annotations

import argparse

from sim.command import frame, options
from sim.command.frame import DONE

RESULT_DEPENDS_ON = ("fix", "levers")


def configure(parser: argparse.ArgumentParser) -> None:
    """Add the arguments."""
    options.add_scenario(parser)
    options.add_fix(parser)
    options.add_levers(parser)
    options.add_json(parser, "the odds")


def run(given: argparse.Namespace) -> int:
    """Print the odds of one case, beside those of the others."""
    project = frame.read(given)
    case = project.case(frame.fix_of(given, project))
    from sim.analyses.odds.odds import exact_odds
    from sim.pages.odds import odds_document, print_odds

    each = given.levers == "each"
    found = exact_odds(case, each)
    others = [exact_odds(other, each) for other in project.cases() if other.fix != case.fix]
    again = frame.command_line(given, RESULT_DEPENDS_ON, given.scenario)
    frame.give(
        given,
        lambda page: print_odds(page, found, others, again),
        lambda: odds_document(
            frame.asked(given, found.scenario, RESULT_DEPENDS_ON), found, others
        ),
    )
    return DONE
