"""``gapwright faults``: what dies, shorts or joins when something fails."""

from __future__ import annotations

import argparse

from sim.command import frame, options


def configure(parser: argparse.ArgumentParser) -> None:
    """Add the arguments."""
    options.add_scenario(parser)
    options.add_fix(parser)
    parser.add_argument(
        "--depth",
        type=options.whole_number(1, 2),
        default=1,
        metavar="1|2",
        help="every single fault (1, default), or also every two at once (2)",
    )
    options.add_levers(parser)
    options.add_json(parser, "the faults")


def run(given: argparse.Namespace) -> int:
    """Print the faults by the harm that they do, and what fixes change."""
    case = frame.case(given)
    from sim.command.progress import Bar

    with Bar("Tracing") as bar:
        answer = case.faults(given.depth, given.levers, bar.show)
    return frame.answer(given, answer)
