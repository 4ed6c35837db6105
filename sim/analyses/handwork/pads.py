"""Where something can be soldered, and the moving parts that a wire must not meet.

Where something can be soldered, and how far apart such places are.

Everything comes from the pieces' own data: pads that moving contacts slide
over are refused, as are pads too small for the wire or with too little room
under a cover.

Parts of a piece that move, and whether a wire would get in their way.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from math import cos, hypot, pi, radians, sin, sqrt

from sim.analyses.handwork.hazards import Refusal
from sim.layout.model import NOWHERE, Layout
from sim.layout.sources import awg_diameter_mm
from sim.pieces.described import start_pose
from sim.pieces.geometry import walk
from sim.pieces.model import Pad, Piece
from sim.scenario.defaults import JUMPER_WIRE
from sim.scenario.fields import wire_size

#: Insulation of hook-up wire, each side, mm (common practice, no source).
INSULATION_MM = 0.25
#: Height of a sound joint on a pad, mm (common practice, no source).
JOINT_MM = 1.0
#: Slack for both ends of a wire together, mm (common practice, no source).
SLACK_MM = 20.0
#: Way down through board and track and up again, mm (our assumption).
THROUGH_BOARD_MM = 60.0


@dataclass(frozen=True, slots=True)
class Place:
    """A pad of a placed piece: ``x_mm`` and ``y_mm`` lie in its module's frame.

    ``frame`` tells which of the module's joined runs of pieces that frame is of:
    between two frames no distance is known.
    """

    ref: str
    node: int
    piece: int
    pad: Pad
    x_mm: float
    y_mm: float
    frame: int


@dataclass(frozen=True, slots=True)
class Pose:
    """Where a piece lies: its origin and how far it is turned."""

    x_mm: float
    y_mm: float
    turn_deg: float
    frame: int

    def at(self, x_mm: float, y_mm: float) -> tuple[float, float]:
        """A point of the piece's own drawing, in the module's frame."""
        c, s = cos(radians(self.turn_deg)), sin(radians(self.turn_deg))
        x = self.x_mm + c * x_mm - s * y_mm
        y = self.y_mm + s * x_mm + c * y_mm
        return round(x, 3), round(y, 3)


def bare_mm(wire: str) -> float:
    """Diameter of a wire's copper, mm."""
    system, size = wire_size(wire)
    return awg_diameter_mm(size) if system == "awg" else 2.0 * sqrt(size / pi)


def height_mm(wire: str) -> float:
    """What a soldered wire needs above its pad: the insulated wire, or the joint."""
    return round(max(bare_mm(wire) + 2.0 * INSULATION_MM, JOINT_MM), 3)


def places(layout: Layout) -> Iterator[Place]:
    """Every pad of every piece, in order of pieces."""
    nodes = dict(layout.pads)
    poses = poses_of(layout)
    for number, placed in enumerate(layout.pieces):
        for pad in placed.piece.pads:
            ref = f"{placed.id}/{pad.name}"
            x, y = poses[number].at(pad.x_mm, pad.y_mm)
            frame = poses[number].frame
            yield Place(ref, nodes[ref], number, pad, x, y, frame)


def refusal(layout: Layout, place: Place, wire: str = JUMPER_WIRE) -> Refusal | None:
    """Why nothing may be soldered to a pad, or None where it may."""
    pad = place.pad
    if pad.slides:
        return Refusal("contact slides", place.ref)
    if bare_mm(wire) > pad.size_mm:
        return Refusal("too small", place.ref, wire, numbers=(pad.size_mm,))
    if is_covered(layout, place):
        cover = layout.pieces[place.piece].piece.cover
        spare = spare_mm(layout, place, wire)
        if spare is not None and spare < 0:
            room = height_mm(wire), pad.clearance_mm
            return Refusal("no room", place.ref, wire, cover, room)
    return None


def is_covered(layout: Layout, place: Place) -> bool:
    """Whether a pad lies under a cover."""
    piece = layout.pieces[place.piece].piece
    return piece.cover != "none" and place.pad.face == "underside"


def spare_mm(layout: Layout, place: Place, wire: str = JUMPER_WIRE) -> float | None:
    """Room that is left between a soldered wire and the cover; None without a cover."""
    if not is_covered(layout, place):
        return None
    return round(place.pad.clearance_mm - height_mm(wire), 3)


def apart_mm(one: Place, other: Place) -> float | None:
    """Straight distance between two pads; None where it is not known."""
    if one.frame != other.frame:
        return None
    across = (one.x_mm - other.x_mm) ** 2 + (one.y_mm - other.y_mm) ** 2
    return round(sqrt(across), 3)


def cut_length_mm(straight_mm: float, detours: int, through_board: bool) -> float:
    """Length to cut a wire to, slack included, in whole centimetres upward."""
    length = straight_mm + SLACK_MM + 20.0 * detours
    length += THROUGH_BOARD_MM if through_board else 0.0
    return float(10 * -(-length // 10))


def poses_of(layout: Layout) -> list[Pose]:
    """Where each piece lies on its module, laid from joint to joint."""
    found: dict[int, Pose] = {}
    for first in range(len(layout.pieces)):
        if first in found:
            continue
        found[first] = Pose(0.0, 0.0, 0.0, first)
        todo = [first]
        while todo:
            here = todo.pop()
            for other, pose in _neighbours(layout, here, found[here]):
                if other not in found:
                    found[other] = pose
                    todo.append(other)
    return [found[number] for number in range(len(layout.pieces))]


def _neighbours(layout: Layout, here: int, pose: Pose) -> Iterator[tuple[int, Pose]]:
    """Pieces of the same module that are joined to ``here``, and how they lie."""
    placed = layout.pieces[here]
    for place, number in enumerate(placed.ends):
        mate = layout.ends[number].joined
        if mate == NOWHERE:
            continue
        there = layout.ends[mate].piece
        other = layout.pieces[there]
        if other.module != placed.module or there == here:
            continue
        end = placed.piece.ends[place]
        meets = other.piece.ends[other.ends.index(mate)]
        turn = end.heading_deg + pose.turn_deg + 180.0 - meets.heading_deg
        x, y = pose.at(end.x_mm, end.y_mm)
        back_x, back_y = Pose(0.0, 0.0, turn, 0).at(meets.x_mm, meets.y_mm)
        yield there, Pose(x - back_x, y - back_y, turn % 360.0, pose.frame)


#: The tie bar at the blade tips reaches so far along the track, each way, mm, and so
#: many gauges across from the centre line (our assumption: look at the piece).
TIE_BAR_MM = 4.0
TIE_BAR_GAUGES = 1.2
#: Tips nearer to each other than this are those of one track.
SAME_TIP_MM = 1.0


@dataclass(frozen=True, slots=True)
class TieBar:
    """A tie bar: the lever that moves it, and a box around where it moves."""

    lever: str
    x_mm: float
    y_mm: float
    along_mm: float
    across_mm: float


def tie_bars(piece: Piece) -> Iterator[TieBar]:
    """One for each track whose blades a lever moves, at the tips its first route has."""
    seen: list[tuple[str, float, float]] = []
    for route in piece.routes:
        for points in route.points:
            pose = walk(route.course, start_pose(route, piece.ends), points.tip_mm)
            x, y = pose.x_mm, pose.y_mm
            if any(n == points.lever and hypot(x - a, y - b) < SAME_TIP_MM for n, a, b in seen):
                continue
            seen.append((points.lever, x, y))
            yield TieBar(
                points.lever,
                pose.x_mm,
                pose.y_mm,
                TIE_BAR_MM,
                TIE_BAR_GAUGES * piece.gauge_mm,
            )


def in_the_way(piece: Piece, one: Place, other: Place) -> list[str]:
    """Levers whose tie bar a straight wire between two pads of one piece would cross."""
    a = (one.pad.x_mm, one.pad.y_mm)
    b = (other.pad.x_mm, other.pad.y_mm)
    found = (bar.lever for bar in tie_bars(piece) if _crosses(bar, a, b))
    return list(dict.fromkeys(found))


def _crosses(bar: TieBar, a: tuple[float, float], b: tuple[float, float]) -> bool:
    """Whether the stretch from ``a`` to ``b`` meets the box (slab by slab)."""
    low, high = 0.0, 1.0
    box = ((bar.x_mm, bar.along_mm), (bar.y_mm, bar.across_mm))
    for place, (middle, half) in enumerate(box):
        start, way = a[place], b[place] - a[place]
        if abs(way) < 1e-9:
            if abs(start - middle) > half:
                return False
            continue
        ends = sorted(((middle - half - start) / way, (middle + half - start) / way))
        low, high = max(low, ends[0]), min(high, ends[1])
    return low <= high
