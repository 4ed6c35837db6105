"""``gapwright volts``: what is left of the supply at each place, and the coin test."""

from __future__ import annotations

import argparse

from sim.command import frame, options


def configure(parser: argparse.ArgumentParser) -> None:
    """Add the arguments."""
    options.add_scenario(parser)
    options.add_fix(parser)
    options.add_json(parser, "the report")


def run(given: argparse.Namespace) -> int:
    """Print volts, drops and short-circuit currents of every setting."""
    return frame.answer(given, frame.case(given).volts())
