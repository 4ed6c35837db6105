"""``gapwright run``: the timetable once, with every stall and its cause."""

from __future__ import annotations

import argparse

from sim.command import frame, options
from sim.command.frame import DONE

RESULT_DEPENDS_ON = ("fix", "seed")


def configure(parser: argparse.ArgumentParser) -> None:
    """Add the arguments."""
    options.add_scenario(parser)
    options.add_fix(parser)
    options.add_seed(parser)
    options.add_records(parser)
    options.add_ids(parser)
    options.add_json(parser, "the record")


def run(given: argparse.Namespace) -> int:
    """Run once and print the record."""
    options.check_records(given)
    case = frame.build(given)
    from sim.pages.documents import run_document
    from sim.pages.run import print_run
    from sim.pages.words import changes_in_words
    from sim.run.run import run as run_once

    record = run_once(case, given.seed)
    if given.records is not None:
        from sim.records.table import rows_of

        options.write_records(given, rows_of(record))
    again = frame.command_line(given, RESULT_DEPENDS_ON, given.scenario)
    frame.give(
        given,
        lambda page: print_run(
            page, record, case.assumptions, again, changes_in_words(case.layout, page.names)
        ),
        lambda: run_document(
            frame.asked(given, record.scenario, RESULT_DEPENDS_ON), record, case.assumptions
        ),
        [case.layout],
    )
    return DONE
