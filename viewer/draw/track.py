"""Draw the track of one moment: the boards, and each piece with all that is on it."""

from __future__ import annotations

from dataclasses import dataclass

from viewer.draw.rails import draw_names, draw_rails, draw_stretch
from viewer.draw.sheet import PieceSheet, Sheet
from viewer.draw.signs import (
    draw_bonds,
    draw_contact,
    draw_frog,
    draw_gap,
    draw_lever,
    draw_pads,
)
from viewer.scene.scene import About, Lettering, Scene, Style
from viewer.state.moment import Moment

BED_SHARE = 1.9


@dataclass(frozen=True, slots=True)
class Detail:
    """What is drawn besides the rails."""

    pads: bool = False
    names: bool = True


def draw_board(scene: Scene, sheet: Sheet) -> None:
    """The outline and name of every module."""
    gauge = sheet.gauge_mm
    for number, box in sheet.boards:
        module = sheet.layout.modules[number]
        corners = ((box[0], box[1]), (box[2], box[1]), (box[2], box[3]), (box[0], box[3]))
        about = About("board", module.name)
        scene.area(corners, Style("board"), about)
        scene.line((*corners, corners[0]), Style("edge", "dots", 0.0, 1.0), About("edge"))
        name = module.name + (" (turned)" if module.turned else "")
        place = ((box[0] + box[2]) / 2.0, box[1] - gauge * 0.9)
        scene.words(place, name, Lettering("quiet", gauge, 10.0, 6.0, "middle"), about)


def draw_piece(scene: Scene, piece: PieceSheet, moment: Moment, detail: Detail) -> None:
    """One piece with everything on it."""
    gauge = piece.gauge_mm
    for line in piece.beds:
        scene.line(line, Style("bed", "solid", gauge * BED_SHARE, 3.0), About("bed"))
    for stretch in piece.stretches:
        draw_stretch(scene, stretch, gauge, moment)
    draw_rails(scene, piece, moment)
    for name, at in piece.frogs:
        draw_frog(scene, name, at, gauge)
    for gap in piece.gaps:
        draw_gap(scene, gap, gauge)
    if scene.shows(gauge * 0.15):
        draw_bonds(scene, piece)
        for contact in piece.contacts:
            draw_contact(scene, contact, gauge, moment.contact(contact.number))
    for lever in piece.levers:
        draw_lever(scene, piece, lever, moment)
    if detail.pads and scene.shows(gauge * 0.25):
        draw_pads(scene, piece)
    if detail.names:
        draw_names(scene, piece, moment)
