"""``gapwright odds``: exact odds of every route, and the parts that decide them."""

from __future__ import annotations

import argparse

from sim.command import frame, options


def configure(parser: argparse.ArgumentParser) -> None:
    """Add the arguments."""
    options.add_scenario(parser)
    options.add_fix(parser)
    options.add_levers(parser)
    options.add_json(parser, "the odds")


def run(given: argparse.Namespace) -> int:
    """Print the odds of one case, beside those of the others."""
    return frame.answer(given, frame.case(given).odds(given.levers))
