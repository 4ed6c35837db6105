"""A piece described rail by rail, and what is filled in where a description leaves it out.

Plausible geometry for what a description leaves out.

Tracing needs no drawing, so a builder may describe rails only.  Ends without a
place lie side by side at the west and at the east; pads without a place lie on
their rail, in the middle of the first span that runs over it.

A piece described rail by rail, as plain data that a text file can hold.

:class:`DescribedPiece` is the form; :func:`piece_from` makes a :class:`Piece` of it
after :mod:`sim.pieces.crosscheck` has compared its names with one another.  What a
description leaves out of the geometry is filled with plausible values, because
tracing needs none of it: courses become one straight, ends lie side by side,
pads lie on their rail where a route first runs over it.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from pydantic import ValidationError

from sim.pieces.crosscheck import cross_problems
from sim.pieces.form import (
    PLASTIC,
    DescribedContact,
    DescribedEnd,
    DescribedPad,
    DescribedPiece,
    DescribedRoute,
)
from sim.pieces.geometry import Pose, beside, mm, walk
from sim.pieces.model import (
    Bond,
    Contact,
    End,
    Gang,
    Gap,
    Lever,
    Pad,
    Piece,
    Points,
    Route,
    Section,
    Span,
    Stroke,
)
from sim.pieces.parameters import PieceError, raise_problems, validation_problems

#: tracks of a described piece lie so many gauges apart (30 mm at 9 mm gauge; our choice)
_CENTRES_PER_GAUGE = 30.0 / 9.0


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


def from_data(data: Mapping[str, object]) -> Piece:
    """Make a piece from plain data, or raise :class:`PieceError` with every problem."""
    try:
        described = DescribedPiece.model_validate(dict(data))
    except ValidationError as error:
        raise PieceError(validation_problems(error)) from None
    return piece_from(described)


def piece_from(described: DescribedPiece) -> Piece:
    """Make a piece of a description whose form is right; checks all cross references."""
    raise_problems(cross_problems(described))
    routes = tuple(_route(route) for route in described.routes)
    ends = fill_ends(described, routes)
    return Piece(
        kind=described.kind,
        gauge_mm=float(described.gauge_mm),
        sections=tuple(Section(name) for name in described.sections),
        ends=ends,
        routes=routes,
        bonds=tuple(Bond(join.name, join.a, join.b) for join in described.bonds),
        gaps=tuple(Gap(join.name, join.a, join.b) for join in described.gaps),
        contacts=tuple(_contact(contact) for contact in described.contacts),
        levers=tuple(
            Lever(v.name, tuple(v.positions), v.rest or v.positions[0], v.run_through)
            for v in described.levers
        ),
        gangs=tuple(Gang(gang.name, tuple(gang.levers)) for gang in described.gangs),
        pads=fill_pads(described, routes, ends),
        crossings=tuple((pair[0], pair[1]) for pair in described.crossings),
        family=described.family,
        notes=tuple(described.notes),
        cover=described.cover,
        words=tuple(described.words.items()),
    )


def _contact(contact: DescribedContact) -> Contact:
    when = tuple(tuple(clause.items()) for clause in contact.when)
    return Contact(
        contact.name, contact.a, contact.b, when, contact.makes_at, contact.breaks_at
    )


def _route(route: DescribedRoute) -> Route:
    course = tuple(Stroke(mm(s.length_mm), round(s.turn_deg, 6) + 0.0) for s in route.course)
    return Route(
        start=route.start,
        finish=route.finish,
        length_mm=route.whole_mm,
        spans=tuple(
            Span(mm(s.from_mm), mm(s.to_mm), _metal(s.left), _metal(s.right))
            for s in route.spans
        ),
        points=tuple(
            Points(p.lever, p.position, mm(p.tip_mm), mm(p.heel_mm)) for p in route.points
        ),
        course=course or (Stroke(route.whole_mm),),
    )


def _metal(name: str) -> str | None:
    return None if name == PLASTIC else name


def to_data(piece: Piece) -> dict[str, Any]:
    """The plain data of a piece: text, numbers, lists and tables, nothing left out."""
    said = {"words": dict(piece.words)} if piece.words else {}
    return {
        "kind": piece.kind,
        "gauge_mm": piece.gauge_mm,
        "family": piece.family,
        "cover": piece.cover,
        "notes": list(piece.notes),
        "sections": [section.name for section in piece.sections],
        "ends": [_fields(end) for end in piece.ends],
        "levers": [{**_fields(v), "positions": list(v.positions)} for v in piece.levers],
        "gangs": [{"name": gang.name, "levers": list(gang.levers)} for gang in piece.gangs],
        "bonds": [_fields(bond) for bond in piece.bonds],
        "gaps": [_fields(gap) for gap in piece.gaps],
        "contacts": [
            {**_fields(c), "when": [dict(clause) for clause in c.when]} for c in piece.contacts
        ],
        "pads": [_fields(pad) for pad in piece.pads],
        "routes": [_route_data(route) for route in piece.routes],
        "crossings": [list(pair) for pair in piece.crossings],
        **said,
    }


def _route_data(route: Route) -> dict[str, Any]:
    return {
        "from": route.start,
        "to": route.finish,
        "length_mm": route.length_mm,
        "spans": [
            {**_fields(s), "left": s.left or PLASTIC, "right": s.right or PLASTIC}
            for s in route.spans
        ],
        "points": [_fields(points) for points in route.points],
        "course": [_fields(stroke) for stroke in route.course],
    }


def _fields(item: Any) -> dict[str, Any]:
    """The fields of one slotted record, in their order."""
    return {name: getattr(item, name) for name in item.__slots__}
