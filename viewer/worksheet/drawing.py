"""A piece with its numbered places, as the builder sees it: from the top or turned over.

Turned over about its long side, the piece shows its underside: west stays on the left,
north and south change places.  Everything is mirrored but the words.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import cos, hypot, radians, sin

from sim.pieces.model import Face, Piece
from sim.worksheet.model import Spot, WireRow
from viewer.look import LIGHT, Look, plastic_style
from viewer.place.shape import Shape, shape_of
from viewer.scene.camera import fitted
from viewer.scene.scene import About, Anchor, Lettering, Line, Point, Scene, Style
from viewer.scene.svg import SvgScene

#: How far words stand off the track, in gauges.
MARGIN_GAUGES = 2.6
RAIL_SHARE = 0.12


@dataclass(frozen=True, slots=True)
class Side:
    """From which side the piece is seen."""

    face: Face

    def at(self, place: Point) -> Point:
        """A place of the piece as it is seen."""
        return place if self.face == "top" else (place[0], -place[1])

    def line(self, line: Line) -> Line:
        """A line as it is seen."""
        return tuple(self.at(p) for p in line)


def draw_side(
    scene: Scene, piece: Piece, spots: Sequence[Spot], wires: Sequence[WireRow], face: Face
) -> None:
    """The piece, its places and its wires from one side."""
    side, shape, gauge = Side(face), shape_of(piece), piece.gauge_mm
    for _, line in shape.beds:
        style = Style("bed", "solid", gauge * 1.9, 3.0)
        scene.line(side.line(line), style, About("bed"))
    for rail in shape.rails:
        if rail.section is None:
            scene.line(
                side.line(rail.line), plastic_style(gauge * RAIL_SHARE), About("plastic")
            )
        else:
            about = About("rail", rail.section, face)
            style = Style("edge", "solid", gauge * RAIL_SHARE, 1.5)
            scene.line(side.line(rail.line), style, about)
    _draw_gaps(scene, shape, side, gauge)
    _draw_wires(scene, spots, wires, side, gauge)
    for spot in spots:
        _draw_spot(scene, spot, side, gauge)
    _draw_compass(scene, shape, side, gauge)


def _draw_gaps(scene: Scene, shape: Shape, side: Side, gauge: float) -> None:
    for gap in shape.gaps:
        turn = radians(gap.heading_deg + 90.0)
        half = gauge * 0.28
        x, y = gap.at
        stroke = (
            (x - half * cos(turn), y - half * sin(turn)),
            (x + half * cos(turn), y + half * sin(turn)),
        )
        scene.line(
            side.line(stroke), Style("ink", "solid", gauge * 0.07, 1.5), About("gap", gap.name)
        )


def _draw_wires(
    scene: Scene, spots: Sequence[Spot], wires: Sequence[WireRow], side: Side, gauge: float
) -> None:
    """Wires between two places of this piece, in a bow so that rails stay to be seen."""
    at = {s.number: (s.x_mm, s.y_mm) for s in spots}
    count = 0
    for wire in wires:
        if wire.start not in at or wire.to not in at:
            continue
        line = side.line(_bow(at[wire.start], at[wire.to], gauge * (0.9 + 0.5 * (count % 3))))
        about = About("wire", wire.name)
        scene.line(line, Style("new wire", "dashes", gauge * 0.12, 2.0), about)
        lettering = Lettering("ink", gauge * 0.6, 11.0, 0.0, "middle", "ground")
        # Names of neighbouring wires are set at different places along them.
        scene.words(line[(8, 4, 12)[count % 3]], wire.name, lettering, about)
        count += 1


def _bow(one: Point, other: Point, high: float) -> Line:
    (ax, ay), (bx, by) = one, other
    long = hypot(bx - ax, by - ay) or 1.0
    high = min(high, long * 0.3)
    cx = (ax + bx) / 2.0 - (by - ay) / long * high * 2.0
    cy = (ay + by) / 2.0 + (bx - ax) / long * high * 2.0
    return tuple(
        (
            (1 - t) ** 2 * ax + 2 * (1 - t) * t * cx + t * t * bx,
            (1 - t) ** 2 * ay + 2 * (1 - t) * t * cy + t * t * by,
        )
        for t in (k / 16.0 for k in range(17))
    )


def _draw_spot(scene: Scene, spot: Spot, side: Side, gauge: float) -> None:
    """A numbered disc beside its place: full for soldering on this side, else a ring."""
    here = side.at((spot.x_mm, spot.y_mm))
    on_this_side = spot.face == side.face
    state = "refused" if spot.refused else "solder" if spot.solder else "test"
    about = About("place", f"{spot.number}", f"{state} {side.face}")
    dot = Style("hand" if spot.solder else "ink")
    scene.disc(here, gauge * 0.2, 2.5, dot, about, filled=on_this_side and spot.solder)
    thin = Style(dot.role, "solid", gauge * 0.06, 1.2)
    if not (on_this_side and spot.solder):
        scene.disc(here, gauge * 0.2, 2.5, thin, About("mark"), filled=False)
    if spot.refused:
        r = gauge * 0.4
        x, y = here
        for s in (-1.0, 1.0):
            cross = ((x - r, y - s * r), (x + r, y + s * r))
            scene.line(cross, Style("alarm", "solid", gauge * 0.1, 2.0), About("cross"))
    lettering = Lettering("ink", gauge * 0.75, 12.0, 0.0, _anchor(spot), "ground", True)
    scene.words(_label(spot, here, gauge), str(spot.number), lettering, About("number"))


def _anchor(spot: Spot) -> Anchor:
    return "middle" if spot.solder or spot.face == "underside" else "end"


def _label(spot: Spot, here: Point, gauge: float) -> Point:
    """The number stands above its place; at the ends of rails beside it."""
    if _anchor(spot) == "middle":
        return here[0], here[1] + gauge * 0.85
    return here[0] - gauge * 0.35, here[1]


def _draw_compass(scene: Scene, shape: Shape, side: Side, gauge: float) -> None:
    west, south, east, north = shape.bounds
    middle_x = (west + east) / 2.0
    quiet = Lettering("quiet", gauge * 0.7, 11.0, 0.0, "middle")
    for word, place in (
        ("NORTH EDGE", (middle_x, north + gauge * 1.8)),
        ("SOUTH EDGE", (middle_x, south - gauge * 1.8)),
    ):
        scene.words(side.at(place), word, quiet, About("edge", word, side.face))
    middle_y = (south + north) / 2.0
    for word, x in (("WEST", west - gauge * 1.9), ("EAST", east + gauge * 1.9)):
        scene.words(side.at((x, middle_y)), word, quiet, About("edge", word, side.face))


def side_svg(
    piece: Piece, spots: Sequence[Spot], wires: Sequence[WireRow], face: Face,
    name: str = "", wide: int = 960, look: Look = LIGHT,
) -> str:  # fmt: skip
    """The drawing of one side as SVG."""
    west, south, east, north = shape_of(piece).bounds
    if face == "underside":
        south, north = -north, -south
    margin = MARGIN_GAUGES * piece.gauge_mm
    box = west - margin * 1.3, south - margin, east + margin * 1.3, north + margin
    high = max(150, round(wide * (box[3] - box[1]) / (box[2] - box[0])))
    high = min(high, wide)
    scene = SvgScene(fitted(box, 0, 0, wide, high, 4.0), look)
    draw_side(scene, piece, spots, wires, face)
    seen = "from the top" if face == "top" else "from underneath, turned over its long side"
    told = ", ".join(f"place {s.number} {s.words}" for s in spots)
    return scene.text(f"{name or piece.kind} seen {seen}", told)
