"""``gapwright seek``: every smallest set of changes that cures the layout."""

from __future__ import annotations

import argparse
from typing import TYPE_CHECKING

from sim.command import frame, options
from sim.command.frame import DONE, UsageError

if TYPE_CHECKING:
    from sim.analyses.search.model import Asked, Found
    from sim.layout.model import Layout
    from sim.scenario.fixes import FixTable

RESULT_DEPENDS_ON = ("fix", "survive", "most", "cuts", "use", "at", "settings", "sizes")
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


def asked_of(given: argparse.Namespace, layout: Layout) -> Asked:
    """The search that the arguments ask for. Raises :class:`UsageError` for a lost --at."""
    from sim.analyses.search.changes import pieces_at
    from sim.analyses.search.model import ALWAYS, USES, Asked, Demand

    more: dict[str | None, tuple[Demand, ...]] = {
        None: (),
        "contact": ("contact",),
        "lever": ("lever",),
        "both": ("contact", "lever"),
    }
    at = tuple(p.strip() for p in (given.at or "").split(",") if p.strip())
    lost = [pattern for pattern in at if not pieces_at(layout, pattern)]
    if lost:
        modules = ", ".join(
            repr(name) for name in dict.fromkeys(p.module for p in layout.pieces)
        )
        raise UsageError(
            f"--at: expected modules ({modules}), pieces such as {layout.pieces[0].id!r} or "
            f"patterns of them, got {lost[0][:60]!r}, which fits none"
        )
    words = (given.use or ",".join(USES)).split(",")
    return Asked(
        demands=(*ALWAYS, *more[given.survive]),
        use=tuple(use for use in USES if use in words),
        most=given.most,
        most_cuts=given.cuts,
        at=at,
        gangs=given.settings == "gangs",
        every_size=getattr(given, "sizes", "smallest") == "every",
    )


def run(given: argparse.Namespace) -> int:
    """Search and print what was found."""
    project = frame.read(given)
    case = project.case(frame.fix_of(given, project))
    asked = asked_of(given, case.layout)
    from sim.analyses.search.seek import seek
    from sim.command.progress import Bar
    from sim.pages.seek import print_seek, seek_document

    with Bar("Searching") as bar:
        found = seek(project, asked, case.fix, bar.show)
    if given.out is not None:
        _write(given.out, found)
    again = frame.command_line(given, RESULT_DEPENDS_ON, given.scenario)
    rests = tuple(a for a in case.assumptions if "pad" in a.value or "drill" in a.value)
    frame.give(
        given,
        lambda page: print_seek(page, found, rests, again),
        lambda: seek_document(
            frame.asked(given, found.scenario, RESULT_DEPENDS_ON), found, rests
        ),
    )
    return DONE


def _write(path: str, found: Found) -> None:
    from sim.analyses.search.options import toml_of

    fixes: list[FixTable] = [fix for one in found.sets for fix in one.fixes]
    heading = (
        f"Fixes found for '{found.scenario}'." if fixes else "No fix was found or needed.",
        "Put these tables at the end of the scenario file to compare them.",
    )
    text = toml_of(fixes, [" ".join(line.split()) for line in heading])
    frame.write_text("--out", path, text)
