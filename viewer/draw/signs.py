"""Draw the signs on a piece: gaps, frogs, bonds, contacts, levers and pads."""

from __future__ import annotations

from math import cos, radians, sin

from sim.faults.kinds import HOLDS, KINDS, kind_called
from viewer.draw.faults import MARKS, draw_mark
from viewer.draw.sheet import PieceSheet, Thing
from viewer.scene.scene import About, Lettering, Point, Scene, Style
from viewer.state.moment import Moment


def draw_gap(scene: Scene, gap: Thing, gauge: float) -> None:
    """Two strokes across the rail, the ground showing between them."""
    turn = radians(gap.heading_deg)
    ux, uy = cos(turn), sin(turn)
    half, apart = gauge * 0.24, gauge * 0.07
    x, y = gap.at
    about = About("gap", gap.id, "gap")
    scene.line(
        ((x - ux * apart, y - uy * apart), (x + ux * apart, y + uy * apart)),
        Style("bed", "solid", gauge * 0.2, 2.0),
        About("cut"),
    )
    for side in (-1.0, 1.0):
        px, py = x + ux * apart * side, y + uy * apart * side
        stroke = ((px - uy * half, py + ux * half), (px + uy * half, py - ux * half))
        scene.line(stroke, Style("ink", "solid", gauge * 0.05, 1.0), about)


def draw_frog(scene: Scene, name: str, at: Point, gauge: float) -> None:
    """A square on its corner round the place where two rails cross."""
    if scene.shows(gauge * 0.25):
        r, (x, y) = gauge * 0.26, at
        corners = ((x - r, y), (x, y + r), (x + r, y), (x, y - r), (x - r, y))
        scene.line(
            corners, Style("ink", "solid", gauge * 0.04, 1.0), About("frog", name, "frog")
        )


def draw_bonds(scene: Scene, piece: PieceSheet) -> None:
    """A dotted line along each bond that spans a distance."""
    for bond in piece.bonds:
        if bond.at != bond.far:
            about = About("bond", bond.id, "bond")
            style = Style("quiet", "dots", piece.gauge_mm * 0.05, 1.0)
            scene.line((bond.at, bond.far), style, about)


def contact_place(contact: Thing) -> Point:
    """Where a contact's sign is drawn, and can be touched."""
    return (contact.at[0] + contact.far[0]) / 2.0, (contact.at[1] + contact.far[1]) / 2.0


def draw_contact(scene: Scene, contact: Thing, gauge: float, word: str) -> None:
    """Closed a full disc, open a ring; the mark of its fault over it."""
    about = About("contact", contact.id, word)
    place = contact_place(contact)
    thin = Style("ink", "solid", gauge * 0.05, 1.0)
    if contact.at != contact.far and word != "open":
        scene.line((contact.at, contact.far), thin, About("link"))
    radius = gauge * 0.13
    fault = "contact open" if word == "stays open" else called(word)
    held = fault and KINDS[fault].effect in HOLDS
    if word == "closed" or held:
        scene.disc(place, radius, 2.5, Style("ink"), about)
    else:
        scene.disc(place, radius, 2.5, Style("ground"), About("hole"))
        scene.disc(place, radius, 2.5, thin, about, filled=False)
    if fault:
        draw_mark(scene, MARKS[fault], place, gauge)


def called(word: str) -> str:
    """The kind of fault of a contact that says ``word`` of itself, "" where it is none."""
    kind = kind_called(word, "contact") if word != "open" else None
    return "" if kind is None else kind.name


def draw_lever(scene: Scene, piece: PieceSheet, lever: Thing, moment: Moment) -> None:
    """A flag with the first letter of the position; three dots while it moves."""
    gauge = piece.gauge_mm
    word = moment.lever(lever.number)
    about = About("lever", lever.id, word)
    x, y = lever.at
    w, h = gauge * 0.5, gauge * 0.45
    box = ((x - w, y - h), (x + w, y - h), (x + w, y + h), (x - w, y + h))
    at_rest = moment.positions[lever.number] == moment.layout.levers[lever.number].rest
    scene.area(box, Style("key"), About("flag"))
    edge = Style("ink", "solid" if at_rest else "dashes", gauge * 0.05, 1.0)
    scene.line((*box, box[0]), edge, about)
    text = "..." if word == "moving" else word[:1].upper()
    scene.words(
        (x, y), text, Lettering("ink", gauge * 0.7, 0.0, 7.0, "middle", "", True), about
    )
    name = lever.id.rpartition("/")[2]
    off = (h + gauge * 0.35) * (1.0 if y >= (piece.box[1] + piece.box[3]) / 2.0 else -1.0)
    outside = (x, y + off)  # not on the rails
    scene.words(
        outside, name, Lettering("quiet", gauge * 0.45, 0.0, 8.0, "middle"), About("name")
    )


def draw_pads(scene: Scene, piece: PieceSheet) -> None:
    """A square on each pad, dotted where trains slide over it."""
    for pad in piece.pads:
        half = pad.size_mm * 0.3
        x, y = pad.at
        box = ((x - half, y - half), (x + half, y - half), (x + half, y + half),
               (x - half, y + half))  # fmt: skip
        about = About("pad", pad.id, "slid over" if pad.slides else "pad")
        scene.area(box, Style("ground"), About("hole"))
        style = Style("quiet", "dots" if pad.slides else "solid", 0.2, 1.0)
        scene.line((*box, box[0]), style, about)
