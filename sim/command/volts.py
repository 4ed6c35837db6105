"""``gapwright volts``: what is left of the supply at each place, and the coin test."""

from __future__ import annotations

import argparse

from sim.command import frame, options
from sim.command.errors import DONE

RESULT_DEPENDS_ON = ("fix",)


def configure(parser: argparse.ArgumentParser) -> None:
    """Add the arguments."""
    options.add_scenario(parser)
    options.add_fix(parser)
    options.add_json(parser, "the report")


def run(given: argparse.Namespace) -> int:
    """Print volts, drops and short-circuit currents of every setting."""
    case = frame.build(given)
    from sim.circuit.drop import volts_report
    from sim.pages.document_volts import volts_document
    from sim.pages.text_volts import print_volts

    found = volts_report(case)
    again = frame.command_line(given, RESULT_DEPENDS_ON, given.scenario)
    frame.give(
        given,
        lambda page: print_volts(page, found, case.assumptions, again),
        lambda: volts_document(
            frame.asked(given, found.scenario, RESULT_DEPENDS_ON), found, case.assumptions
        ),
    )
    return DONE
