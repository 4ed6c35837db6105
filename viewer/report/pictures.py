"""The pictures of a report, as SVG whose colours the page decides."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from math import sqrt

from sim.judge.verdict import section_named
from sim.layout.traffic import Case
from viewer.chart import chart_cells, verdict_of
from viewer.draw.notes import draw_notes, note_of
from viewer.draw.set_out import sheet_of
from viewer.draw.sheet import Sheet
from viewer.draw.track import Detail, draw_board, draw_piece
from viewer.draw.trains import draw_trains
from viewer.draw.wires import draw_wires
from viewer.look import LIGHT, LOOKS
from viewer.picture import describe, moment_of, part_of
from viewer.report.content import Content, Guilty, Place
from viewer.scene.camera import Box, fitted, flat
from viewer.scene.scene import About, Lettering, Style
from viewer.scene.svg import SvgScene, css
from viewer.state.moment import Moment
from viewer.state.replay import Replay

WIDE = 960
#: A drawing is this high at most, and at least.
HIGH = (140, 420)
SETTINGS_AT_MOST = 12


def variable(role: str) -> str:
    """The CSS variable of a role."""
    return "--" + role.replace(" ", "-")


def colour_rules(name: str) -> str:
    """Declarations of every role's variable for one ground."""
    look = LOOKS["dark" if name == "dark" else "light"]
    return " ".join(f"{variable(role)}: {css(c)};" for role, c in look.colours.items())


def scene_for(part: Box, wide: int = WIDE) -> SvgScene:
    """A scene as wide as the page, and as high as the part needs."""
    share = (part[3] - part[1]) / max(1e-6, part[2] - part[0])
    high = round(min(HIGH[1], max(HIGH[0], share * wide)))
    scene = SvgScene(flat(0, 0, wide, high), LIGHT, variables=True)
    scene.aim(fitted(part, 0, 0, wide, high, 8.0))
    return scene


def guilty_svg(case: Case, sheet: Sheet, guilty: Guilty) -> str:
    """The stall as it happened, on the boards of the train and of what is guilty."""
    moment = Replay(case, guilty.record).at(guilty.stall.time_s)
    alone = replace(moment, stalls={guilty.stall.train: guilty.stall})
    part = _around(case, sheet, alone, guilty)
    scene = scene_for(part)
    draw_all(scene, sheet.within(part), alone)
    draw_trains(scene, sheet, alone)
    draw_notes(scene, sheet, alone)
    stall = guilty.stall
    title = f"{stall.train} stands on {section_named(stall.section)}: {stall.kind}"
    return scene.text(title, ". ".join(note_of(guilty.stall, alone).lines))


def _around(case: Case, sheet: Sheet, moment: Moment, guilty: Guilty) -> Box:
    """The train's module, and the piece that is at fault."""
    layout = case.layout
    number = next(k for k, r in enumerate(layout.routes) if r.id == guilty.stall.route)
    here = layout.pieces[layout.routes[number].piece].module
    pieces = {k for k, p in enumerate(layout.pieces) if p.module == here}
    for k, placed in enumerate(layout.pieces):
        if placed.id == guilty.stall.charged_to:
            pieces.add(k)
    part = part_of(sheet, sorted(pieces))
    gauge = sheet.gauge_mm
    return part[0], part[1] - 3 * gauge, part[2], part[3] + 3 * gauge


def draw_all(scene: SvgScene, sheet: Sheet, moment: Moment) -> None:
    """The track of a moment, without trains."""
    draw_board(scene, sheet)
    for piece in sheet.pieces:
        draw_piece(scene, piece, moment, Detail())
    draw_wires(scene, sheet, moment)


def places_svg(case: Case, sheet: Sheet, places: Sequence[Place], runs: int) -> str:
    """The whole track, with a disc for stalls at each place, its area by their number."""
    west, south, east, north = sheet.ground.bounds
    gauge = sheet.gauge_mm
    part = (west - 3 * gauge, south - 4 * gauge, east + 3 * gauge, north + 4 * gauge)
    scene = scene_for(part)
    draw_all(scene, sheet, moment_of(case, {}))
    route_at = {r.id: k for k, r in enumerate(case.layout.routes)}
    most = max((p.count for p in places), default=1)
    for place in sorted(places, key=lambda p: -p.count):
        pose = sheet.ground.on_route(route_at[place.route], place.place_mm)
        at = (pose.x_mm, pose.y_mm)
        size = 6.0 + 13.0 * sqrt(place.count / most)
        about = About("stalls", place.section, f"{place.count} stalls")
        scene.disc(at, 0.0, size, Style("alarm fill"), about)
        scene.disc(
            at, 0.0, size, Style("alarm", "solid", 0.0, 1.5), About("edge"), filled=False
        )
        lettering = Lettering("ink", 0.0, 11.0, 0.0, "middle", "", True)
        scene.words(at, str(place.count), lettering, About("number"))
    told = "; ".join(f"{p.count} on {p.section}" for p in places) or "none"
    return scene.text(f"Where trains stalled in {runs} runs as built", told)


def settings_svgs(content: Content) -> tuple[list[tuple[str, str, str]], int]:
    """(heading, verdict, SVG) of each dead or shorted setting as built, and how many more."""
    case = content.cases[0]
    sheet = sheet_of(case.layout)
    found = [c for c in chart_cells(case) if verdict_of(c.moment) != "all set routes live"]
    made = []
    for cell in found[:SETTINGS_AT_MOST]:
        wide = WIDE // max(1, len(cell.views))
        svgs = []
        for pieces in cell.views:
            part = part_of(sheet, pieces)
            scene = scene_for(part, max(320, wide))
            draw_all(scene, sheet.within(part), cell.moment)
            svgs.append(scene.text(f"{cell.words}: {verdict_of(cell.moment)}",
                                   describe(cell.moment)))  # fmt: skip
        made.append((cell.words, verdict_of(cell.moment), "".join(svgs)))
    return made, max(0, len(found) - SETTINGS_AT_MOST)
