"""``gapwright states``: which rails are fed, dead or shorted in every setting."""

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
    options.add_json(parser, "the chart")


def run(given: argparse.Namespace) -> int:
    """Print the chart of states."""
    case = frame.build(given)
    from sim.drive.in_order import in_order
    from sim.pages.documents import states_document
    from sim.pages.drives import counted, drives_of_settings
    from sim.pages.states import print_states
    from sim.power.chart import chart

    found = chart(case, given.levers == "each")
    order = in_order(case)
    again = frame.command_line(given, RESULT_DEPENDS_ON, given.scenario)
    frame.give(
        given,
        lambda page: print_states(page, found, again, counted(order)),
        lambda: states_document(
            frame.asked(given, found.scenario, RESULT_DEPENDS_ON),
            found,
            case.assumptions,
            drives_of_settings(case.layout, found, order),
        ),
    )
    return DONE
