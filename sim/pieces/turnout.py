"""A turnout of any electrical family.

The points face west and the through leg runs east.  In a right-hand turnout the
diverging leg goes off to the south; a left-hand one is its mirror image and
diverges to the north.  Roles keep their meaning in both: ``SN`` is always the
straight stock rail (the north rail of a right-hand turnout, the south rail of a
left-hand one) and ``SS`` the curved stock rail on the side of the diverging leg,
while the ``north`` and ``south`` rails of the ends and the left and right of the
spans are where they physically are.  A symmetrical turnout is right-handed: its
north leg plays ``through`` and its south leg ``diverging``, each turning half
the frog angle.
"""

from __future__ import annotations

from math import ceil
from typing import Literal

from pydantic import Field

from sim.pieces import geometry
from sim.pieces.errors import Problem, raise_problems
from sim.pieces.family import (
    CAN_CUT_PAST_FROG,
    DIVERGING,
    THROUGH,
    Fitting,
    Role,
    Wiring,
    wire,
)
from sim.pieces.geometry import Pose, mm
from sim.pieces.model import End, Lever, Piece, Points, Section
from sim.pieces.params import LONGEST_MM, SwitchParams
from sim.pieces.rails import Draft, Rail, finish_route, make_pads, rail
from sim.pieces.switchwork import (
    LEAST_RAIL_MM,
    SHAPE_NOTES,
    Marks,
    SwitchShape,
    inner_diverging,
    inner_through,
    switch_shape,
)

LEVER = "lever"
_START = Pose(0.0, 0.0, 0.0)


class TurnoutParams(SwitchParams):
    """A turnout: points facing west, one leg through, one leg diverging."""

    hand: Literal["left", "right", "symmetrical"] = Field(
        default="right", description="Where the diverging leg goes, seen from the points."
    )
    length_mm: float | None = Field(
        default=None,
        gt=0.0,
        le=LONGEST_MM,
        description="Length along the through leg, mm; by default what the lead and the frog "
        "need with a gauge to spare at both ends.",
    )
    frog_gaps: bool = Field(
        default=False,
        description="Gaps past the frog in both legs; only where the frog is one metal with "
        "the rails past it.",
    )


def build_turnout(params: TurnoutParams) -> Piece:
    """Build a turnout, or raise :class:`~sim.pieces.errors.PieceError`."""
    problems: list[Problem] = []
    both_curve = params.hand == "symmetrical"
    shape = switch_shape(params, problems, 0.5 if both_curve else 1.0)
    length_mm, tip_mm = _place(params, shape, problems)
    check_frog_gaps(params, params.frog_gaps, problems)
    raise_problems(problems)
    cut: tuple[Role, ...] = ("HT", "HD") if params.frog_gaps else ()
    wiring = wire(
        params.family,
        Fitting(LEVER, cut_past_frog=cut, makes_at=params.makes_at, breaks_at=params.breaks_at),
    )
    drafts = (
        _draft(params, shape, wiring, THROUGH, tip_mm, length_mm),
        _draft(params, shape, wiring, DIVERGING, tip_mm, length_mm),
    )
    sections = tuple(dict.fromkeys(name for name in wiring.section_of.values() if name))
    return Piece(
        kind="turnout",
        gauge_mm=params.gauge_mm,
        sections=tuple(Section(name) for name in sections),
        ends=_ends(params, wiring, drafts),
        routes=tuple(finish_route(draft) for draft in drafts),
        bonds=wiring.bonds,
        gaps=wiring.gaps,
        contacts=wiring.contacts,
        levers=(Lever(LEVER, run_through=params.run_through),),
        pads=make_pads(sections, drafts, params.gauge_mm),
        family=params.family,
        notes=SHAPE_NOTES,
        cover=params.cover,
    )


def check_frog_gaps(params: SwitchParams, asked: bool, problems: list[Problem]) -> None:
    """Gaps past the frog only make sense where frog and leg are one metal."""
    if asked and params.family not in CAN_CUT_PAST_FROG:
        families = " or ".join(repr(family) for family in CAN_CUT_PAST_FROG)
        problems.append(("frog_gaps", f"family {families}", repr(params.family)))


def _place(
    params: TurnoutParams, shape: SwitchShape, problems: list[Problem]
) -> tuple[float, float]:
    """(length, tip) of the piece in mm: a gauge before the tip where there is room."""
    gauge = params.gauge_mm
    need = shape.frog_heel_mm + 2.0 * LEAST_RAIL_MM
    length = params.length_mm or float(ceil(shape.frog_heel_mm + 2.0 * gauge))
    if length < need:
        expected = f"at least {need:.3f} mm for the lead and the frog"
        problems.append(("length_mm", expected, f"{length:g} mm"))
    return mm(length), mm(min(gauge, (length - shape.frog_heel_mm) / 2.0))


def _draft(
    params: TurnoutParams,
    shape: SwitchShape,
    wiring: Wiring,
    position: str,
    tip_mm: float,
    length_mm: float,
) -> Draft:
    """One route of the turnout, from the points out along a leg."""
    curved = position == DIVERGING or params.hand == "symmetrical"
    to_left = (position == DIVERGING) == (params.hand == "left")
    parts: tuple[tuple[float, float], ...] = ((length_mm, 0.0),)
    if curved:
        beyond = length_mm - tip_mm - shape.intersection_mm
        parts = shape.leg(tip_mm, beyond, 1.0 if to_left else -1.0)
    course = geometry.strokes(parts)
    leg_mm = geometry.course_length_mm(course)
    marks = shape.marks(tip_mm, curved=curved)
    left, right = _rails(params, wiring, position, marks, leg_mm)
    points = (Points(LEVER, position, marks.tip_mm, marks.heel_mm),)
    return Draft("points", position, _START, course, left, right, points)


def _rails(
    params: TurnoutParams, wiring: Wiring, position: str, marks: Marks, leg_mm: float
) -> tuple[Rail, Rail]:
    """(left, right) rails of one leg; a left-hand turnout has them the other way round."""
    names = wiring.section_of
    if position == THROUGH:
        left, right = rail((names["SN"], leg_mm)), inner_through(names, marks, leg_mm)
    else:
        left, right = inner_diverging(names, marks, leg_mm), rail((names["SS"], leg_mm))
    return (right, left) if params.hand == "left" else (left, right)


def _ends(params: TurnoutParams, wiring: Wiring, drafts: tuple[Draft, ...]) -> tuple[End, ...]:
    names = wiring.section_of
    roles: tuple[tuple[Role, Role], ...] = (("SN", "SS"), ("SN", "HT"), ("HD", "SS"))
    rails = [(str(names[a]), str(names[b])) for a, b in roles]
    if params.hand == "left":
        rails = [(south, north) for north, south in rails]
    ends = [End("points", "west", *rails[0], 0.0, 0.0, 180.0)]
    for draft, (north, south) in zip(drafts, rails[1:], strict=True):
        ends.append(east_end(draft, north, south))
    return tuple(ends)


def east_end(draft: Draft, north: str, south: str) -> End:
    """The end at which a draft's course arrives, leaving the piece eastward."""
    pose = geometry.walk(draft.course, draft.pose)
    heading = geometry.outward_heading_deg(pose.heading_deg)
    return End(draft.finish, "east", north, south, mm(pose.x_mm), mm(pose.y_mm), heading)
