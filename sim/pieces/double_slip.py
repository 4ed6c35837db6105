"""A double slip: two tracks that cross on the level, with a slip on either side.

Track A runs west to east along the drawing, track B crosses it in the middle and
goes off to the left (north-east) or to the right, as in a diamond crossing.  The
slips run inside the diamond, from A-west to B-east and from B-west to A-east.  The
lever ``west`` moves the four blades at the western end, all to the same side, and
so says to which end on the *east* the way leads; ``east`` says to which on the west.

An ``outer`` rail follows its slip from end to end.  What is called after an end
(``A-west-leg`` past the frog, ``A-west-closure`` on its other side, and the blade
behind that) is the straight rail that ends there as the inner one of its track:
its blade therefore lies at the *other* end of the piece, and leads to that end.

Common practice, no source.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from math import ceil, cos, floor, sin, tan
from typing import Literal

from pydantic import Field

from sim.pieces import geometry
from sim.pieces.diamond import CORNER_SHARE, let_in_corners
from sim.pieces.families import CAN_CUT_PAST_FROG
from sim.pieces.geometry import Pose, diamond_corners, mm
from sim.pieces.model import (
    Bond,
    Contact,
    End,
    Gap,
    Lever,
    Outward,
    Piece,
    Points,
    Section,
    Stroke,
)
from sim.pieces.parameters import LONGEST_MM, Hand, Problem, SwitchParams, raise_problems
from sim.pieces.rails import Draft, Rail, Stretch, finish_route, make_pads, rail, turned
from sim.pieces.roles import Key, Role
from sim.pieces.turnout import (
    BLADE_SHARE,
    LEAST_RAIL_MM,
    SHAPE_NOTES,
    SwitchShape,
    switch_shape,
)

SlipFamily = Literal["live frog", "insulated frog, all live"]

#: lever -> its positions: the ends on the other side, of which one is led to
_LEVERS = {"west": ("A-east", "B-east"), "east": ("A-west", "B-west")}
_ENDS = ("A-west", "B-west", "A-east", "B-east")
#: slip -> (outer rail beside it, that beyond it); each goes from the first track to the second
_SLIPS = {"slip-A-B": ("outer-A-B", "outer-B-A"), "slip-B-A": ("outer-B-A", "outer-A-B")}
#: end -> the outer rail that its straight inner rail runs up to
_RUNS_TO = {
    "A-west": "outer-B-A",
    "B-west": "outer-A-B",
    "A-east": "outer-A-B",
    "B-east": "outer-B-A",
}
#: the names of all rails, as separate as any family has them
_RAILS = (
    "outer-A-B",
    "outer-B-A",
    *(f"{end}-{part}" for end in _ENDS for part in ("leg", "closure", "blade")),
    *(name for s in _SLIPS for name in (s, f"{s}-west-blade", f"{s}-east-blade")),
)

_NOTES = (
    "the slips lie inside the diamond, their blades between the frogs (assumption)",
    "how its rails are bonded and switched is common practice, no source: test yours",
)
_LIVE_NOTE = "each live frog is fed by the blades, and the lever, of the other end"


class DoubleSlipParams(SwitchParams):
    """A double slip: two tracks that cross, and a slip between them on either side."""

    family: SlipFamily = Field(
        default="live frog", description="Which rails are joined, cut and switched."
    )
    lead_mm: float | None = Field(
        default=None,
        gt=0.0,
        le=LONGEST_MM,
        description="Blade tip to the point of the frog that it leads to, at the far end, mm; "
        "by default the longest that leaves the tips clear of the near frog.",
    )
    hand: Hand = Field(default="left", description="Where B goes, seen along A from the west.")
    length_mm: float | None = Field(
        default=None,
        gt=0.0,
        le=LONGEST_MM,
        description="Length of each track, mm; by default the diamond and a gauge to spare at "
        "both ends.",
    )
    corner_mm: float | None = Field(
        default=None,
        ge=0.1,
        description="Length of the plastic in each of the two obtuse corners along a rail, mm; "
        "by default two thirds of the gauge.",
    )
    frog_gaps: bool = Field(
        default=False,
        description="Gaps past both frogs in all four legs; only with live frogs.",
    )


@dataclass(frozen=True, slots=True)
class _Shape:
    """Measures in mm. ``switch`` is what the blades of an end and the far frog make."""

    switch: SwitchShape
    corner_mm: float
    length_mm: float

    @property
    def tip_mm(self) -> float:
        """From an end of the piece to the tips, on every route."""
        return mm(self.length_mm / 2.0 - self.switch.intersection_mm)

    def blade_mm(self, slip: bool) -> float:
        """Length of a blade along a straight route or along a slip."""
        blade = self.switch.blade_mm
        return self.switch.curved(blade) if slip else blade

    @property
    def frog_mm(self) -> tuple[float, float]:
        """From an end of the piece to the near frog's outer and inner end."""
        switch = self.switch
        point = self.length_mm / 2.0 - (switch.lead_mm - switch.intersection_mm)
        outer = point - (switch.frog_heel_mm - switch.lead_mm)
        return mm(outer), mm(point + (switch.lead_mm - switch.toe_mm))

    def course(self, sign: float) -> tuple[Stroke, ...]:
        """The course of a straight route (0) or of a slip that turns left (1) or right."""
        if not sign:
            return geometry.strokes([(self.length_mm, 0.0)])
        way = self.tip_mm, 0.0
        return geometry.strokes([way, (self.switch.arc_mm, sign * self.switch.turn_rad), way])


def build_double_slip(params: DoubleSlipParams) -> Piece:
    """Build a double slip, or raise :class:`~sim.pieces.parameters.PieceError`."""
    shape = _shape(params)
    named = _names(params)
    drafts = _drafts(shape, params.hand, named)
    sections = tuple(dict.fromkeys(named[name] for name in _RAILS))
    notes = (*SHAPE_NOTES, *_NOTES)
    return Piece(
        kind="double slip",
        gauge_mm=params.gauge_mm,
        sections=tuple(Section(name) for name in sections),
        ends=tuple(end for d in (drafts[0], drafts[3]) for end in _ends(d)),
        routes=tuple(finish_route(d) for d in drafts),
        bonds=() if _is_live(params) else _bonds(),
        gaps=_gaps(params, named),
        contacts=_contacts(params, named) if _is_live(params) else (),
        levers=tuple(
            Lever(name, positions, positions[0], params.run_through)
            for name, positions in _LEVERS.items()
        ),
        pads=make_pads(sections, drafts, params.gauge_mm, at_blades=False),
        crossings=(
            ("A-west-A-east", "B-west-B-east"),
            ("A-west-B-east", "B-west-A-east"),
        ),
        family=params.family,
        notes=(*notes, _LIVE_NOTE) if _is_live(params) else notes,
        cover=params.cover,
    )


def _is_live(params: DoubleSlipParams) -> bool:
    return params.family == "live frog"


# -- measures ----------------------------------------------------------------------


def _shape(params: DoubleSlipParams) -> _Shape:
    """Measures from parameters; raises with every problem at once."""
    problems: list[Problem] = []
    if params.frog_gaps and params.family not in CAN_CUT_PAST_FROG:
        problems.append(("frog_gaps", "family 'live frog'", repr(params.family)))
    frog = switch_shape(params.model_copy(update={"lead_mm": None}), [])
    far = geometry.intersection_to_frog_mm(params.gauge_mm, frog.frog_angle_rad)
    across = 2.0 * (far + frog.frog_heel_mm - frog.lead_mm)
    length = params.length_mm or float(ceil(across + 2.0 * params.gauge_mm))
    need = across + 2.0 * LEAST_RAIL_MM
    if length < need:
        expected = f"at least {need:.3f} mm for the diamond and its frogs"
        problems.append(("length_mm", expected, f"{length:g} mm"))
    corner_mm = params.corner_mm or params.gauge_mm * CORNER_SHARE
    lead = _lead(params, frog, far, corner_mm, problems)
    raise_problems(problems)
    switch = switch_shape(params.model_copy(update={"lead_mm": lead}), problems)
    raise_problems(problems)
    return _Shape(switch, corner_mm, mm(length))


def _lead(
    params: DoubleSlipParams,
    frog: SwitchShape,
    far: float,
    corner_mm: float,
    problems: list[Problem],
) -> float:
    """The lead: tips past the near frog, heels before the obtuse corner.

    From the middle the frogs lie ``far``, the obtuse corners (g/2)·tan(F/2).
    """
    near = params.gauge_mm / 2.0 * tan(frog.frog_angle_rad / 2.0)
    toe = frog.lead_mm - frog.toe_mm
    most = 2.0 * far - toe - LEAST_RAIL_MM
    # a blade takes its share of the lead, and ends before the corner does
    free = most * (1.0 - BLADE_SHARE) - far - near - LEAST_RAIL_MM
    if corner_mm > 2.0 * free:
        problems.append(_no_room(params, frog, free, corner_mm))
        return most
    least = (far + near + corner_mm / 2.0 + LEAST_RAIL_MM) / (1.0 - BLADE_SHARE)
    lead = most if params.lead_mm is None else params.lead_mm
    if lead > most:
        expected = f"at most {_down(most)} mm, with the tips clear of the near frog"
        problems.append(("lead_mm", expected, f"{lead:g} mm"))
    elif lead < least:
        expected = f"at least {-_down(-least)} mm, with the blades clear of the obtuse corners"
        problems.append(("lead_mm", expected, f"{lead:g} mm"))
    return lead


def _no_room(
    params: DoubleSlipParams, frog: SwitchShape, free: float, corner_mm: float
) -> Problem:
    """Blades do not fit between the near frog and the obtuse corner: what to make shorter."""
    toe, whole = frog.lead_mm - frog.toe_mm, frog.frog_heel_mm - frog.toe_mm
    shorter = toe - (corner_mm / 2.0 - free) / (1.0 - BLADE_SHARE)
    if params.frog_dead_mm is not None and shorter > 0.0:
        expected = f"a frog of at most {_down(whole * shorter / toe)} mm, with room for blades"
        return "frog_dead_mm", expected, f"{whole:g} mm"
    if free > 0.05:
        expected = f"at most {_down(2.0 * free)} mm, with room for blades"
        return "corner_mm", expected, f"{corner_mm:g} mm"
    expected = "a larger number: no blades fit between the frogs"
    return "frog_number", expected, f"{params.frog_number:g}"


def _down(value_mm: float) -> float:
    """Rounded down to 0.001 mm, so that what is told is possible."""
    return floor(value_mm * 1000.0) / 1000.0


# -- rails ------------------------------------------------------------------------


def _names(params: DoubleSlipParams) -> Mapping[str, str]:
    """The section of every rail in the family, its frogs among them where they are metal."""
    named = {name: name for name in _RAILS}
    if not _is_live(params):
        return named
    for end in _ENDS:
        frog = _frog_at(end)
        named[frog] = frog
        named[f"{end}-closure"] = named[f"{end}-blade"] = frog
        if not params.frog_gaps:
            named[f"{end}-leg"] = frog
    for slip in _SLIPS:
        named[f"{slip}-west-blade"] = named[f"{slip}-east-blade"] = slip
    return named


def _frog_at(end: str) -> str:
    """The frog in which the inner rails of the two ends of one side cross."""
    return f"{end.partition('-')[2]}-frog"


def _straight(shape: _Shape, end: str, named: Mapping[str, str]) -> Rail:
    """The straight rail of the leg at ``end``, from that end on to the outer rail."""
    outer, inner = shape.frog_mm
    length, tip, blade = shape.length_mm, shape.tip_mm, shape.blade_mm(slip=False)
    heel = mm(length - tip - blade)
    return (
        *rail(
            (named[f"{end}-leg"], outer),
            (named.get(_frog_at(end)), inner),
            (named[f"{end}-closure"], heel),
        ),
        Stretch(named[f"{end}-blade"], heel, mm(length - tip), blade=True),
        Stretch(_RUNS_TO[end], mm(length - tip), length),
    )


def _slip_rail(shape: _Shape, slip: str, length: float, named: Mapping[str, str]) -> Rail:
    """The rail inside a slip, west to east: leg, frog, blade, closure, blade, frog, leg."""
    first, second = slip[5], slip[7]
    heel = mm(shape.tip_mm + shape.blade_mm(slip=True))

    def half(end: str, blade: str) -> Rail:
        outer, inner = shape.frog_mm
        return (
            *rail(
                (named[f"{end}-leg"], outer),
                (named.get(_frog_at(end)), inner),
                (named[f"{end}-closure"], shape.tip_mm),
            ),
            Stretch(named[f"{slip}-{blade}-blade"], shape.tip_mm, heel, blade=True),
        )

    return (
        *half(f"{first}-west", "west"),
        Stretch(named[slip], heel, mm(length - heel)),
        *turned(half(f"{second}-east", "east"), length),
    )


def _drafts(shape: _Shape, hand: Hand, named: Mapping[str, str]) -> tuple[Draft, ...]:
    """The four routes; those of the same start have the outer rail on the same side."""
    length, angle = shape.length_mm, shape.switch.turn_rad
    half = length / 2.0
    sign = 1.0 if hand == "left" else -1.0
    starts = {
        "A": Pose(0.0, 0.0, 0.0),
        "B": Pose(
            half - half * cos(angle), mm(-sign * half * sin(angle)), geometry.deg(sign * angle)
        ),
    }

    def made(first: str, second: str, turn: float, left: Rail, right: Rail) -> Draft:
        course = shape.course(sign * turn)
        whole = geometry.course_length_mm(course)
        start, finish = f"{first}-west", f"{second}-east"
        heel = mm(shape.tip_mm + shape.blade_mm(slip=first != second))
        points = (
            Points("west", finish, shape.tip_mm, heel),
            Points("east", start, mm(whole - shape.tip_mm), mm(whole - heel)),
        )
        return Draft(start, finish, starts[first], course, left, right, points)

    def straight(track: str) -> tuple[Rail, Rail]:
        west = _straight(shape, f"{track}-west", named)
        east = turned(_straight(shape, f"{track}-east", named), length)
        return (east, west) if track == "A" else (west, east)

    slipped = geometry.course_length_mm(shape.course(1.0))
    a, b = (made(t, t, 0.0, *straight(t)) for t in "AB")
    ab = made(
        *("A", "B", 1.0),
        rail(("outer-A-B", slipped)),
        _slip_rail(shape, "slip-A-B", slipped, named),
    )
    ba = made(
        *("B", "A", -1.0),
        _slip_rail(shape, "slip-B-A", slipped, named),
        rail(("outer-B-A", slipped)),
    )
    corners = diamond_corners(shape.switch.gauge_mm, angle)[:2]  # the obtuse ones
    (a, b), _ = let_in_corners((a, b), corners, shape.corner_mm)
    drafts = a, ab, ba, b
    if hand == "left":
        return drafts
    return tuple(replace(d, left=d.right, right=d.left) for d in drafts)


def _ends(draft: Draft) -> tuple[End, End]:
    """Both ends of a straight track; left is north on the way east."""
    places: tuple[tuple[str, Outward, float, int], ...] = (
        (draft.start, "west", 180.0, 0),
        (draft.finish, "east", 0.0, -1),
    )
    made = []
    for name, outward, turn, at in places:
        pose = geometry.walk(draft.course, draft.pose, None if at else 0.0)
        heading = geometry.outward_heading_deg(pose.heading_deg + turn)
        rails = str(draft.left[at].section), str(draft.right[at].section)
        made.append(End(name, outward, *rails, mm(pose.x_mm), mm(pose.y_mm), heading))
    return made[0], made[1]


# -- wiring -----------------------------------------------------------------------


def _bonds() -> tuple[Bond, ...]:
    """Insulated frogs: hinges, a link past each, every rail to the outer one of its pole."""
    made = []
    for end in _ENDS:
        leg, closure, blade = (f"{end}-{part}" for part in ("leg", "closure", "blade"))
        made += [
            Bond(f"hinge-{end}", blade, closure),
            Bond(f"link-{end}", closure, leg),
            Bond(f"bond-{end}", closure, _RUNS_TO[end]),
        ]
    for slip, (_, beyond) in _SLIPS.items():
        hinges = (f"{slip}-{end}" for end in _LEVERS)
        made += [Bond(f"hinge-{hinge}", f"{hinge}-blade", slip) for hinge in hinges]
        made.append(Bond(f"bond-{slip}", slip, beyond))
    return tuple(made)


def _gaps(params: DoubleSlipParams, named: Mapping[str, str]) -> tuple[Gap, ...]:
    """Past the frogs: always where they are plastic, else where asked for."""
    if _is_live(params) and not params.frog_gaps:
        return ()
    return tuple(
        Gap(f"gap-frog-{end}", named[f"{end}-closure"], named[f"{end}-leg"]) for end in _ENDS
    )


def _contacts(params: DoubleSlipParams, named: Mapping[str, str]) -> tuple[Contact, ...]:
    """Live frogs: each closed blade passes supply on to the rail that it touches."""
    times = params.makes_at, params.breaks_at
    made = []
    for lever, positions in _LEVERS.items():
        for end in positions:
            when = (((lever, end),),)
            frog = named[f"{end}-blade"]
            made.append(Contact(f"straight-{end}", frog, _RUNS_TO[end], when, *times))
    for slip in _SLIPS:
        first, second = f"{slip[5]}-west", f"{slip[7]}-east"
        for lever, leads_to, touches in (("west", second, first), ("east", first, second)):
            when = (((lever, leads_to),),)
            frog = named[f"{touches}-closure"]
            made.append(Contact(f"{slip}-{lever}", slip, frog, when, *times))
    return tuple(made)


# -- what its parts are --------------------------------------------------------------


def double_slip_roles(piece: Piece) -> dict[Key, Role]:
    """What the parts of a double slip are; a leg is called by its end, ``A west``."""
    found: dict[Key, Role] = {}
    for end in _ENDS:
        track, _, side = end.partition("-")
        leg = f"{track} {side}"
        found["section", f"{end}-leg"] = Role("leg rail", way=leg)
        found["section", f"{end}-closure"] = Role("closure rail", way=leg)
        found["section", f"{end}-blade"] = Role("blade", way=leg)
        found["section", _frog_at(end)] = Role("frog", side=side)
        found["gap", f"gap-frog-{end}"] = Role("heel gap", way=leg)
        found["bond", f"hinge-{end}"] = Role("hinge", way=leg)
        found["bond", f"link-{end}"] = Role("link", way=leg)
        found["bond", f"bond-{end}"] = Role("stock bond", way=leg)
        found["contact", f"straight-{end}"] = Role("blade contact", way=leg)
        found["end", end] = Role("end", track=track, side=side)
        found["route", f"{track}-west-{track}-east"] = Role("track", track=track)
    for slip, (outer, _) in _SLIPS.items():
        first, second = slip[5], slip[7]
        ends = f"{first} west", f"{second} east"
        found["section", outer] = Role("outer rail", diagonal=ends)
        found["section", slip] = Role("slip rail", diagonal=ends)
        found["bond", f"bond-{slip}"] = Role("slip bond", diagonal=ends)
        found["route", f"{first}-west-{second}-east"] = Role("slip", diagonal=ends)
        for half in _LEVERS:
            blade = Role("slip blade", diagonal=ends, half=half)
            found["section", f"{slip}-{half}-blade"] = blade
            found["bond", f"hinge-{slip}-{half}"] = Role("slip hinge", diagonal=ends, half=half)
            found["contact", f"{slip}-{half}"] = Role("slip contact", diagonal=ends, half=half)
    for lever in _LEVERS:
        found["lever", lever] = Role("lever", side=lever)
    return found
