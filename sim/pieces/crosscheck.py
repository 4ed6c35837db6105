"""Whether the parts of a description fit one another.

Finds every problem in one pass: names that do not exist or exist twice, spans
with holes, routes longer than their spans, blades outside their route, rails
that change sides between a route and its end, courses that end elsewhere.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from sim.pieces.form import PLASTIC, DescribedEnd, DescribedPiece, DescribedRoute
from sim.pieces.geometry import Pose, mm, walk
from sim.pieces.model import Stroke
from sim.pieces.parameters import Problem

_MOVING = "moving"
#: a course may miss its end by so much, mm (ours: well under a rail's width)
_COURSE_TOLERANCE_MM = 0.1
_LENGTH_TOLERANCE_MM = 0.01


def cross_problems(described: DescribedPiece) -> list[Problem]:
    """Every problem of a description whose form is right; empty when it fits."""
    return [
        *_names_twice(described),
        *_section_names(described),
        *_levers(described),
        *_lever_uses(described),
        *_ends_used(described),
        *(p for i, route in enumerate(described.routes) for p in _route(described, i, route)),
        *_crossings(described),
        *_words(described),
    ]


def _twice(names: Iterable[str]) -> list[str]:
    seen: set[str] = set()
    found: dict[str, None] = {}
    for name in names:
        if name in seen:
            found[name] = None
        seen.add(name)
    return list(found)


def _with_id(d: DescribedPiece) -> list[str]:
    """The names of everything that has an id within the piece: one set of names."""
    return [
        *d.sections,
        *(join.name for join in (*d.bonds, *d.gaps)),
        *(contact.name for contact in d.contacts),
        *(lever.name for lever in d.levers),
        *(pad.name for pad in d.pads),
    ]


def _names_twice(d: DescribedPiece) -> Iterator[Problem]:
    groups = {
        "names of sections, bonds, gaps, contacts, levers and pads": _with_id(d),
        "ends": [end.name for end in d.ends],
        "routes": [route.name for route in d.routes],
        "gangs": [gang.name for gang in d.gangs],
    }
    for field, names in groups.items():
        for name in _twice(names):
            yield field, "every name once", f"{name!r} twice"
    for name in d.sections:
        if name == PLASTIC:
            yield "sections", f"a name other than {PLASTIC!r}", repr(name)


def _section_names(d: DescribedPiece) -> Iterator[Problem]:
    known = set(d.sections)
    uses = [
        *(
            (f"ends[{i}].{side}", getattr(end, side))
            for i, end in enumerate(d.ends)
            for side in ("north", "south")
        ),
        *((f"pads[{i}].section", pad.section) for i, pad in enumerate(d.pads)),
    ]
    for group in ("bonds", "gaps", "contacts"):
        for i, join in enumerate(getattr(d, group)):
            uses += [(f"{group}[{i}].a", join.a), (f"{group}[{i}].b", join.b)]
            if join.a == join.b:
                yield f"{group}[{i}]", "two different sections", f"{join.a!r} twice"
    for i, route in enumerate(d.routes):
        for j, span in enumerate(route.spans):
            for side in ("left", "right"):
                name = getattr(span, side)
                if name != PLASTIC:
                    uses.append((f"routes[{i}].spans[{j}].{side}", name))
    for field, name in uses:
        if name not in known:
            yield field, "a section of the piece", repr(name)


def _levers(d: DescribedPiece) -> Iterator[Problem]:
    for i, lever in enumerate(d.levers):
        for name in _twice(lever.positions):
            yield f"levers[{i}].positions", "every position once", f"{name!r} twice"
        if _MOVING in lever.positions:
            expected = f"a name other than {_MOVING!r}, which means between two positions"
            yield f"levers[{i}].positions", expected, repr(_MOVING)
        if lever.rest is not None and lever.rest not in lever.positions:
            yield f"levers[{i}].rest", f"one of {_listed(lever.positions)}", repr(lever.rest)


def _lever_uses(d: DescribedPiece) -> Iterator[Problem]:
    """Levers and positions that contacts, points and gangs speak of."""
    positions = {lever.name: lever.positions for lever in d.levers}
    uses = [
        (f"contacts[{i}].when[{j}]", lever, position)
        for i, contact in enumerate(d.contacts)
        for j, clause in enumerate(contact.when)
        for lever, position in clause.items()
    ]
    uses += [
        (f"routes[{i}].points[{j}]", points.lever, points.position)
        for i, route in enumerate(d.routes)
        for j, points in enumerate(route.points)
    ]
    for i, contact in enumerate(d.contacts):
        for j, clause in enumerate(contact.when):
            if not clause:
                yield f"contacts[{i}].when[{j}]", "at least one lever", "an empty table"
    for field, lever, position in uses:
        if lever not in positions:
            yield field, "a lever of the piece", repr(lever)
        elif position not in positions[lever]:
            expected = f"a position of {lever!r}: {_listed(positions[lever])}"
            yield field, expected, repr(position)
    yield from _gangs(d, positions)


def _gangs(d: DescribedPiece, positions: dict[str, list[str]]) -> Iterator[Problem]:
    for name in _twice(lever for gang in d.gangs for lever in gang.levers):
        yield "gangs", "every lever in one gang, once", f"{name!r} twice"
    for i, gang in enumerate(d.gangs):
        known = [lever for lever in gang.levers if lever in positions]
        for lever in gang.levers:
            if lever not in positions:
                yield f"gangs[{i}].levers", "a lever of the piece", repr(lever)
        if any(set(positions[lever]) != set(positions[known[0]]) for lever in known):
            expected = "levers whose positions have the same names"
            yield f"gangs[{i}].levers", expected, _listed(gang.levers)


def _ends_used(d: DescribedPiece) -> Iterator[Problem]:
    used = {name for route in d.routes for name in (route.start, route.finish)}
    for i, end in enumerate(d.ends):
        if end.name not in used:
            yield f"ends[{i}]", "an end of some route", repr(end.name)


def _route(d: DescribedPiece, index: int, route: DescribedRoute) -> Iterator[Problem]:
    where = f"routes[{index}]"
    ends = {end.name: end for end in d.ends}
    for field, name in (("from", route.start), ("to", route.finish)):
        if name not in ends:
            yield f"{where}.{field}", "an end of the piece", repr(name)
    if route.start == route.finish:
        yield where, "two different ends", f"{route.start!r} twice"
    yield from _spans(where, route)
    yield from _points(where, route)
    if route.start in ends:
        span = route.spans[0]
        yield from _sides(f"{where}.spans[0]", ends[route.start], span.right, span.left)
    if route.finish in ends:
        last = len(route.spans) - 1
        span = route.spans[last]
        yield from _sides(f"{where}.spans[{last}]", ends[route.finish], span.left, span.right)
    if route.course:
        yield from _course(where, route, ends)


def _spans(where: str, route: DescribedRoute) -> Iterator[Problem]:
    at = 0.0
    for i, span in enumerate(route.spans):
        if mm(span.from_mm) != at:
            yield (
                f"{where}.spans[{i}].from_mm",
                f"{at:g}, where the last ended",
                f"{span.from_mm:g}",
            )
        if mm(span.to_mm) <= mm(span.from_mm):
            expected = f"more than from_mm, {span.from_mm:g}"
            yield f"{where}.spans[{i}].to_mm", expected, f"{span.to_mm:g}"
        at = mm(span.to_mm)
    if route.length_mm is not None and mm(route.length_mm) != at:
        expected = f"{at:g}, where its spans end"
        yield f"{where}.length_mm", expected, f"{route.length_mm:g}"


def _points(where: str, route: DescribedRoute) -> Iterator[Problem]:
    for i, points in enumerate(route.points):
        for field in ("tip_mm", "heel_mm"):
            place = getattr(points, field)
            if mm(place) > route.whole_mm:
                expected = f"a place on the route, 0 to {route.whole_mm:g}"
                yield f"{where}.points[{i}].{field}", expected, f"{place:g}"
        if mm(points.tip_mm) == mm(points.heel_mm):
            yield f"{where}.points[{i}]", "tip and heel apart", f"{points.tip_mm:g} for both"
    for name in _twice(points.lever for points in route.points):
        yield f"{where}.points", "every lever once", f"{name!r} twice"


def _sides(where: str, end: DescribedEnd, out_left: str, out_right: str) -> Iterator[Problem]:
    """Rails of a route at its end, as a train that leaves there sees them."""
    expected = (end.north, end.south) if end.outward == "east" else (end.south, end.north)
    if (out_left, out_right) != expected:
        north, south = (out_left, out_right) if end.outward == "east" else (out_right, out_left)
        yield (
            where,
            f"rails of end {end.name!r}: north {end.north!r}, south {end.south!r}",
            f"north {north!r}, south {south!r}",
        )


def _course(
    where: str, route: DescribedRoute, ends: dict[str, DescribedEnd]
) -> Iterator[Problem]:
    if any(mm(stroke.length_mm) <= 0.0 for stroke in route.course):
        yield f"{where}.course", "strokes longer than nothing", "a stroke of 0 mm"
        return
    total = sum(stroke.length_mm for stroke in route.course)
    if abs(total - route.whole_mm) > _LENGTH_TOLERANCE_MM:
        yield f"{where}.course", f"strokes of {route.whole_mm:g} mm in all", f"{total:.3f} mm"
    start, finish = ends.get(route.start), ends.get(route.finish)
    first = None if start is None else _placed(start)
    last = None if finish is None else _placed(finish)
    undrawn = len(route.course) == 1 and not route.course[0].turn_deg
    if undrawn or first is None or last is None:
        return  # one straight is what a route without a drawing gets
    entry = Pose(first.x_mm, first.y_mm, first.heading_deg + 180.0)
    course = [Stroke(stroke.length_mm, stroke.turn_deg) for stroke in route.course]
    there = walk(course, entry)
    off_mm = max(abs(there.x_mm - last.x_mm), abs(there.y_mm - last.y_mm))
    turn = (there.heading_deg - last.heading_deg + 180.0) % 360.0 - 180.0
    if off_mm > _COURSE_TOLERANCE_MM or abs(turn) > 0.1:
        yield (
            f"{where}.course",
            f"to end at {last.x_mm:g}, {last.y_mm:g} heading {last.heading_deg:g}",
            f"{there.x_mm:.3f}, {there.y_mm:.3f} heading {there.heading_deg:.3f}",
        )


def _placed(end: DescribedEnd) -> Pose | None:
    """The place of an end, when the description gives it whole."""
    if end.x_mm is None or end.y_mm is None or end.heading_deg is None:
        return None
    return Pose(end.x_mm, end.y_mm, end.heading_deg)


def _crossings(d: DescribedPiece) -> Iterator[Problem]:
    names = {route.name for route in d.routes}
    for i, pair in enumerate(d.crossings):
        for name in pair:
            if name not in names:
                yield f"crossings[{i}]", "a route of the piece", repr(name)
        if pair[0] == pair[1]:
            yield f"crossings[{i}]", "two different routes", f"{pair[0]!r} twice"


def _listed(names: Iterable[str]) -> str:
    return ", ".join(repr(name) for name in names)


def _words(d: DescribedPiece) -> Iterator[Problem]:
    """Words are those of a part that is there, and of no other part."""
    known = set(_with_id(d))
    for name in d.words:
        if name not in known:
            expected = "the name of a section, bond, gap, contact, lever or pad"
            yield f"words.{name}", expected, repr(name)
    for said in _twice(d.words.values()):
        yield "words", "words of its own for each part", f"{said!r} twice"
