"""``gapwright run``: the timetable once, with every stall and its cause."""

from __future__ import annotations

import argparse

from sim.command import frame, options


def configure(parser: argparse.ArgumentParser) -> None:
    """Add the arguments."""
    options.add_scenario(parser)
    options.add_fix(parser)
    options.add_seed(parser)
    options.add_records(parser)
    options.add_json(parser, "the record")


def run(given: argparse.Namespace) -> int:
    """Run once and print the record."""
    options.check_records(given)
    answer = frame.case(given).run(given.seed)
    if given.records is not None:
        from sim.records.table import rows_of

        options.write_records(given, rows_of(answer.found))
    return frame.answer(given, answer)
