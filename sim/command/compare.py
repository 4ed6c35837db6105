"""``gapwright compare``: as built and every fix on the same luck."""

from __future__ import annotations

import argparse

from sim.command import frame, options
from sim.command.frame import DONE

RESULT_DEPENDS_ON = ("runs", "seed", "levers")


def configure(parser: argparse.ArgumentParser) -> None:
    """Add the arguments."""
    options.add_scenario(parser)
    options.add_levers(parser)
    options.add_seed(parser)
    options.add_runs(parser)
    options.add_json(parser, "the comparison")


def run(given: argparse.Namespace) -> int:
    """Compare and print who stalls where, and what each fix does."""
    project = frame.read(given)
    from sim.command.progress import Bar
    from sim.judge.compare import compare
    from sim.judge.replicate import usable_processors
    from sim.pages.compare import compare_document, print_compare

    workers = given.workers or usable_processors()
    each = given.levers == "each"
    with Bar("Running") as bar:
        found = compare(project, given.runs, given.seed, workers, each, bar.show)
    again = frame.command_line(given, RESULT_DEPENDS_ON, given.scenario)
    frame.give(
        given,
        lambda page: print_compare(page, found, again),
        lambda: compare_document(frame.asked(given, found.scenario, RESULT_DEPENDS_ON), found),
    )
    return DONE
