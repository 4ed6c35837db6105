"""A diamond crossing, and the corners of any diamond.

The four corners of a diamond, let into the rails of two crossing routes.

A diamond crossing: two tracks cross on the level, nothing moves.

Track A runs west to east along the drawing; track B crosses it in the middle
and goes off to the left (north-east) or to the right.  The corners are plastic;
under them factory strips carry each rail through, so a rail is one section.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from math import ceil, cos, degrees, radians, sin

from pydantic import Field

from sim.pieces import geometry
from sim.pieces.geometry import Corner, FrogRule, Pose, diamond_corners, mm
from sim.pieces.model import Bond, Condition, Contact, End, Gap, Outward, Piece, Section
from sim.pieces.parameters import LONGEST_MM, USUAL_FROGS, Hand, Params, Problem, raise_problems
from sim.pieces.rails import Draft, finish_route, let_in, make_pads, rail, section_at
from sim.pieces.roles import Key, Role
from sim.pieces.turnout import LEAST_RAIL_MM

#: length of a diamond corner as a share of the gauge (assumption)
CORNER_SHARE = 2.0 / 3.0


@dataclass(frozen=True, slots=True)
class CornerWork:
    """What metal corners add to a piece; empty where they are plastic."""

    sections: tuple[str, ...] = ()
    bonds: tuple[Bond, ...] = ()
    gaps: tuple[Gap, ...] = ()
    contacts: tuple[Contact, ...] = ()


def let_in_corners(
    drafts: tuple[Draft, Draft],
    corners: Sequence[Corner],
    corner_mm: float,
    bonded_to: Mapping[str, str] | None = None,
    conditions: tuple[Condition, Condition] = ((), ()),
    fed: bool = False,
) -> tuple[tuple[Draft, Draft], CornerWork]:
    """Put the corners into both routes, plastic or as sections ``D-north`` and so on.

    ``bonded_to`` names the rail of each corner whose pole is fixed; the other
    corners are fed through contacts from the rail that they interrupt on the
    route that is set, under that route's condition.
    """
    first, second = drafts
    work = CornerWork()
    for corner in corners:
        rails = _sections_beside(drafts, corner)
        name = f"D-{corner.name}" if fed else None
        first = _let_in(first, corner.first, corner.first_mm, corner_mm, name)
        second = _let_in(second, corner.second, corner.second_mm, corner_mm, name)
        if name is not None:
            target = (bonded_to or {}).get(corner.name)
            work = _add(work, name, rails, target, conditions)
    return (first, second), work


def _sections_beside(drafts: tuple[Draft, Draft], corner: Corner) -> tuple[str, str]:
    """The rails that a corner interrupts, on the first and on the second route."""
    found = []
    sides = ((corner.first, corner.first_mm), (corner.second, corner.second_mm))
    for draft, (side, place_mm) in zip(drafts, sides, strict=True):
        laid = draft.left if side == "left" else draft.right
        found.append(str(section_at(laid, draft.length_mm / 2.0 + place_mm)))
    return found[0], found[1]


def _let_in(
    draft: Draft, side: str, place_mm: float, corner_mm: float, name: str | None
) -> Draft:
    at = draft.length_mm / 2.0 + place_mm
    low, high = at - corner_mm / 2.0, at + corner_mm / 2.0
    if side == "left":
        return replace(draft, left=let_in(draft.left, low, high, name))
    return replace(draft, right=let_in(draft.right, low, high, name))


def _add(
    work: CornerWork,
    name: str,
    rails: tuple[str, str],
    target: str | None,
    conditions: tuple[Condition, Condition],
) -> CornerWork:
    gaps = tuple(
        Gap(f"gap-{name}-{route}", name, beside)
        for route, beside in zip(("X1", "X2"), rails, strict=True)
    )
    bonds: tuple[Bond, ...] = ()
    contacts: tuple[Contact, ...] = ()
    if target is not None:
        bonds = (Bond(f"bond-{name}", name, target),)
    else:
        contacts = tuple(
            Contact(f"{name}-{route}", name, beside, condition)
            for route, beside, condition in zip(("X1", "X2"), rails, conditions, strict=True)
        )
    return CornerWork(
        (*work.sections, name),
        work.bonds + bonds,
        work.gaps + gaps,
        work.contacts + contacts,
    )


def corner_roles(routes: Mapping[str, tuple[str, ...]]) -> dict[Key, Role]:
    """What the parts of metal corners are; ``routes`` are the two diagonals, by name."""
    found: dict[Key, Role] = {}
    for side in ("north", "south", "west", "east"):
        name = f"D-{side}"
        found["section", name] = Role("corner", side=side)
        found["bond", f"bond-{name}"] = Role("corner bond", side=side)
        for route, ends in routes.items():
            gap = Role("corner gap", side=side, diagonal=ends)
            contact = Role("corner contact", side=side, diagonal=ends)
            found["gap", f"gap-{name}-{route}"] = gap
            found["contact", f"{name}-{route}"] = contact
    return found


_SECTIONS = ("A-north", "A-south", "B-north", "B-south")


class DiamondParams(Params):
    """A diamond crossing; its angle comes from a frog number or is given."""

    frog_number: float | None = Field(
        default=None,
        ge=0.5,
        le=30.0,
        description="Number of the crossing's sharp frogs. By default 8, or the next lower "
        "whole number that the given length has room for.",
    )
    frog_rule: FrogRule = Field(
        default="american",
        description="How N gives the angle: american 2·atan(1/(2N)), tangent atan(1/N).",
    )
    angle_deg: float | None = Field(
        default=None,
        ge=2.0,
        le=90.0,
        description="Angle between the tracks, degrees; given instead of a frog number.",
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
        description="Length of a plastic corner along a rail, mm; by default two thirds of the "
        "gauge.",
    )


def build_diamond(params: DiamondParams) -> Piece:
    """Build a diamond crossing, or raise :class:`~sim.pieces.parameters.PieceError`."""
    angle = (
        radians(params.angle_deg)
        if params.angle_deg is not None
        else geometry.frog_angle_rad(params.frog_number or USUAL_FROGS[0], params.frog_rule)
    )
    corner_mm = params.corner_mm or params.gauge_mm * CORNER_SHARE
    corners = diamond_corners(params.gauge_mm, angle)
    length = _length(params, corners, corner_mm)
    signed = angle if params.hand == "left" else -angle
    drafts, _ = let_in_corners(
        _tracks(length, signed), _handed(corners, params.hand), corner_mm
    )
    return Piece(
        kind="diamond crossing",
        gauge_mm=params.gauge_mm,
        sections=tuple(Section(name) for name in _SECTIONS),
        ends=tuple(end for draft in drafts for end in _ends(draft)),
        routes=tuple(finish_route(draft) for draft in drafts),
        pads=make_pads(_SECTIONS, drafts, params.gauge_mm),
        crossings=(("A-west-A-east", "B-west-B-east"),),
        notes=(
            f"crossing angle {degrees(angle):.3f} degrees",
            f"plastic corners {corner_mm:.3g} mm long along each rail (assumption)",
            "solder places and their sizes are assumptions: measure the piece",
        ),
    )


def _length(params: DiamondParams, corners: tuple[Corner, ...], corner_mm: float) -> float:
    """Length of both tracks in mm; raises where the diamond does not fit."""
    problems: list[Problem] = []
    north, _, _, east = corners
    most = east.first_mm - north.first_mm - LEAST_RAIL_MM
    if corner_mm > most:
        problems.append(("corner_mm", f"at most {most:.3f} mm", f"{corner_mm:g} mm"))
    across = 2.0 * east.first_mm + corner_mm
    length = params.length_mm or float(ceil(across + 2.0 * params.gauge_mm))
    need = across + 2.0 * LEAST_RAIL_MM
    if length < need:
        expected = f"at least {need:.3f} mm for the diamond"
        problems.append(("length_mm", expected, f"{length:g} mm"))
    raise_problems(problems)
    return mm(length)


def _handed(corners: tuple[Corner, ...], hand: Hand) -> tuple[Corner, ...]:
    """Corners of a crossing to the right are those to the left with sides exchanged."""
    if hand == "left":
        return corners
    return tuple(
        Corner(c.name, _other(c.first), _other(c.second), c.first_mm, c.second_mm)
        for c in corners
    )


def _other(side: str) -> geometry.SideName:
    return "right" if side == "left" else "left"


def _tracks(length_mm: float, angle_rad: float) -> tuple[Draft, Draft]:
    """A along the drawing and B through its middle."""
    half = length_mm / 2.0
    b_start = Pose(
        half - half * cos(angle_rad), -half * sin(angle_rad), geometry.deg(angle_rad)
    )
    course = geometry.strokes([(length_mm, 0.0)])
    tracks = []
    for track, pose in (("A", Pose(0.0, 0.0, 0.0)), ("B", b_start)):
        north, south = rail((f"{track}-north", length_mm)), rail((f"{track}-south", length_mm))
        tracks.append(Draft(f"{track}-west", f"{track}-east", pose, course, north, south))
    return tracks[0], tracks[1]


def _ends(draft: Draft) -> tuple[End, End]:
    track = draft.start[0]
    finish = geometry.walk(draft.course, draft.pose)
    places: tuple[tuple[Outward, Pose, float], ...] = (
        ("west", draft.pose, 180.0),
        ("east", finish, 0.0),
    )
    ends = []
    for outward, pose, turn in places:
        heading = geometry.outward_heading_deg(pose.heading_deg + turn)
        ends.append(
            End(
                f"{track}-{outward}",
                outward,
                f"{track}-north",
                f"{track}-south",
                mm(pose.x_mm),
                mm(pose.y_mm),
                heading,
            )
        )
    return ends[0], ends[1]


def diamond_roles(piece: Piece) -> dict[Key, Role]:
    """What the parts of a diamond crossing are: the rails, ends and routes of two tracks."""
    found: dict[Key, Role] = {}
    for section in piece.sections:
        track, _, side = section.name.partition("-")
        found["section", section.name] = Role("rail", track=track, side=side)
    for end in piece.ends:
        track, _, side = end.name.partition("-")
        found["end", end.name] = Role("end", track=track, side=side)
    for route in piece.routes:
        found["route", route.name] = Role("track", track=route.name[0])
    return found
