"""``gapwright seek``: every smallest set of changes that cures the layout."""

from __future__ import annotations

import argparse
from typing import TYPE_CHECKING, Any

from sim.command import frame, options
from sim.command.frame import UsageError

if TYPE_CHECKING:
    from sim.analyses.search.model import Found
    from sim.scenario.fixes import FixTable

_USES = ("jumper", "feeder", "length", "changeover", "gap")


def configure(parser: argparse.ArgumentParser) -> None:
    """Add the arguments."""
    options.add_scenario(parser)
    options.add_fix(parser)
    add_search(parser)
    parser.add_argument(
        "--sizes",
        choices=("smallest", "every"),
        default="smallest",
        help="the smallest sets (default), or every size of which nothing can be left out",
    )
    parser.add_argument(
        "--out", metavar="PATH", help="write the found fixes as [[fix]] tables (TOML)"
    )
    options.add_json(parser, "what was found")


def add_search(parser: argparse.ArgumentParser) -> None:
    """What to demand and what may be used: shared with ``weigh``."""
    parser.add_argument(
        "--survive",
        choices=("contact", "lever", "both"),
        help="also with any one contact open, any one lever not following its gang, or both",
    )
    parser.add_argument(
        "--most",
        type=options.whole_number(0, 8),
        default=4,
        metavar="N",
        help="changes in each independent part at most (default 4)",
    )
    parser.add_argument(
        "--cuts",
        type=options.whole_number(0, 4),
        default=2,
        metavar="N",
        help="cuts among them at most (default 2)",
    )
    parser.add_argument(
        "--use",
        type=_uses,
        metavar="LIST",
        help=f"what may be used, of {','.join(_USES)} (default: all)",
    )
    parser.add_argument(
        "--at",
        metavar="LIST",
        help="only on these modules or pieces: patterns with commas between, such as "
        "'module' or 'module/*'",
    )
    parser.add_argument(
        "--settings",
        choices=("timetable", "gangs"),
        default="timetable",
        help="alive in the settings that the timetable uses (default), or in all of the gangs",
    )


def _uses(text: str) -> str:
    unknown = [word for word in text.split(",") if word not in _USES]
    if unknown:
        raise argparse.ArgumentTypeError(
            f"expected some of {','.join(_USES)}, got {unknown[0][:40]!r}"
        )
    return text


def search_words(given: argparse.Namespace) -> dict[str, Any]:
    """The arguments of :func:`add_search`, by name."""
    names = ("survive", "most", "cuts", "use", "at", "settings")
    return {name: getattr(given, name) for name in names}


def run(given: argparse.Namespace) -> int:
    """Search and print what was found."""
    case = frame.case(given)
    from sim.analyses.search.changes import AskedError
    from sim.command.progress import Bar

    try:
        with Bar("Searching") as bar:
            words = search_words(given)
            answer = case.seek(**words, sizes=given.sizes, progress=bar.show)
    except AskedError as error:
        raise UsageError(f"--{error}") from error
    if given.out is not None:
        _write(given.out, answer.found)
    return frame.answer(given, answer)


def _write(path: str, found: Found) -> None:
    from sim.analyses.search.options import toml_of

    fixes: list[FixTable] = [fix for one in found.sets for fix in one.fixes]
    heading = (
        f"Fixes found for '{found.scenario}'." if fixes else "No fix was found or needed.",
        "Put these tables at the end of the scenario file to compare them.",
    )
    text = toml_of(fixes, [" ".join(line.split()) for line in heading])
    frame.write_text("--out", path, text)
