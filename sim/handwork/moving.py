"""Parts of a piece that move, and whether a wire would get in their way."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from sim.handwork.pads import Place
from sim.pieces.defaults import start_pose
from sim.pieces.geometry import walk
from sim.pieces.model import Piece

#: The tie bar at the blade tips reaches so far along the track, each way, mm, and so
#: many gauges across from the centre line (our assumption: look at the piece).
TIE_BAR_MM = 4.0
TIE_BAR_GAUGES = 1.2


@dataclass(frozen=True, slots=True)
class TieBar:
    """A tie bar: the lever that moves it, and a box around where it moves."""

    lever: str
    x_mm: float
    y_mm: float
    along_mm: float
    across_mm: float


def tie_bars(piece: Piece) -> Iterator[TieBar]:
    """One for each lever that moves blades, at the tips as the first route has them."""
    seen: set[str] = set()
    for route in piece.routes:
        for points in route.points:
            if points.lever in seen:
                continue
            seen.add(points.lever)
            pose = walk(route.course, start_pose(route, piece.ends), points.tip_mm)
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
    return [bar.lever for bar in tie_bars(piece) if _crosses(bar, a, b)]


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
