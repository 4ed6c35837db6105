"""``gapwright states``: which rails are fed, dead or shorted in every setting."""

from __future__ import annotations

import argparse

from sim.command import frame, options


def configure(parser: argparse.ArgumentParser) -> None:
    """Add the arguments."""
    options.add_scenario(parser)
    options.add_fix(parser)
    options.add_levers(parser)
    options.add_json(parser, "the chart")


def run(given: argparse.Namespace) -> int:
    """Print the chart of states."""
    return frame.answer(given, frame.case(given).states(given.levers))
