"""Where the numbers of places stand, so that none covers another place or number.

A number that lay on the neighbouring rail would send the iron to the wrong one.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from math import hypot

from viewer.scene.camera import Box
from viewer.scene.scene import Point
from viewer.scene.svg import CHARACTER

#: Height of a number and radius of a place's dot, in gauges.
NUMBER_SHARE, DOT_SHARE = 0.75, 0.2
#: Clear between a dot and its number, in gauges.
CLEAR_SHARE = 0.1
#: How many heights away from its place a number is set at most, nearest first.
RINGS = 4


@dataclass(frozen=True, slots=True)
class Label:
    """The middle of a number; ``far`` where a line has to lead to its place."""

    at: Point
    far: bool


def labels(
    places: Sequence[tuple[Point, str, bool]],
    gauge_mm: float, least_mm: float, middle_x: float,
    taken: Sequence[Box] = (),
) -> list[Label]:  # fmt: skip
    """One label for each (place, number, whether beside it rather than above), in order.

    Numbers are ``least_mm`` high at least; those east of ``middle_x`` stand to the east.
    ``taken`` is where other words stand.
    """
    dot = gauge_mm * DOT_SHARE
    discs = [(x - dot, y - dot, x + dot, y + dot) for (x, y), _, _ in places]
    boxes = list(taken)
    found = []
    for own, (here, number, beside) in enumerate(places):
        high = max(gauge_mm * NUMBER_SHARE, least_mm)
        size = (len(number) * CHARACTER + 0.4) * high, 1.1 * high
        others = discs[:own] + discs[own + 1 :]
        outward = -1.0 if here[0] < middle_x else 1.0
        tries = list(_tries(here, size, dot + gauge_mm * CLEAR_SHARE, beside, outward))
        best = min(
            range(len(tries)),
            key=lambda k: (_covered(tries[k][0], size, others),
                           _covered(tries[k][0], size, boxes), k),
        )  # fmt: skip
        at, far = tries[best]
        boxes.append(_box(at, size))
        found.append(Label(at, far))
    return found


def _tries(
    here: Point, size: tuple[float, float], off: float, beside: bool, outward: float
) -> Iterator[tuple[Point, bool]]:
    """Places for a number, the best first: above and below, or at the ends of rails beside."""
    wide, high = size
    above, side = off + high / 2.0, off + wide / 2.0
    ways = [(0.0, 1.0), (0.0, -1.0), (outward, 0.0), (-outward, 0.0)]
    if beside:
        ways = ways[2:] + ways[:2]
    ways += [(outward, 1.0), (outward, -1.0), (-outward, 1.0), (-outward, -1.0)]
    for ring in range(RINGS):
        for right, up in ways:
            x = here[0] + right * (side + ring * wide * 0.5)
            y = here[1] + up * (above + ring * high * 0.5)
            far = hypot(right * (x - here[0] - right * side), up * (y - here[1] - up * above))
            yield (x, y), far > 0.0


def _box(at: Point, size: tuple[float, float]) -> Box:
    wide, high = size
    return at[0] - wide / 2, at[1] - high / 2, at[0] + wide / 2, at[1] + high / 2


def _covered(at: Point, size: tuple[float, float], boxes: Sequence[Box]) -> int:
    """How many boxes a number there would lie on."""
    west, south, east, north = _box(at, size)
    return sum(b[0] < east and west < b[2] and b[1] < north and south < b[3] for b in boxes)
