"""``gapwright volts``: what is left of the supply at each place, and the coin test."""

from __future__ import annotations

import argparse

from sim.command import frame, options
from sim.command.frame import DONE

RESULT_DEPENDS_ON = ("fix",)


def configure(parser: argparse.ArgumentParser) -> None:
    """Add the arguments."""
    options.add_scenario(parser)
    options.add_fix(parser)
    options.add_ids(parser)
    options.add_json(parser, "the report")


def run(given: argparse.Namespace) -> int:
    """Print volts, drops and short-circuit currents of every setting."""
    case = frame.build(given)
    from sim.circuit.voltage_drop import volts_report
    from sim.pages.volts import print_volts, volts_document

    found = volts_report(case)
    again = frame.command_line(given, RESULT_DEPENDS_ON, given.scenario)
    frame.give(
        given,
        lambda page: print_volts(page, found, case.assumptions, again),
        lambda: volts_document(
            frame.asked(given, found.scenario, RESULT_DEPENDS_ON), found, case.assumptions
        ),
        [case.layout],
    )
    return DONE
