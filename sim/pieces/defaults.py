"""Plausible geometry for what a description leaves out.

Tracing needs no drawing, so a builder may describe rails only.  Ends without a
place lie side by side at the west and at the east; pads without a place lie on
their rail, in the middle of the first span that runs over it.
"""

from __future__ import annotations

from collections.abc import Sequence

from sim.pieces.form import DescribedEnd, DescribedPad, DescribedPiece
from sim.pieces.geometry import Pose, beside, mm, walk
from sim.pieces.model import End, Pad, Route

#: tracks of a described piece lie so many gauges apart (33 mm at 9 mm gauge)
_CENTRES_PER_GAUGE = 33.0 / 9.0


def fill_ends(described: DescribedPiece, routes: Sequence[Route]) -> tuple[End, ...]:
    """Ends with their places: given ones rounded, the others filled."""
    far_mm = max(route.length_mm for route in routes)
    seen = {"west": 0, "east": 0}
    ends = []
    for end in described.ends:
        row = seen[end.outward]
        seen[end.outward] += 1
        ends.append(_fill_end(end, row * _CENTRES_PER_GAUGE * described.gauge_mm, far_mm))
    return tuple(ends)


def _fill_end(end: DescribedEnd, down_mm: float, far_mm: float) -> End:
    x_mm = (0.0 if end.outward == "west" else far_mm) if end.x_mm is None else end.x_mm
    y_mm = -down_mm if end.y_mm is None else end.y_mm
    heading = end.heading_deg
    if heading is None:
        heading = 180.0 if end.outward == "west" else 0.0
    return End(
        end.name,
        end.outward,
        end.north,
        end.south,
        mm(x_mm),
        mm(y_mm),
        round(heading, 6) + 0.0,
        end.joinable,
    )


def fill_pads(
    described: DescribedPiece, routes: Sequence[Route], ends: Sequence[End]
) -> tuple[Pad, ...]:
    """Pads with their places: given ones rounded, the others on their rail."""
    pads = []
    for pad in described.pads:
        x_mm, y_mm = _on_rail(pad, routes, ends, described.gauge_mm)
        pads.append(
            Pad(
                pad.name,
                pad.section,
                mm(x_mm if pad.x_mm is None else pad.x_mm),
                mm(y_mm if pad.y_mm is None else pad.y_mm),
                mm(pad.size_mm),
                mm(pad.clearance_mm),
                pad.slides,
                pad.face,
                pad.drill,
                pad.iron_s,
            )
        )
    return tuple(pads)


def _on_rail(
    pad: DescribedPad, routes: Sequence[Route], ends: Sequence[End], gauge_mm: float
) -> tuple[float, float]:
    """A place on the pad's rail; the origin where no route runs over that rail."""
    if pad.x_mm is not None and pad.y_mm is not None:
        return pad.x_mm, pad.y_mm
    for route in routes:
        for span in route.spans:
            if pad.section in (span.left, span.right):
                side = 0.5 if pad.section == span.left else -0.5
                middle = (span.from_mm + span.to_mm) / 2.0
                pose = walk(route.course, start_pose(route, ends), middle)
                return beside(pose, side * gauge_mm)
    return 0.0, 0.0


def start_pose(route: Route, ends: Sequence[End]) -> Pose:
    """Where and in which direction a train enters a route."""
    end = next(e for e in ends if e.name == route.start)
    return Pose(end.x_mm, end.y_mm, end.heading_deg + 180.0)
