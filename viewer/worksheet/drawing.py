"""A piece with its numbered places, as the builder sees it: from the top or turned over.

Turned over about its long side, the piece shows its underside: west stays on the left,
north and south change places.  Everything is mirrored but the words.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import cos, hypot, radians, sin

from sim.bench.worksheet.model import Spot, WireRow
from sim.pieces.model import Face, Piece
from viewer.look import LIGHT, Look, plastic_style
from viewer.place.shape import Shape, shape_of
from viewer.scene.camera import fitted
from viewer.scene.scene import About, Lettering, Line, Point, Scene, Style
from viewer.scene.svg import SvgScene
from viewer.worksheet.labels import DOT_SHARE, NUMBER_SHARE, labels

#: How far words stand off the track, in gauges.
MARGIN_GAUGES = 2.6
RAIL_SHARE = 0.12
#: Least height of a number, pixels.
NUMBER_PX = 12.0


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
    scene: Scene, piece: Piece, spots: Sequence[Spot], wires: Sequence[WireRow], face: Face,
    least_mm: float = 0.0,
) -> None:  # fmt: skip
    """The piece, its places and its wires from one side; numbers are ``least_mm`` high."""
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
    named = _draw_wires(scene, spots, wires, side, gauge)
    for spot in spots:
        _draw_spot(scene, spot, side, gauge)
    compass = [(word, side.at(place)) for word, place in _compass(shape, gauge)]
    west, _, east, _ = shape.bounds
    words = [*compass, *named]
    _draw_numbers(scene, spots, side, gauge, least_mm, words, (west + east) / 2.0)
    quiet = Lettering("quiet", gauge * 0.7, 11.0, 0.0, "middle")
    for word, place in compass:
        scene.words(place, word, quiet, About("edge", word, face))


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
) -> list[tuple[str, Point]]:
    """Wires between two places of this piece, in a bow so that rails stay to be seen.

    Gives their names and where those stand.
    """
    named = []
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
        middle = line[(8, 4, 12)[count % 3]]
        scene.words(middle, wire.name, lettering, about)
        named.append((wire.name, middle))
        count += 1
    return named


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
    """A disc on its place: full for soldering on this side, else a ring."""
    here = side.at((spot.x_mm, spot.y_mm))
    on_this_side = spot.face == side.face
    state = "refused" if spot.refused else "solder" if spot.solder else "test"
    about = About("place", f"{spot.number}", f"{state} {side.face}")
    dot = Style("hand" if spot.solder else "ink")
    scene.disc(here, gauge * DOT_SHARE, 2.5, dot, about, filled=on_this_side and spot.solder)
    thin = Style(dot.role, "solid", gauge * 0.06, 1.2)
    if not (on_this_side and spot.solder):
        scene.disc(here, gauge * DOT_SHARE, 2.5, thin, About("mark"), filled=False)
    if spot.refused:
        r = gauge * 0.4
        x, y = here
        for s in (-1.0, 1.0):
            cross = ((x - r, y - s * r), (x + r, y + s * r))
            scene.line(cross, Style("alarm", "solid", gauge * 0.1, 2.0), About("cross"))


def _draw_numbers(
    scene: Scene, spots: Sequence[Spot], side: Side, gauge: float, least_mm: float,
    words: Sequence[tuple[str, Point]], middle_x: float,
) -> None:  # fmt: skip
    """A number beside each place, at the ends of rails outside them; led to where far."""
    places = [
        (side.at((s.x_mm, s.y_mm)), str(s.number), not s.solder and s.face == "top")
        for s in spots
    ]
    high = max(gauge * 0.7, least_mm)
    wide = high * 0.7
    taken = [
        (x - len(word) * wide / 2, y - high / 2, x + len(word) * wide / 2, y + high / 2)
        for word, (x, y) in words
    ]
    lettering = Lettering("ink", gauge * NUMBER_SHARE, NUMBER_PX, 0.0, "middle", "ground", True)
    found = labels(places, gauge, least_mm, middle_x, taken)
    for (here, number, _), label in zip(places, found, strict=True):
        if label.far:
            thin = Style("ink", "solid", gauge * 0.03, 0.8)
            scene.line((here, label.at), thin, About("lead", number))
    for (_, number, _), label in zip(places, found, strict=True):
        scene.words(label.at, number, lettering, About("number"))


def _compass(shape: Shape, gauge: float) -> list[tuple[str, Point]]:
    """Words for the edges, clear of the numbers at the ends of the rails."""
    west, south, east, north = shape.bounds
    middle_x = (west + east) / 2.0
    low = south - gauge * 1.8
    return [
        ("NORTH EDGE", (middle_x, north + gauge * 1.8)),
        ("SOUTH EDGE", (middle_x, low)),
        ("WEST", (west - gauge * 1.9, low)),
        ("EAST", (east + gauge * 1.9, low)),
    ]


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
    camera = fitted(box, 0, 0, wide, high, 4.0)
    scene = SvgScene(camera, look)
    draw_side(scene, piece, spots, wires, face, NUMBER_PX / camera.px_per_mm)
    seen = "from the top" if face == "top" else "from underneath, turned over its long side"
    told = ", ".join(f"place {s.number} {s.words}" for s in spots)
    return scene.text(f"{name or piece.kind} seen {seen}", told)
