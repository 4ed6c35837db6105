"""Where every piece of a layout lies on the ground, mm of the model, north up.

Pieces are joined end to end along the shortest tree of joints.  Joints outside
the tree either close (a real ring) or are drawn as a break with a letter on both
sides: *goes on at A*.  A long thin layout is folded like a text, module by
module, because at a club evening it has to fit a screen.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from heapq import heappop, heappush
from math import cos, hypot, radians, sin

from sim.layout.model import Layout
from sim.pieces.geometry import Pose, walk
from sim.pieces.model import End, Piece
from viewer.place.lines import Line, Point, beside, start_pose
from viewer.place.shape import Shape, shape_of

#: Two ends further apart than this are shown as a break.
CLOSED_MM = 1.0
#: A drawing more than this many times as wide as high is folded.
LONGEST_SHAPE = 4.0
#: The shape that a folded drawing aims at: width over height.
WANTED_SHAPE = 2.4
#: The same where two views share a window, one above the other.
SHARED_SHAPE = 5.2
LETTERS = "ABCDEFGHIJKLMNOPQRSTUVWXYZ"


@dataclass(frozen=True, slots=True)
class Frame:
    """Where a piece's own drawing lies: moved by (x, y) after a turn of ``turn_deg``."""

    x_mm: float
    y_mm: float
    turn_deg: float

    def point(self, place: Point) -> Point:
        """A place of the piece on the ground."""
        c, s = cos(radians(self.turn_deg)), sin(radians(self.turn_deg))
        return (
            self.x_mm + c * place[0] - s * place[1],
            self.y_mm + s * place[0] + c * place[1],
        )

    def line(self, line: Iterable[Point]) -> Line:
        """A line of the piece on the ground."""
        c, s = cos(radians(self.turn_deg)), sin(radians(self.turn_deg))
        return tuple((self.x_mm + c * x - s * y, self.y_mm + s * x + c * y) for x, y in line)

    def pose(self, pose: Pose) -> Pose:
        """A pose of the piece on the ground."""
        x, y = self.point((pose.x_mm, pose.y_mm))
        return Pose(x, y, pose.heading_deg + self.turn_deg)

    def moved(self, dx: float, dy: float) -> Frame:
        """The same, shifted."""
        return Frame(self.x_mm + dx, self.y_mm + dy, self.turn_deg)


@dataclass(frozen=True, slots=True)
class Break:
    """A joint whose ends do not meet in the drawing. Both show ``letter``."""

    letter: str
    one: Pose  #: outward
    other: Pose
    says_one: str  #: end ids that the train goes on to
    says_other: str


Box = tuple[float, float, float, float]  #: west, south, east, north


@dataclass(frozen=True, slots=True)
class Ground:
    """A layout laid out. ``boxes`` are the modules' outlines; ``bounds`` everything."""

    layout: Layout
    frames: tuple[Frame, ...]
    shapes: tuple[Shape, ...]
    breaks: tuple[Break, ...]
    boxes: tuple[Box, ...]
    bounds: Box

    def on_route(self, route: int, place_mm: float) -> Pose:
        """The pose of a train's front at a place of a route, going to its finish."""
        r = self.layout.routes[route]
        piece = self.layout.pieces[r.piece].piece
        local = piece.routes[self.layout.pieces[r.piece].routes.index(route)]
        pose = walk(local.course, start_pose(piece, local), max(0.0, place_mm))
        if place_mm < 0.0:
            pose = start_pose(piece, local)
        return self.frames[r.piece].pose(pose)

    def rail_at(self, route: int, place_mm: float, left: bool) -> Point:
        """The place on a rail beside a place of a route."""
        r = self.layout.routes[route]
        half = self.layout.pieces[r.piece].piece.gauge_mm / 2.0
        return beside(self.on_route(route, place_mm), half if left else -half)


def lay_out(layout: Layout, shape: float = WANTED_SHAPE) -> Ground:
    """Lay ``layout`` out on the ground, to fit a window ``shape`` times as wide as high."""
    frames = _joined_frames(layout)
    shapes = tuple(shape_of(p.piece) for p in layout.pieces)
    frames = _folded(layout, frames, shapes, shape)
    boxes = tuple(_module_box(layout, m, frames, shapes) for m in range(len(layout.modules)))
    bounds = _hull(boxes) if boxes else (0.0, 0.0, 1.0, 1.0)
    return Ground(layout, tuple(frames), shapes, _breaks(layout, frames), boxes, bounds)


def _end(layout: Layout, number: int) -> End:
    placed = layout.pieces[layout.ends[number].piece]
    return placed.piece.ends[placed.ends.index(number)]


def _outward(end: End) -> Pose:
    return Pose(end.x_mm, end.y_mm, end.heading_deg)


def _module_of(layout: Layout) -> list[int]:
    owner = [0] * len(layout.pieces)
    for number, module in enumerate(layout.modules):
        for piece in module.pieces:
            owner[piece] = number
    return owner


def _joined_frames(layout: Layout) -> list[Frame]:
    """Every piece placed by the joint that reaches it first, near modules first."""
    module, frames = _module_of(layout), dict[int, Frame]()
    south = 0.0
    for seed in range(len(layout.pieces)):
        if seed in frames:
            continue
        first = Frame(0.0, 0.0, 180.0 if layout.modules[module[seed]].turned else 0.0)
        placed = _reached(layout, module, seed, first)
        if frames:  # another stretch of track that nothing joins to the first
            low, high = _heights(layout, placed)
            drop = south - high - 3.0 * layout.pieces[seed].piece.gauge_mm
            placed = {k: f.moved(0.0, drop) for k, f in placed.items()}
            low += drop
        else:
            low, _ = _heights(layout, placed)
        frames |= placed
        south = min(south, low)
    return [frames[k] for k in range(len(layout.pieces))]


def _heights(layout: Layout, placed: dict[int, Frame]) -> tuple[float, float]:
    ys = [
        y
        for k, f in placed.items()
        for _, y in f.line(_corners(shape_of(layout.pieces[k].piece).bounds))
    ]
    return min(ys), max(ys)


def _corners(box: Box) -> Line:
    return ((box[0], box[1]), (box[2], box[1]), (box[2], box[3]), (box[0], box[3]))


def _reached(layout: Layout, module: list[int], seed: int, first: Frame) -> dict[int, Frame]:
    """Frames of all pieces that joints reach from ``seed`` (a shortest-joint tree)."""
    frames = {seed: first}
    waiting: list[tuple[int, int, int, int]] = []

    def offer(piece: int) -> None:
        for end in layout.pieces[piece].ends:
            mate = layout.ends[end].joined
            if mate >= 0 and layout.ends[mate].piece not in frames:
                far = abs(module[layout.ends[mate].piece] - module[piece])
                heappush(waiting, (far, module[layout.ends[mate].piece], end, mate))

    offer(seed)
    while waiting:
        _, _, end, mate = heappop(waiting)
        piece = layout.ends[mate].piece
        if piece in frames:
            continue
        frames[piece] = _meeting(layout, frames[layout.ends[end].piece], end, mate)
        offer(piece)
    return frames


def _meeting(layout: Layout, frame: Frame, end: int, mate: int) -> Frame:
    """The frame in which ``mate`` lies against ``end``."""
    here = frame.pose(_outward(_end(layout, end)))
    there = _outward(_end(layout, mate))
    turn = here.heading_deg + 180.0 - there.heading_deg
    x, y = Frame(0.0, 0.0, turn).point((there.x_mm, there.y_mm))
    return Frame(here.x_mm - x, here.y_mm - y, turn)


def _hull(boxes: Sequence[Box]) -> Box:
    return (
        min(b[0] for b in boxes),
        min(b[1] for b in boxes),
        max(b[2] for b in boxes),
        max(b[3] for b in boxes),
    )


def _module_box(
    layout: Layout, module: int, frames: Sequence[Frame], shapes: Sequence[Shape]
) -> Box:
    points = [
        p
        for k in layout.modules[module].pieces
        for p in frames[k].line(_corners(shapes[k].bounds))
    ]
    margin = layout.pieces[layout.modules[module].pieces[0]].piece.gauge_mm if points else 0.0
    points = points or [(0.0, 0.0)]
    xs, ys = [p[0] for p in points], [p[1] for p in points]
    return min(xs), min(ys) - margin, max(xs), max(ys) + margin


def _folded(
    layout: Layout, frames: list[Frame], shapes: Sequence[Shape], shape: float
) -> list[Frame]:
    """Rows of modules under each other where the drawing would be long and thin."""
    boxes = [_module_box(layout, m, frames, shapes) for m in range(len(layout.modules))]
    if len(boxes) < 2:
        return frames
    whole = _hull(boxes)
    wide, high = whole[2] - whole[0], whole[3] - whole[1]
    if wide <= max(LONGEST_SHAPE, shape) * high:
        return frames
    order = sorted(range(len(boxes)), key=lambda m: (boxes[m][0], m))
    best = max(
        (_rows(order, boxes, wide / n) for n in range(1, len(boxes) + 1)),
        key=lambda rows: _fit(rows, boxes, shape),
    )
    return _moved(layout, frames, boxes, best)


def _rows(order: Sequence[int], boxes: Sequence[Box], width: float) -> list[list[int]]:
    """Modules row by row, each row about ``width`` long."""
    rows: list[list[int]] = []
    for m in order:
        if rows and boxes[m][2] - boxes[rows[-1][0]][0] <= width * 1.02:
            rows[-1].append(m)
        elif rows and boxes[m][0] < max(boxes[k][2] for k in rows[-1]) - CLOSED_MM:
            rows[-1].append(m)  # it lies beside, not behind: never torn apart
        else:
            rows.append([m])
    return rows


def _fit(rows: list[list[int]], boxes: Sequence[Box], shape: float) -> float:
    """The scale at which the rows fit the wanted shape; larger is better."""
    hulls = [_hull([boxes[m] for m in row]) for row in rows]
    wide = max(h[2] - h[0] for h in hulls)
    high = sum(h[3] - h[1] for h in hulls) + _space(hulls) * (len(rows) - 1)
    return min(shape / wide, 1.0 / high)


def _space(hulls: Sequence[Box]) -> float:
    return 1.2 * max(h[3] - h[1] for h in hulls)


def _moved(
    layout: Layout, frames: list[Frame], boxes: Sequence[Box], rows: list[list[int]]
) -> list[Frame]:
    hulls = [_hull([boxes[m] for m in row]) for row in rows]
    space, made, top = _space(hulls), list(frames), 0.0
    for row, hull in zip(rows, hulls, strict=True):
        for m in row:
            for piece in layout.modules[m].pieces:
                made[piece] = frames[piece].moved(-hull[0], top - hull[3])
        top -= hull[3] - hull[1] + space
    return made


def _breaks(layout: Layout, frames: Sequence[Frame]) -> tuple[Break, ...]:
    found: list[Break] = []
    for number, end in enumerate(layout.ends):
        if end.joined <= number:
            continue
        mate = layout.ends[end.joined]
        one = frames[end.piece].pose(_outward(_end(layout, number)))
        other = frames[mate.piece].pose(_outward(_end(layout, end.joined)))
        if hypot(one.x_mm - other.x_mm, one.y_mm - other.y_mm) > CLOSED_MM:
            found.append(Break(letter(len(found)), one, other, mate.id, end.id))
    return tuple(found)


def letter(number: int) -> str:
    """A, B, … Z, A2, B2, …"""
    again, place = divmod(number, len(LETTERS))
    return LETTERS[place] + (str(again + 1) if again else "")


__all__ = ["Break", "Frame", "Ground", "Piece", "lay_out"]
