"""Track without blades: straights, curves, insulated and feeder lengths, siding ends."""

from __future__ import annotations

from math import radians
from typing import Literal

from pydantic import Field

from sim.pieces import geometry
from sim.pieces.geometry import Pose, mm
from sim.pieces.model import End, Gap, Outward, Pad, Piece, Section
from sim.pieces.parameters import LONGEST_MM, Hand, Params, Problem, raise_problems
from sim.pieces.rails import Draft, Rail, finish_route, make_pads, rail
from sim.pieces.roles import Key, Role

_START = Pose(0.0, 0.0, 0.0)
_PAD_NOTE = "solder places and their sizes are assumptions: measure the piece"
_FEEDER_PAD_MM = 4.0


class StraightParams(Params):
    """A straight length of track."""

    length_mm: float = Field(gt=0.0, le=LONGEST_MM, description="Length, mm.")


class CurveParams(Params):
    """A curve of one radius."""

    radius_mm: float = Field(
        gt=0.0, le=LONGEST_MM, description="Radius of the centre line, mm."
    )
    angle_deg: float = Field(ge=0.01, le=180.0, description="How far the track turns, degrees.")
    hand: Hand = Field(default="right", description="Where it turns, going west to east.")


class InsulatedStraightParams(Params):
    """A straight with a gap in one rail or in both."""

    length_mm: float = Field(gt=0.0, le=LONGEST_MM, description="Length, mm.")
    gap_in: Literal["north", "south", "both"] = Field(
        default="both", description="Which rail is cut."
    )
    gap_mm: float | None = Field(
        default=None, description="Place of the gap from the west end, mm; middle by default."
    )
    south_gap_mm: float | None = Field(
        default=None,
        description="Place of the south gap where both rails are cut, mm; by default opposite "
        "the north one.",
    )


class FeederLengthParams(Params):
    """A straight that brings solder terminals for a feeder."""

    length_mm: float = Field(default=80.0, gt=0.0, le=LONGEST_MM, description="Length, mm.")
    terminal_mm: float | None = Field(
        default=None,
        description="Place of the terminals from the west end, mm; middle by default.",
    )


class SidingEndParams(Params):
    """A straight that ends at a buffer stop."""

    length_mm: float = Field(
        gt=0.0, le=LONGEST_MM, description="Length from the open end to the stop, mm."
    )


def build_straight(params: StraightParams) -> Piece:
    """A straight length: routes ``west-east``, sections ``north`` and ``south``."""
    return _two_rails("straight", params, ((params.length_mm, 0.0),))


def build_curve(params: CurveParams) -> Piece:
    """A curve: north is the left rail going west to east."""
    turn = radians(params.angle_deg)
    signed = turn if params.hand == "left" else -turn
    if mm(params.radius_mm * turn) <= 0.0:
        raise_problems([("angle_deg", "an arc of at least 0.001 mm", f"{params.angle_deg:g}")])
    if params.radius_mm <= params.gauge_mm / 2.0:
        expected = f"more than half the gauge, {params.gauge_mm / 2.0:g} mm"
        raise_problems([("radius_mm", expected, f"{params.radius_mm:g} mm")])
    return _two_rails("curve", params, ((params.radius_mm * turn, signed),))


def build_siding_end(params: SidingEndParams) -> Piece:
    """A siding end: the ``buffer`` end takes no other piece."""
    return _two_rails("siding end", params, ((params.length_mm, 0.0),), finish="buffer")


def build_feeder_length(params: FeederLengthParams) -> Piece:
    """A feeder length: one large terminal on each rail, from below, nothing over it."""
    place = params.length_mm / 2.0 if params.terminal_mm is None else params.terminal_mm
    _check_place("terminal_mm", place, params.length_mm)
    half = params.gauge_mm / 2.0
    pads = tuple(
        Pad(f"pad-{section}-1", section, mm(place), mm(y), _FEEDER_PAD_MM, drill=True)
        for section, y in (("north", half), ("south", -half))
    )
    return _two_rails("feeder length", params, ((params.length_mm, 0.0),), pads=pads)


def build_insulated_straight(params: InsulatedStraightParams) -> Piece:
    """An insulated straight: a cut rail is two sections, ``north-west`` and ``north-east``."""
    length = params.length_mm
    first = length / 2.0 if params.gap_mm is None else params.gap_mm
    second = first if params.south_gap_mm is None else params.south_gap_mm
    problems = _gap_problems(params, first, second)
    raise_problems(problems)
    north_mm = first if params.gap_in in ("north", "both") else None
    south_mm = second if params.gap_in in ("south", "both") else None
    left, north_gaps = _cut("north", length, north_mm)
    right, south_gaps = _cut("south", length, south_mm)
    draft = Draft("west", "east", _START, geometry.strokes([(length, 0.0)]), left, right)
    return _piece("insulated straight", params, draft, gaps=north_gaps + south_gaps)


def _gap_problems(
    params: InsulatedStraightParams, first_mm: float, second_mm: float
) -> list[Problem]:
    problems: list[Problem] = []
    if not _inside(first_mm, params.length_mm):
        problems.append(("gap_mm", _between(params.length_mm), f"{first_mm:g} mm"))
    if params.south_gap_mm is None:
        return problems
    if params.gap_in != "both":
        found = f"gap_in {params.gap_in!r}"
        problems.append(("south_gap_mm", "gap_in 'both' for a place of its own", found))
    elif not _inside(second_mm, params.length_mm):
        problems.append(("south_gap_mm", _between(params.length_mm), f"{second_mm:g} mm"))
    return problems


def _cut(name: str, length_mm: float, gap_mm: float | None) -> tuple[Rail, tuple[Gap, ...]]:
    """One rail with or without a gap."""
    if gap_mm is None:
        return rail((name, length_mm)), ()
    west, east = f"{name}-west", f"{name}-east"
    return rail((west, gap_mm), (east, length_mm)), (Gap(f"gap-{name}", west, east),)


def _inside(place_mm: float, length_mm: float) -> bool:
    return 0.0 < mm(place_mm) < mm(length_mm)


def _between(length_mm: float) -> str:
    return f"a place between 0 and {length_mm:g} mm"


def _check_place(field: str, place_mm: float, length_mm: float) -> None:
    if not _inside(place_mm, length_mm):
        raise_problems([(field, _between(length_mm), f"{place_mm:g} mm")])


def _two_rails(
    kind: str,
    params: Params,
    parts: tuple[tuple[float, float], ...],
    finish: str = "east",
    pads: tuple[Pad, ...] | None = None,
) -> Piece:
    """A piece whose two rails run from end to end."""
    course = geometry.strokes(parts)
    if not course:
        raise_problems([("length_mm", "at least 0.001 mm", f"{parts[0][0]:g} mm")])
    length = geometry.course_length_mm(course)
    north, south = rail(("north", length)), rail(("south", length))
    draft = Draft("west", finish, _START, course, north, south)
    return _piece(kind, params, draft, pads=pads)


def _piece(
    kind: str,
    params: Params,
    draft: Draft,
    gaps: tuple[Gap, ...] = (),
    pads: tuple[Pad, ...] | None = None,
) -> Piece:
    """A piece of one route without anything that moves."""
    sections = tuple(dict.fromkeys(str(s.section) for s in draft.left + draft.right))
    pose = geometry.walk(draft.course, draft.pose)
    heading = geometry.outward_heading_deg(pose.heading_deg)
    outward: Outward = "east"
    last = (str(draft.left[-1].section), str(draft.right[-1].section))
    joinable = draft.finish != "buffer"
    return Piece(
        kind=kind,
        gauge_mm=params.gauge_mm,
        sections=tuple(Section(name) for name in sections),
        ends=(
            End(
                "west",
                "west",
                str(draft.left[0].section),
                str(draft.right[0].section),
                0.0,
                0.0,
                180.0,
            ),
            End(draft.finish, outward, *last, mm(pose.x_mm), mm(pose.y_mm), heading, joinable),
        ),
        routes=(finish_route(draft),),
        gaps=gaps,
        pads=make_pads(sections, (draft,), params.gauge_mm) if pads is None else pads,
        notes=(_PAD_NOTE,),
    )


def plain_roles(piece: Piece) -> dict[Key, Role]:
    """What the parts of a piece of one route are: two rails, each cut once at most."""
    found: dict[Key, Role] = {}
    for section in piece.sections:
        side, _, half = section.name.partition("-")
        found["section", section.name] = Role("rail", side=side, half=half)
    for gap in piece.gaps:
        found["gap", gap.name] = Role("rail gap", side=gap.name.removeprefix("gap-"))
    for end in piece.ends:
        stop = end.name == "buffer"
        found["end", end.name] = Role("buffer stop") if stop else Role("end", side=end.name)
    return found | {("route", route.name): Role("whole") for route in piece.routes}
