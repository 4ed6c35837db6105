"""Break lines up by pattern: shared by every scene that has no pattern of its own."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import pairwise
from math import hypot

from viewer.scene.scene import Line, Pattern, Point

Box = tuple[float, float, float, float]

#: Pattern: lengths drawn and left out, in widths of the line.
RHYTHM: dict[Pattern, tuple[float, ...]] = {
    "long dashes": (6.0, 2.2),
    "dashes": (2.5, 2.0),
    "dots": (1.0, 2.2),
    "chain": (6.0, 2.0, 1.0, 2.0),
}
#: Bars cross a line this often and are this long, in widths.
BAR_EVERY = 16.0
BAR_LONG = 3.2
BAR_SPACE = 1.6
ZIGZAG_LONG = 3.0
ZIGZAG_HIGH = 1.3


def dashes(
    line: Line, rhythm: tuple[float, ...], width: float, seen: Box
) -> Iterator[tuple[Point, Point]]:
    """The strokes that are drawn of a line, only those that come into ``seen``.

    The rhythm counts from the line's start, so it does not move when less is seen.
    """
    parts, period = [], 0.0
    for number, step in enumerate(rhythm):
        if number % 2 == 0:
            parts.append((period, period + step * width))
        period += step * width
    done = 0.0
    for (ax, ay), (bx, by) in pairwise(line):
        dx, dy = bx - ax, by - ay
        length = hypot(dx, dy)
        if length == 0.0:
            continue
        share = clipped(ax, ay, dx, dy, seen)
        if share is not None:
            ux, uy = dx / length, dy / length
            low, high = share[0] * length, share[1] * length
            first, last = int((done + low) // period), int((done + high) // period)
            for k in range(first, last + 1):
                base = k * period - done
                for begin, end in parts:
                    a, b = base + begin, base + end
                    if a < low:
                        a = low
                    if b > high:
                        b = high
                    if b > a:
                        yield (ax + ux * a, ay + uy * a), (ax + ux * b, ay + uy * b)
        done += length


def clipped(
    ax: float, ay: float, dx: float, dy: float, seen: Box
) -> tuple[float, float] | None:
    """The shares of a stroke at which it enters and leaves a box; None if it misses it."""
    low, high = 0.0, 1.0
    for at, step, least, most in ((ax, dx, seen[0], seen[2]), (ay, dy, seen[1], seen[3])):
        if step == 0.0:
            if not least <= at <= most:
                return None
            continue
        one, other = (least - at) / step, (most - at) / step
        if one > other:
            one, other = other, one
        low, high = max(low, one), min(high, other)
        if low >= high:
            return None
    return low, high


def places_along(line: Line, every: float) -> Iterator[tuple[Point, Point]]:
    """(place, unit direction) at equal distances along a line, the first half way in."""
    left = every / 2.0
    for (ax, ay), (bx, by) in pairwise(line):
        length = hypot(bx - ax, by - ay)
        if length == 0.0:
            continue
        ux, uy = (bx - ax) / length, (by - ay) / length
        at = left
        while at <= length:
            yield (ax + ux * at, ay + uy * at), (ux, uy)
            at += every
        left = at - length


def bars(line: Line, width: float, count: int) -> Iterator[tuple[Point, Point]]:
    """Short strokes across a line, ``count`` together every so often."""
    half = BAR_LONG * width / 2.0
    for (x, y), (ux, uy) in places_along(line, (BAR_EVERY + BAR_SPACE * count) * width):
        for k in range(count):
            shift = (k - (count - 1) / 2.0) * BAR_SPACE * width
            px, py = x + ux * shift, y + uy * shift
            yield (px - uy * half, py + ux * half), (px + uy * half, py - ux * half)


def zigzag(line: Line, width: float) -> list[Point]:
    """A line that swings from side to side of ``line``."""
    made, side = [line[0]], 1.0
    for (x, y), (ux, uy) in places_along(line, ZIGZAG_LONG * width):
        made.append((x - uy * side * ZIGZAG_HIGH * width, y + ux * side * ZIGZAG_HIGH * width))
        side = -side
    made.append(line[-1])
    return made
