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
    options.add_page(parser)
    options.add_json(parser, "the odds")


def run(given: argparse.Namespace) -> int:
    """Print the odds of one case, beside those of the others."""
    case = frame.build(given)
    from sim.analyses.odds.odds import exact_odds
    from sim.layout.assemble import assemble
    from sim.pages.odds import odds_document, print_odds

    each = given.levers == "each"
    found = exact_odds(case, each)
    scenario = frame.read(given)
    names = [None, *scenario.fix_names]
    others = [exact_odds(assemble(scenario, n), each) for n in names if n != case.fix]
    again = frame.command_line(given, RESULT_DEPENDS_ON, given.scenario)
    frame.give(
        given,
        lambda page: print_odds(page, found, others, again),
        lambda: odds_document(
            frame.asked(given, found.scenario, RESULT_DEPENDS_ON), found, others
        ),
    )
    return DONE
