"""``gapwright report``: one self-contained page."""

from __future__ import annotations

import argparse

from sim.command import frame, options
from sim.command.frame import DONE
from viewer.command import common

RESULT_DEPENDS_ON = ("runs", "seed", "levers")


def configure(parser: argparse.ArgumentParser) -> None:
    """Add the arguments."""
    options.add_scenario(parser)
    common.add_out(parser, "X.html")
    options.add_levers(parser)
    options.add_seed(parser)
    options.add_runs(parser)


def run(given: argparse.Namespace) -> int:
    """Compare, draw, write."""
    import shlex
    from pathlib import Path

    common.kind_of(given, ("html", "htm"))
    project = frame.read(given)
    from sim.command.progress import Bar
    from sim.judge.replicate import usable_processors
    from sim.pages.documents import write_text_atomically
    from viewer.report.content import gather
    from viewer.report.render import report_html

    again = frame.command_line(given, RESULT_DEPENDS_ON, given.scenario)
    again += f" --out {shlex.quote(given.out)}"
    workers = given.workers or usable_processors()
    with Bar("Running") as bar:
        content = gather(
            project, given.runs, given.seed, workers, given.levers == "each", again, bar.show,
        )  # fmt: skip
    page = report_html(content)
    common.write(given, lambda path: write_text_atomically(path, page))
    if given.json is not None:
        from sim.pages.compare import compare_document

        asked = frame.asked(given, content.comparison.scenario, RESULT_DEPENDS_ON)
        written = {"written": Path(given.out).name}
        frame.write_json(given.json, compare_document(asked, content.comparison) | written)
    return DONE
