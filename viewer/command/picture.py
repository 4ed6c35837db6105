"""``gapwright picture``: one still of a setting or of a moment, or the chart of states."""

from __future__ import annotations

import argparse
from typing import TYPE_CHECKING

from sim.command import frame, options
from sim.command.frame import DONE, UsageError
from viewer.command import common

if TYPE_CHECKING:
    from sim.layout.traffic import Case

CHART_DEPENDS_ON = ("fix", "chart", "levers", "ground", "size", "out")
STILL_DEPENDS_ON = ("fix", "set", "at", "seed", "module", "ground", "size", "out")


def configure(parser: argparse.ArgumentParser) -> None:
    """Add the arguments."""
    options.add_scenario(parser)
    options.add_fix(parser)
    common.add_out(parser, "X.svg or X.png")
    parser.add_argument("--chart", action="store_true", help="draw every setting of the levers")
    options.add_levers(parser)
    parser.add_argument(
        "--set",
        action="append",
        default=[],
        metavar="LEVER=POSITION",
        help="put a lever or gang to a position (may be given again); others are at rest",
    )
    parser.add_argument(
        "--at", type=common.seconds, metavar="S", help="a moment of the run, in seconds"
    )
    options.add_seed(parser)
    parser.add_argument("--module", metavar="NAME", help="show this module only")
    common.add_ground(parser)
    common.add_size(parser, "1280x720")


def run(given: argparse.Namespace) -> int:
    """Draw and write."""
    kind = common.kind_of(given, ("svg", "png"))
    if kind == "png":
        common.need_pygame()
    case = frame.build(given)
    from sim.pages.documents import write_bytes_atomically

    drawn = _chart(given, case, kind) if given.chart else _still(given, case, kind)
    common.write(given, lambda path: write_bytes_atomically(path, drawn))
    again = CHART_DEPENDS_ON if given.chart else STILL_DEPENDS_ON
    shown = {} if given.chart else _shown(given, case)
    common.give(given, case.scenario, case.fix, again, kind=kind, chart=given.chart, **shown)
    return DONE


def _shown(given: argparse.Namespace, case: Case) -> dict[str, object]:
    """What a still shows: the moment of a run, or where every lever lies."""
    if given.at is not None:
        return {"seed": given.seed, "at_s": given.at, "levers": None}
    put = levers_of(case, given.set)
    rest = {lever.id: lever.positions[lever.rest] for lever in case.layout.levers}
    return {"seed": None, "at_s": None, "levers": {**rest, **put}}


def _chart(given: argparse.Namespace, case: Case, kind: str) -> bytes:
    from viewer.chart import chart_png, chart_svg

    each, look, wide = given.levers == "each", common.look_of(given), given.size[0]
    if kind == "png":
        return chart_png(case, each, look, wide)
    return chart_svg(case, each, look, wide).encode()


def _still(given: argparse.Namespace, case: Case, kind: str) -> bytes:
    from viewer import picture
    from viewer.draw.set_out import sheet_of

    sheet = sheet_of(case.layout)
    part = None
    if given.module is not None:
        pieces = picture.pieces_of(case.layout, given.module)
        if not pieces:
            known = ", ".join(repr(m.name) for m in case.layout.modules)
            raise UsageError(f"--module: expected one of {known}, got {given.module!r}")
        part = picture.part_of(sheet, pieces)
    levers = levers_of(case, given.set)
    if given.at is None:
        moment, title = picture.moment_of(case, levers), ""
        title = picture.title_of(case, moment)
    else:
        if levers:
            raise UsageError("--set: expected without --at, where the run throws the levers")
        from sim.run.run import run as run_once
        from viewer.state.replay import Replay

        moment = Replay(case, run_once(case, given.seed, motions=True)).at(given.at)
        title = picture.moment_title(case, given.at, given.seed)
    size = picture.Frame(*given.size)
    look = common.look_of(given)
    if kind == "png":
        surface = picture.bitmap_of(sheet, moment, title, size, look, part)
        return picture.png_bytes(surface)
    return picture.svg_of(sheet, moment, title, size, look, part).encode()


def levers_of(case: Case, given: list[str]) -> dict[str, str]:
    """``LEVER=POSITION`` pairs as positions by lever; gangs are taken apart."""
    layout = case.layout
    controls = {c.id: c for c in layout.controls}
    single = {x.id: k for k, x in enumerate(layout.levers)}
    found: dict[str, str] = {}
    for text in given:
        name, _, position = text.partition("=")
        if name not in controls and name not in single:
            known = ", ".join(sorted({*controls, *single})) or "none"
            raise UsageError(f"--set: expected a lever or gang ({known}), got {name!r}")
        levers = controls[name].levers if name in controls else (single[name],)
        for lever in levers:
            described = layout.levers[lever]
            if position not in described.positions:
                ways = ", ".join(described.positions)
                raise UsageError(
                    f"--set: expected a position of {name!r} ({ways}), got {position!r}"
                )
            found[described.id] = position
    return found
