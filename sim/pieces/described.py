"""A piece described rail by rail, as plain data that a text file can hold.

:class:`DescribedPiece` is the form; :func:`piece_from` makes a :class:`Piece` of it
after :mod:`sim.pieces.crosscheck` has compared its names with one another.  What a
description leaves out of the geometry is filled with plausible values, because
tracing needs none of it: courses become one straight, ends lie side by side,
pads lie on their rail where a route first runs over it.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from pydantic import ValidationError

from sim.pieces.crosscheck import cross_problems
from sim.pieces.defaults import fill_ends, fill_pads
from sim.pieces.errors import PieceError, raise_problems, validation_problems
from sim.pieces.form import PLASTIC, DescribedContact, DescribedPiece, DescribedRoute
from sim.pieces.geometry import mm
from sim.pieces.model import (
    Bond,
    Contact,
    Gang,
    Gap,
    Lever,
    Piece,
    Points,
    Route,
    Section,
    Span,
    Stroke,
)


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
