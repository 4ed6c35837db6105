"""``gapwright check``: everything that is wrong with a scenario file."""

from __future__ import annotations

import argparse
from typing import TYPE_CHECKING

from sim.command import frame, options
from sim.command.frame import DONE, UNUSABLE_INPUT

if TYPE_CHECKING:
    from sim.layout.traffic import Case
    from sim.scenario.problems import Problem


def configure(parser: argparse.ArgumentParser) -> None:
    """Add the arguments."""
    options.add_scenario(parser)
    options.add_json(parser, "the problems")


def run(given: argparse.Namespace) -> int:
    """Print all problems; 0 where there are only warnings, 1 where there are errors."""
    frame.check_json_path(given)
    from sim.pages.check import print_check
    from sim.pages.documents import check_document
    from sim.scenario.read import check_scenario

    problems = check_scenario(given.scenario, _further)
    errors = any(p.severity == "error" for p in problems)
    title = None if errors else _title(given.scenario)
    frame.give(
        given,
        lambda page: print_check(page, given.scenario, problems),
        lambda: check_document(frame.asked(given, title, ()), problems),
    )
    return UNUSABLE_INPUT if errors else DONE


def _further(case: Case) -> list[Problem]:
    """What shows only once the layout is put together."""
    from sim.drive.warn import warnings
    from sim.layout.order_check import undoable_orders
    from sim.power.chart import shorts_at_rest

    return [*shorts_at_rest(case), *undoable_orders(case), *warnings(case)]


def _title(path: str) -> str:
    from sim.scenario.read import read_scenario

    return read_scenario(path).title
