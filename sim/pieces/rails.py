"""Rails as lists of stretches, and what follows from them: spans, routes, pads.

A builder says for each route which section lies under the left and the right
wheel, from where to where; spans and solder pads are derived here, once.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

from sim.pieces.geometry import Pose, beside, course_length_mm, mm, walk
from sim.pieces.model import Pad, Points, Route, Span, Stroke

_PAD_MM = 3.0
_END_PAD_FROM_END_MM = 8.0
_END_PAD_ROOM_MM = 12.0
#: two pads of one rail nearer than this would be one pad
_PAD_SPACING_MM = 20.0
#: beside blades only the outer foot of a stock rail can be soldered, clear of the tie bar
_FOOT_PAD_MM = 1.5
_CLEAR_OF_TIP_MM = 6.0


@dataclass(frozen=True, slots=True)
class Stretch:
    """A stretch of one rail of a route, in mm from the route's start; None is plastic."""

    section: str | None
    from_mm: float
    to_mm: float
    blade: bool = False

    @property
    def length_mm(self) -> float:
        """Length of the stretch in mm."""
        return self.to_mm - self.from_mm


Rail = tuple[Stretch, ...]


@dataclass(frozen=True, slots=True)
class Draft:
    """A route before its spans are cut: two rails and a course from a pose."""

    start: str
    finish: str
    pose: Pose
    course: tuple[Stroke, ...]
    left: Rail
    right: Rail
    points: tuple[Points, ...] = ()

    @property
    def length_mm(self) -> float:
        """Length of the route in mm."""
        return course_length_mm(self.course)


def rail(*steps: tuple[str | None, float]) -> Rail:
    """Lay a rail from 0 by (section, to_mm), leaving out empty stretches."""
    made, at = [], 0.0
    for section, to_mm in steps:
        made.append(Stretch(section, mm(at), mm(to_mm)))
        at = to_mm
    return tuple(stretch for stretch in made if stretch.length_mm > 0.0)


def turned(laid: Rail, length_mm: float) -> Rail:
    """The same rail counted from the other end of a route of ``length_mm``."""
    return tuple(
        Stretch(s.section, mm(length_mm - s.to_mm), mm(length_mm - s.from_mm), s.blade)
        for s in reversed(laid)
    )


def section_at(laid: Rail, place_mm: float) -> str | None:
    """The section under a wheel at ``place_mm``; None on plastic."""
    for stretch in laid:
        if stretch.from_mm <= place_mm <= stretch.to_mm:
            return stretch.section
    raise ValueError(f"no rail at {place_mm} mm")


def let_in(laid: Rail, from_mm: float, to_mm: float, section: str | None) -> Rail:
    """Replace what lies between two places of a rail by another section or plastic."""
    low, high = mm(from_mm), mm(to_mm)
    made = []
    for s in laid:
        if s.from_mm < low:
            made.append(Stretch(s.section, s.from_mm, min(s.to_mm, low), s.blade))
        if s.from_mm <= low < s.to_mm:
            made.append(Stretch(section, low, high))
        if s.to_mm > high:
            made.append(Stretch(s.section, max(s.from_mm, high), s.to_mm, s.blade))
    return tuple(made)


def cut_spans(left: Rail, right: Rail) -> tuple[Span, ...]:
    """Cut two rails of equal length into spans over which neither changes."""
    places = sorted({0.0} | {s.to_mm for s in left} | {s.to_mm for s in right})
    spans: list[Span] = []
    for low, high in pairwise(places):
        middle = (low + high) / 2.0
        sides = section_at(left, middle), section_at(right, middle)
        if spans and (spans[-1].left, spans[-1].right) == sides:
            low = spans.pop().from_mm
        spans.append(Span(low, high, *sides))
    return tuple(spans)


def finish_route(draft: Draft) -> Route:
    """The route that a draft describes."""
    return Route(
        start=draft.start,
        finish=draft.finish,
        length_mm=draft.length_mm,
        spans=cut_spans(draft.left, draft.right),
        points=draft.points,
        course=draft.course,
    )


@dataclass(frozen=True, slots=True)
class _Spot:
    """A stretch of rail that could carry a pad."""

    draft: Draft
    side_mm: float
    from_mm: float
    to_mm: float
    blade: bool
    plain: bool = False

    @property
    def length_mm(self) -> float:
        return self.to_mm - self.from_mm

    def pad(self, section: str, number: int, place_mm: float) -> Pad:
        """A pad of this rail at a place along the route."""
        pose = walk(self.draft.course, self.draft.pose, place_mm)
        x, y = beside(pose, self.side_mm)
        size = mm(min(_PAD_MM, self.length_mm))
        # Near the ends, and under plain track, nothing lies below; elsewhere strips may.
        near_end = min(place_mm, self.draft.length_mm - place_mm) <= _END_PAD_FROM_END_MM
        free = not self.blade and (self.plain or near_end)
        return Pad(
            f"pad-{section}-{number}", section, x, y, size, slides=self.blade, drill=free
        )


def make_pads(
    sections: Iterable[str], drafts: Sequence[Draft], gauge_mm: float, at_blades: bool = True
) -> tuple[Pad, ...]:
    """Give every section its solder pads.

    One pad in the middle of the longest stretch where no blade moves, one near
    each end of the piece where there is room, and on blades one that is marked
    as slid over.  ``at_blades`` adds what can be reached from outside beside blades that
    lie at the ends of the piece; it is False where they lie inside.  Pads are our
    assumption: no drawing of a maker is behind them.
    """
    made: list[Pad] = []
    for section in sections:
        pads = _section_pads(section, drafts, gauge_mm)
        made += pads + (_foot_pads(section, drafts, gauge_mm, pads) if at_blades else [])
    return tuple(made)


def _section_pads(section: str, drafts: Sequence[Draft], gauge_mm: float) -> list[Pad]:
    spots = [spot for draft in drafts for spot in _spots(draft, section, gauge_mm)]
    clear = [spot for spot in spots if not spot.blade]
    blades = [spot for spot in spots if spot.blade]
    places = []
    if clear:
        spot = max(clear, key=lambda s: s.length_mm)  # the first of equals
        places.append((spot, (spot.from_mm + spot.to_mm) / 2.0))
        places += _end_places(clear)
    if blades:
        spot = blades[0]
        places.append((spot, (spot.from_mm + spot.to_mm) / 2.0))
    pads: list[Pad] = []
    for spot, place in places:
        pad = spot.pad(section, len(pads) + 1, place)
        if spot.blade or all(_apart(pad, other) for other in pads):
            pads.append(pad)
    return pads


def _foot_pads(
    section: str, drafts: Sequence[Draft], gauge_mm: float, pads: Sequence[Pad]
) -> list[Pad]:
    """Pads on stock rails near the ends of a piece, where blades leave no other place.

    They are for a wire that goes down through the board, so they may be drilled at.
    """
    made: list[Pad] = []
    for draft in drafts:
        for side_mm, laid in ((gauge_mm / 2.0, draft.left), (-gauge_mm / 2.0, draft.right)):
            for place in _foot_places(draft, laid, section):
                spot = _Spot(draft, side_mm, place - _FOOT_PAD_MM, place + _FOOT_PAD_MM, False)
                pad = spot.pad(section, len(pads) + len(made) + 1, place)
                pad = replace(pad, size_mm=_FOOT_PAD_MM, drill=True)
                if all(_apart(pad, other) for other in (*pads, *made)):
                    made.append(pad)
    return made


def _foot_places(draft: Draft, laid: Rail, section: str) -> list[float]:
    """Places near either end of a route on a stock rail that is ``section``, past the tips."""
    length = draft.length_mm
    places = []
    for point in draft.points:
        tip = point.tip_mm
        at_start = tip < length / 2.0
        off = max(_END_PAD_FROM_END_MM, (tip if at_start else length - tip) + _CLEAR_OF_TIP_MM)
        place = off if at_start else length - off
        end = laid[0] if at_start else laid[-1]
        reaches = end.from_mm <= place - _FOOT_PAD_MM and place + _FOOT_PAD_MM <= end.to_mm
        if end.section == section and not end.blade and reaches:
            places.append(place)
    return places


def _end_places(spots: Sequence[_Spot]) -> list[tuple[_Spot, float]]:
    """Places near an end of the piece, where there is room for a pad."""
    places = []
    for spot in spots:
        if spot.length_mm < _END_PAD_ROOM_MM:
            continue
        if spot.from_mm == 0.0:
            places.append((spot, _END_PAD_FROM_END_MM))
        if spot.to_mm == spot.draft.length_mm:
            places.append((spot, spot.to_mm - _END_PAD_FROM_END_MM))
    return places


def _apart(one: Pad, other: Pad) -> bool:
    across = (one.x_mm - other.x_mm) ** 2 + (one.y_mm - other.y_mm) ** 2
    return across > _PAD_SPACING_MM**2


def _spots(draft: Draft, section: str, gauge_mm: float) -> Iterator[_Spot]:
    """Stretches of one section on one route, cut where blades move beside them."""
    zones = [tuple(sorted((p.tip_mm, p.heel_mm))) for p in draft.points]
    plain = not zones
    for side_mm, laid in ((gauge_mm / 2.0, draft.left), (-gauge_mm / 2.0, draft.right)):
        for s in _joined(laid):
            if s.section != section:
                continue
            if s.blade:
                yield _Spot(draft, side_mm, s.from_mm, s.to_mm, True)
                continue
            for low, high in _outside(s.from_mm, s.to_mm, zones):
                yield _Spot(draft, side_mm, low, high, False, plain)


def _joined(laid: Rail) -> Rail:
    """Neighbouring stretches of one section made one, blades kept apart."""
    made: list[Stretch] = []
    for s in laid:
        if made and (made[-1].section, made[-1].blade) == (s.section, s.blade):
            s = Stretch(s.section, made.pop().from_mm, s.to_mm, s.blade)
        made.append(s)
    return tuple(made)


def _outside(
    low: float, high: float, zones: Iterable[tuple[float, ...]]
) -> Iterator[tuple[float, float]]:
    """What is left of low..high outside the zones."""
    for zone_low, zone_high in sorted(zones):
        if zone_high <= low or zone_low >= high:
            continue
        if zone_low > low:
            yield low, zone_low
        low = max(low, zone_high)
    if high > low:
        yield low, high
