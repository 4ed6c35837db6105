"""``gapwright weigh``: every fix, and those that a search finds, side by side."""

from __future__ import annotations

import argparse
from math import isfinite

from sim.command import frame, options
from sim.command.frame import DONE, UsageError
from sim.command.seek import add_search, search_words

RESULT_DEPENDS_ON = (
    "runs", "seed", "survive", "most", "cuts", "use", "at", "settings", "found", "weight",
)  # fmt: skip


def configure(parser: argparse.ArgumentParser) -> None:
    """Add the arguments."""
    options.add_scenario(parser)
    add_search(parser)
    parser.add_argument(
        "--found",
        type=options.whole_number(0, 40),
        default=4,
        metavar="N",
        help="fixes found by search that are put beside the file's (default 4, 0: no search)",
    )
    parser.add_argument(
        "--weight",
        metavar="LIST",
        help="your own weights, such as joints=2,opened=5; by default there are none",
    )
    options.add_seed(parser)
    options.add_runs(parser)
    options.add_json(parser, "the table")


def run(given: argparse.Namespace) -> int:
    """Weigh and print the table."""
    weights = _weights(given.weight)
    project = frame.read(given)
    from sim.analyses.search.changes import AskedError, asked_for
    from sim.command.progress import Bar
    from sim.judge.replicate import usable_processors
    from sim.judge.weigh import weigh
    from sim.pages.weigh import print_weigh, weigh_document

    workers = given.workers or usable_processors()
    try:
        layout = project.case().layout
        asked = asked_for(layout, **search_words(given)) if given.found else None
    except AskedError as error:
        raise UsageError(f"--{error}") from error
    with Bar("Weighing") as bar:
        found = weigh(
            project, given.runs, given.seed, workers, asked, given.found, weights, bar.show
        )
    again = frame.command_line(given, RESULT_DEPENDS_ON, given.scenario)
    frame.give(
        given,
        lambda page: print_weigh(page, found, again),
        lambda: weigh_document(frame.asked(given, found.scenario, RESULT_DEPENDS_ON), found),
    )
    return DONE


def _weights(text: str | None) -> dict[str, float]:
    """Weights by criterion. Raises :class:`UsageError` for what is none."""
    from sim.judge.criteria import CRITERIA

    known = [c.name for c in CRITERIA]
    found: dict[str, float] = {}
    for part in (text or "").split(",") if text else ():
        name, sign, number = part.partition("=")
        try:
            value = float(number)
        except ValueError:
            value = -1.0
        if name.strip() not in known or not sign or not (isfinite(value) and value >= 0):
            raise UsageError(
                f"--weight: expected NAME=NUMBER with a name of {', '.join(known)} and a "
                f"number of 0 or more, got {part[:40]!r}"
            )
        found[name.strip()] = value
    return found
