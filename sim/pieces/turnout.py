"""A turnout of any electrical family, and the shape that every set of points has.

The shape of one turnout: where its tip, heel and frog lie, along either route.

The centre line of a leg is straight, an arc, and straight again through the
frog.  The arc is the largest that fits between the blade tip and the frog toe.

A turnout of any electrical family.

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

from collections.abc import Mapping
from dataclasses import dataclass, replace
from math import ceil, floor, tan
from typing import Literal, cast

from pydantic import Field

from sim.pieces import geometry
from sim.pieces.families import (
    CAN_CUT_PAST_FROG,
    DIVERGING,
    FAMILIES,
    THROUGH,
    Family,
    Fitting,
    Role,
    Wiring,
    cut_past_frog,
    turnout_roles,
    wire,
)
from sim.pieces.geometry import Pose, mm
from sim.pieces.model import End, Lever, Piece, Points, Section
from sim.pieces.parameters import LONGEST_MM, USUAL_FROGS, Problem, SwitchParams, raise_problems
from sim.pieces.rails import Draft, Rail, Stretch, finish_route, make_pads, rail
from sim.pieces.roles import Key
from sim.pieces.roles import Role as PartRole

#: blades taken as this share of the lead (assumption)
BLADE_SHARE = 1.0 / 3.0
#: least length of plain rail before a tip or behind a frog, mm
LEAST_RAIL_MM = 0.5
_LEAST_TANGENT_MM = 0.5

SHAPE_NOTES = (
    "blade length taken as a third of the lead (assumption)",
    "place of the blade tips within the piece is an assumption",
    "solder pads, their sizes and clearances are assumptions: measure the piece",
    "places to drill, near the ends only, are assumptions: look underneath first",
)


@dataclass(frozen=True, slots=True)
class Marks:
    """Places on one route, in mm from the end that the points face."""

    tip_mm: float
    heel_mm: float
    toe_mm: float
    frog_heel_mm: float


@dataclass(frozen=True, slots=True)
class SwitchShape:
    """Measures of one turnout in mm from its blade tip, along the through route.

    ``turn_rad`` is how far one curved leg turns: the frog angle, or half of it
    where both legs curve.  ``toe_mm`` to ``frog_heel_mm`` is the frog as an item of
    track, which the curve and the room for it depend on; ``cut_mm`` are the two
    places between which it interrupts its rail.
    """

    gauge_mm: float
    frog_angle_rad: float
    turn_rad: float
    lead_mm: float
    blade_mm: float
    toe_mm: float
    frog_heel_mm: float
    cut_mm: tuple[float, float]

    @property
    def intersection_mm(self) -> float:
        """From the tip to the intersection of the centre lines."""
        beyond = geometry.intersection_to_frog_mm(self.gauge_mm, self.frog_angle_rad)
        return self.lead_mm - beyond

    @property
    def tangent_mm(self) -> float:
        """From the intersection to either end of the arc."""
        return min(self.intersection_mm, self.toe_mm - self.intersection_mm)

    @property
    def radius_mm(self) -> float:
        """Centre-line radius of the arc."""
        return self.tangent_mm / tan(self.turn_rad / 2.0)

    @property
    def arc_mm(self) -> float:
        """Length of the arc."""
        return self.radius_mm * self.turn_rad

    def curved(self, place_mm: float) -> float:
        """Distance along a curved leg abreast of a place on a straight one."""
        before = self.intersection_mm - self.tangent_mm
        if place_mm <= before:
            return place_mm
        within = min(place_mm - before, 2.0 * self.tangent_mm)
        return place_mm - within * (1.0 - self.arc_mm / (2.0 * self.tangent_mm))

    def marks(self, tip_mm: float, *, curved: bool) -> Marks:
        """The marks on a route whose points lie at ``tip_mm``."""
        places = (0.0, self.blade_mm, *self.cut_mm)
        if curved:
            places = tuple(self.curved(place) for place in places)  # type: ignore[assignment]
        tip, heel, toe, frog_heel = (mm(tip_mm + place) for place in places)
        return Marks(tip, heel, toe, frog_heel)

    def leg(
        self, tip_mm: float, beyond_mm: float, sign: float
    ) -> tuple[tuple[float, float], ...]:
        """Course parts (length, turn) of a curved leg; ``sign`` 1 turns left, -1 right.

        ``beyond_mm`` is how far the leg runs past the intersection.
        """
        return (
            (tip_mm + self.intersection_mm - self.tangent_mm, 0.0),
            (self.arc_mm, sign * self.turn_rad),
            (beyond_mm - self.tangent_mm, 0.0),
        )


def switch_shape(
    params: SwitchParams, problems: list[Problem], turn_share: float = 1.0
) -> SwitchShape:
    """Measures from parameters; impossible ones are added to ``problems``."""
    gauge, number = params.gauge_mm, params.frog_number or USUAL_FROGS[0]
    angle = geometry.frog_angle_rad(number, params.frog_rule)
    lead = params.lead_mm or geometry.simple_lead_mm(gauge, number)
    toe, heel = geometry.frog_parts_mm(gauge, number)
    if params.frog_dead_mm is not None:
        share = params.frog_dead_mm / (toe + heel)
        toe, heel = toe * share, heel * share
    dead = assumed_dead_mm(params)
    share = 1.0 if dead is None else min(1.0, dead / (toe + heel))
    cut = lead - toe * share, lead + heel * share
    shape = SwitchShape(
        gauge, angle, angle * turn_share, lead, lead * BLADE_SHARE, lead - toe, lead + heel, cut
    )
    _check(shape, params, problems)
    return shape


def assumed_dead_mm(params: SwitchParams) -> float | None:
    """Dead length of a plastic frog that nobody has measured; None for any other."""
    plastic = FAMILIES[params.family].plastic_frog
    if not plastic or params.frog_dead_mm is not None:
        return None
    return geometry.plastic_dead_mm(params.gauge_mm)


def _check(shape: SwitchShape, params: SwitchParams, problems: list[Problem]) -> None:
    beyond = geometry.intersection_to_frog_mm(shape.gauge_mm, shape.frog_angle_rad)
    least = beyond + _LEAST_TANGENT_MM
    if shape.lead_mm < least:
        expected = f"at least {least:.3f} mm, for the centre lines to meet behind the blade tip"
        problems.append(("lead_mm", expected, f"{shape.lead_mm:g} mm"))
        return
    most = min(shape.lead_mm - shape.blade_mm, beyond) - _LEAST_TANGENT_MM
    toe = shape.lead_mm - shape.toe_mm
    if toe > most:
        whole = most * (shape.frog_heel_mm - shape.toe_mm) / toe
        field = "frog_dead_mm" if params.frog_dead_mm is not None else "frog_number"
        expected = f"a frog of at most {whole:.3f} mm, between closure curve and heel"
        problems.append((field, expected, f"{shape.frog_heel_mm - shape.toe_mm:.3f} mm"))


def too_short(
    shape: SwitchShape,
    params: SwitchParams,
    need: tuple[float, str],
    over_mm: float,
    leads: int,
) -> Problem:
    """What is said of a piece that is ``over_mm`` shorter than the ``need`` of its shape.

    The lead is taken by rule where it is not given, and ``leads`` of them lie in the
    length, so a shorter one is named that fits, or the length with the shortest there is.
    """
    need_mm, parts = need
    fits_mm = floor((shape.lead_mm - over_mm / leads) * 1000.0) / 1000.0
    least_mm = ceil(_least_lead_mm(shape) * 1000.0) / 1000.0
    expected = f"at least {need_mm:.3f} mm for {parts}"
    taken = "" if params.lead_mm else f", in place of the simple lead of {shape.lead_mm:g} mm"
    if fits_mm >= least_mm:
        toe_mm = fits_mm - (shape.lead_mm - shape.toe_mm)
        radius = replace(shape, lead_mm=fits_mm, toe_mm=toe_mm).radius_mm
        curve = f"which curves with a radius of {radius:.0f} mm"
        expected += f"; or lead_mm of at most {fits_mm:.3f} mm, {curve}{taken}"
    elif shape.lead_mm > least_mm:
        shortest_mm = need_mm - leads * (shape.lead_mm - least_mm)
        expected += (
            f"; no lead_mm makes it fit: the shortest, {least_mm:.3f} mm, takes "
            f"{shortest_mm:.3f} mm"
        )
    return "length_mm", expected, f"{need_mm - over_mm:g} mm"


def _least_lead_mm(shape: SwitchShape) -> float:
    """The shortest lead that :func:`_check` lets pass with this frog, mm."""
    beyond = geometry.intersection_to_frog_mm(shape.gauge_mm, shape.frog_angle_rad)
    toe = shape.lead_mm - shape.toe_mm
    return max(beyond + _LEAST_TANGENT_MM, (toe + _LEAST_TANGENT_MM) / (1.0 - BLADE_SHARE))


Names = Mapping[Role, str | None]


def inner_through(names: Names, marks: Marks, to_mm: float) -> Rail:
    """The rail of the through leg that the frog lies in, from the points on."""
    return _inner(names, ("SS", "BS", "CS", "F", "HT"), marks, to_mm)


def inner_diverging(names: Names, marks: Marks, to_mm: float) -> Rail:
    """The rail of the diverging leg that the frog lies in, from the points on."""
    return _inner(names, ("SN", "BN", "CN", "F", "HD"), marks, to_mm)


def _inner(names: Names, roles: tuple[Role, ...], marks: Marks, to_mm: float) -> Rail:
    places = (0.0, marks.tip_mm, marks.heel_mm, marks.toe_mm, marks.frog_heel_mm, mm(to_mm))
    laid = (
        Stretch(names[role], places[i], places[i + 1], blade=role in ("BN", "BS"))
        for i, role in enumerate(roles)
    )
    return tuple(stretch for stretch in laid if stretch.length_mm > 0.0)


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
    """Build a turnout, or raise :class:`~sim.pieces.parameters.PieceError`."""
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
        assumed_dead_mm=assumed_dead_mm(params),
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
        parts = need, "the lead and the frog"
        problems.append(too_short(shape, params, parts, need - length, 1))
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


def single_turnout_roles(piece: Piece) -> dict[Key, PartRole]:
    """What the parts of a turnout are; where both legs curve one is north, one south."""
    family = cast(Family, piece.family)
    cut = cut_past_frog(family, "", piece.gaps)
    found = turnout_roles(family, Fitting(LEVER, cut_past_frog=cut))
    found["end", "points"] = PartRole("end", side="points")
    for way in (THROUGH, DIVERGING):
        found["end", way] = PartRole("end", way=way)
        found["route", f"points-{way}"] = PartRole("way", way=way)
    through = next(r for r in piece.routes if r.finish == THROUGH)
    if not any(stroke.turn_deg for stroke in through.course):
        return found
    sides = {THROUGH: "north", DIVERGING: "south"}
    return {
        key: replace(role, side=sides[role.way]) if role.way else role
        for key, role in found.items()
    }
