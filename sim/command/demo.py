"""``gapwright demo``: list the scenarios that are shipped, and run one."""

from __future__ import annotations

import argparse
from pathlib import Path
from typing import TYPE_CHECKING, Any

from sim.command import frame, options
from sim.command.frame import DONE, UsageError

if TYPE_CHECKING:
    from sim.begin.shipped import Shipped
    from sim.pages.page import Page


def configure(parser: argparse.ArgumentParser) -> None:
    """Add the arguments."""
    parser.add_argument(
        "name", nargs="?", metavar="NAME", help="the one to run (default: list)"
    )
    parser.add_argument("--copy", metavar="FILE", help="write it to a file of yours instead")
    options.add_levers(parser)
    options.add_seed(parser)
    options.add_runs(parser)
    options.add_ids(parser)
    options.add_json(parser, "the comparison, or the list")


def run(given: argparse.Namespace) -> int:
    """List, copy, or compare."""
    from sim.begin.shipped import shipped

    known = {s.name: s for s in shipped()}
    if given.name is None:
        if given.copy is not None:
            raise UsageError("--copy: expected together with NAME, the scenario to copy")
        return _list(given, list(known.values()))
    chosen = known.get(given.name.removesuffix(".toml"))
    if chosen is None:
        names = ", ".join(known) or "none is installed"
        raise UsageError(f"NAME: expected one of {names}, got {given.name!r}")
    if given.copy is not None:
        return _copy(chosen, given.copy)
    from sim.command import compare

    given.scenario, given.command = str(chosen.path), "compare"
    return compare.run(given)


def _list(given: argparse.Namespace, found: list[Shipped]) -> int:
    frame.give(given, lambda page: _print_list(page, found), lambda: _document(found))
    return DONE


def _document(found: list[Shipped]) -> dict[str, Any]:
    from sim.pages.documents import FORMAT_VERSION

    return {
        "format_version": FORMAT_VERSION,
        "scenarios": [{"name": s.name, "says": s.says} for s in found],
    }


def _print_list(page: Page, found: list[Shipped]) -> None:
    page.heading("Scenarios that come with the program")
    rows = [(s.name, s.says) for s in found]
    page.table(("Name", "What it is"), rows)
    if not rows:
        page.line("None is installed.")
        return
    page.line()
    page.line("Compare its fixes:  gapwright demo NAME")
    page.line("Make it yours:      gapwright demo NAME --copy FILE")


def _copy(chosen: Shipped, target: str) -> int:
    if Path(target).exists():
        raise UsageError(f"--copy: expected a new file, got {target!r}, which exists")
    frame.write_text("--copy", target, chosen.path.read_text(encoding="utf-8"))
    print(f"Written: {target}")
    return DONE
