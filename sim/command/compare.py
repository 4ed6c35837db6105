"""``gapwright compare``: as built and every fix on the same luck."""

from __future__ import annotations

import argparse

from sim.command import frame, options


def configure(parser: argparse.ArgumentParser) -> None:
    """Add the arguments."""
    options.add_scenario(parser)
    options.add_levers(parser)
    options.add_seed(parser)
    options.add_runs(parser)
    options.add_json(parser, "the comparison")


def run(given: argparse.Namespace) -> int:
    """Compare and print who stalls where, and what each fix does."""
    project = frame.project(given)
    from sim.command.progress import Bar

    with Bar("Running") as bar:
        answer = project.compare(given.runs, given.seed, given.levers, given.workers, bar.show)
    return frame.answer(given, answer)
