"""A scissors crossover: four turnouts and a diamond between two tracks.

The diagonal rails belong to the track whose stock rail they continue: the south
rail of X1 is ``A-inner-west`` up to its gap before the frog of BE, the north
rail ``B-inner-east`` from its gap past the frog of AW.  The diamond cuts them
into short lengths that factory strips join again: one section each.
"""

from __future__ import annotations

from dataclasses import replace
from math import tan
from typing import Literal

from pydantic import Field

from sim.pieces import crossover
from sim.pieces.crossover import CrossParams, CrossShape, assemble, draft
from sim.pieces.diamond import CORNER_SHARE, CornerWork, corner_roles, let_in_corners
from sim.pieces.families import DIVERGING, THROUGH, Role, Wiring
from sim.pieces.geometry import between_frogs_mm, diamond_corners, mm
from sim.pieces.model import Condition, Gang, Gap, Piece, Section
from sim.pieces.parameters import Problem, raise_problems
from sim.pieces.rails import Draft, Rail, make_pads, rail
from sim.pieces.roles import Key
from sim.pieces.roles import Role as PartRole

#: where a diagonal is cut past a frog when nothing else is asked for, mm (assumption)
_GAP_PAST_FROG_MM = 3.0
_GANGS: dict[str, tuple[Gang, ...]] = {
    "all": (Gang("all", ("AW", "AE", "BW", "BE")),),
    "per diagonal": (Gang("X1", ("AW", "BE")), Gang("X2", ("BW", "AE"))),
    "single": (),
}
_CORNER_NOTE = (
    "north and south diamond corners are bonded to the outer rails of A and B: right only "
    "while both tracks are in phase"
)


class ScissorsParams(CrossParams):
    """A scissors crossover of turnouts AW, AE, BW and BE; X1 AW to BE, X2 BW to AE."""

    centre_gap: bool = Field(
        default=True,
        description="A gap in the inner rail of each track, midway between its two frogs.",
    )
    x1_north_gap_mm: float | None = Field(
        default=None,
        description="Place of the gap in X1's north rail along A-west to B-east, mm; just past "
        "the frog of AW by default.",
    )
    x1_south_gap_mm: float | None = Field(
        default=None,
        description="Place of the gap in X1's south rail along A-west to B-east, mm; just "
        "before the frog of BE by default.",
    )
    x2_north_gap_mm: float | None = Field(
        default=None,
        description="Place of the gap in X2's north rail along B-west to A-east, mm; just "
        "before the frog of AE by default.",
    )
    x2_south_gap_mm: float | None = Field(
        default=None,
        description="Place of the gap in X2's south rail along B-west to A-east, mm; just past "
        "the frog of BW by default.",
    )
    corners: Literal["plastic", "fed"] = Field(
        default="plastic",
        description="Diamond corners: plastic, or metal that bonds and contacts feed.",
    )
    corner_mm: float | None = Field(
        default=None,
        ge=0.1,
        description="Length of a diamond corner along a rail, mm; by default two thirds of the "
        "gauge.",
    )
    gangs: Literal["all", "per diagonal", "single"] = Field(
        default="all", description="Which levers are meant to move together."
    )


def build_scissors(params: ScissorsParams) -> Piece:
    """Build a scissors crossover, or raise :class:`~sim.pieces.parameters.PieceError`."""
    problems: list[Problem] = []
    if params.corners == "fed" and params.gangs == "all":
        problems.append(
            (
                "corners",
                "'plastic' with gangs 'all': with all four levers alike nothing tells X1 from "
                "X2, and the west and east corners need opposite poles in each",
                "'fed'",
            )
        )
    shape = crossover.cross_shape(params, problems)
    raise_problems(problems)  # what follows needs a shape that exists
    corner_mm = params.corner_mm or params.gauge_mm * CORNER_SHARE
    _check_room(params, shape, corner_mm, problems)
    raise_problems(problems)
    places = _gap_places(params, shape, corner_mm, problems)
    raise_problems(problems)
    return _assemble(params, shape, corner_mm, places)


def _assemble(
    params: ScissorsParams, shape: CrossShape, corner_mm: float, places: dict[str, float]
) -> Piece:
    wirings = crossover.wire_turnouts(params, _names(params.centre_gap))
    mains = _mains(shape, wirings)
    (x1, x2), work = _with_corners(params, shape, corner_mm, _diagonals(shape, wirings, places))
    drafts = (*mains, x1, x2)
    piece = assemble("scissors crossover", params, shape, drafts, wirings, _GANGS[params.gangs])
    sections = (
        *(s.name for s in piece.sections if s.name not in work.sections),
        *work.sections,
    )
    notes: tuple[str, ...] = (
        f"diamond corners {corner_mm:.3g} mm long along each rail (assumption)",
    )
    if work.sections:
        notes += (_CORNER_NOTE,)
    return replace(
        piece,
        sections=tuple(Section(name) for name in sections),
        bonds=piece.bonds + work.bonds,
        gaps=piece.gaps + _cuts(params, wirings) + work.gaps,
        contacts=piece.contacts + work.contacts,
        pads=make_pads(sections, drafts, params.gauge_mm),
        crossings=(("A-west-B-east", "B-west-A-east"),),
        notes=piece.notes + notes,
    )


def _names(centre_gap: bool) -> dict[str, dict[Role, str]]:
    """The piece's names for the rails of its turnouts."""
    names: dict[str, dict[Role, str]] = {}
    for turnout in ("AW", "AE", "BW", "BE"):
        track = turnout[0]
        end = "west" if turnout[1] == "W" else "east"
        mid = f"{track}-mid-{end}" if centre_gap else f"{track}-mid"
        names[turnout] = {"SN": f"{track}-outer", "SS": f"{track}-inner-{end}", "HT": mid}
    return names


def _check_room(
    params: ScissorsParams, shape: CrossShape, corner_mm: float, problems: list[Problem]
) -> None:
    """Rail between the frogs on the through tracks and on the diagonals, and a diamond."""
    switch = shape.switch
    mid = between_frogs_mm(switch.gauge_mm, shape.centres_mm, switch.frog_angle_rad) - 2.0 * (
        switch.frog_heel_mm - switch.lead_mm
    )
    if mid < 1.0:
        # that stretch grows by 1 / tan F with the centres
        least = params.track_centres_mm + (1.0 - mid) * tan(switch.frog_angle_rad)
        expected = f"at least {least:.3f} mm for 1 mm of rail between the frogs of one track"
        found = f"{params.track_centres_mm:g} mm"
        problems.append(("track_centres_mm", expected, found))
    _, _, _, east = diamond_corners(switch.gauge_mm, 2.0 * switch.turn_rad)
    most = 2.0 * min(east.first_mm, switch.gauge_mm / 2.0)
    if corner_mm > most:
        problems.append(("corner_mm", f"at most {most:.3f} mm", f"{corner_mm:g} mm"))
    crossover.check_centres(shape, 2.0 * _GAP_PAST_FROG_MM + 2.0 * corner_mm, problems)


def _gap_places(
    params: ScissorsParams, shape: CrossShape, corner_mm: float, problems: list[Problem]
) -> dict[str, float]:
    """Where the four rails of the diagonals are cut, in mm along their routes."""
    near = shape.frog_heel_mm + _GAP_PAST_FROG_MM
    far = shape.diagonal_mm - near
    asked = {
        "x1_north_gap_mm": (params.x1_north_gap_mm, near, "left", "first"),
        "x1_south_gap_mm": (params.x1_south_gap_mm, far, "right", "first"),
        "x2_north_gap_mm": (params.x2_north_gap_mm, far, "left", "second"),
        "x2_south_gap_mm": (params.x2_south_gap_mm, near, "right", "second"),
    }
    places = {}
    for field, (place, default, side, which) in asked.items():
        places[field] = mm(default if place is None else place)
        crossover.check_gap(field, places[field], shape, problems)
        for low, high in _corner_ranges(shape, corner_mm, side, which):
            if low <= places[field] <= high:
                expected = f"a place outside the diamond corner at {low:.3f} to {high:.3f} mm"
                problems.append((field, expected, f"{places[field]:g} mm"))
    return places


def _corner_ranges(
    shape: CrossShape, corner_mm: float, side: str, which: str
) -> list[tuple[float, float]]:
    """Stretches that diamond corners take of one rail of the first or second diagonal."""
    ranges = []
    for corner in diamond_corners(shape.switch.gauge_mm, 2.0 * shape.switch.turn_rad):
        first = which == "first"
        if (corner.first if first else corner.second) == side:
            at = shape.diagonal_mm / 2.0 + (corner.first_mm if first else corner.second_mm)
            ranges.append((mm(at - corner_mm / 2.0), mm(at + corner_mm / 2.0)))
    return ranges


def _mains(shape: CrossShape, wirings: dict[str, Wiring]) -> tuple[Draft, Draft]:
    """The routes along A and along B."""
    middle = mm(shape.length_mm / 2.0)

    def inner(track: str) -> Rail:
        west = crossover.west_inner(shape, wirings[f"{track}W"], middle, THROUGH)
        return west + crossover.east_inner(shape, wirings[f"{track}E"], middle, THROUGH)

    a_outer, b_outer = (crossover.plain_rail(f"{track}-outer", shape) for track in "AB")
    return (
        draft(shape, "A-west", "A-east", a_outer, inner("A"), ("AW", "AE")),
        draft(shape, "B-west", "B-east", inner("B"), b_outer, ("BW", "BE")),
    )


def _diagonals(
    shape: CrossShape, wirings: dict[str, Wiring], places: dict[str, float]
) -> tuple[Draft, Draft]:
    """X1 and X2 before the diamond is let in."""

    def from_west(turnout: str, gap_mm: float, beyond: str) -> Rail:
        past = crossover.west_inner(shape, wirings[turnout], gap_mm, DIVERGING)
        return past + crossover.onward(beyond, gap_mm, shape)

    def from_east(turnout: str, gap_mm: float, before: str) -> Rail:
        past = crossover.east_inner(shape, wirings[turnout], gap_mm, DIVERGING)
        return rail((before, gap_mm)) + past

    x1_left = from_west("AW", places["x1_north_gap_mm"], "B-inner-east")
    x1_right = from_east("BE", places["x1_south_gap_mm"], "A-inner-west")
    x2_left = from_east("AE", places["x2_north_gap_mm"], "B-inner-west")
    x2_right = from_west("BW", places["x2_south_gap_mm"], "A-inner-east")
    return (
        draft(shape, "A-west", "B-east", x1_left, x1_right, ("AW", "BE")),
        draft(shape, "B-west", "A-east", x2_left, x2_right, ("BW", "AE")),
    )


def _with_corners(
    params: ScissorsParams, shape: CrossShape, corner_mm: float, diagonals: tuple[Draft, Draft]
) -> tuple[tuple[Draft, Draft], CornerWork]:
    corners = diamond_corners(shape.switch.gauge_mm, 2.0 * shape.switch.turn_rad)
    return let_in_corners(
        diagonals,
        corners,
        corner_mm,
        bonded_to={"north": "A-outer", "south": "B-outer"},
        conditions=(_only(("AW", "BE"), ("BW", "AE")), _only(("BW", "AE"), ("AW", "BE"))),
        fed=params.corners == "fed",
    )


def _only(these: tuple[str, str], not_both: tuple[str, str]) -> Condition:
    """One diagonal is set and the other is not: at least one of its levers is through."""
    levers = (*these, *not_both)
    clauses = []
    for through in not_both:
        set_so = (*((lever, DIVERGING) for lever in these), (through, THROUGH))
        clauses.append(tuple(sorted(set_so, key=lambda pair: levers.index(pair[0]))))
    return tuple(clauses)


def _cuts(params: ScissorsParams, wirings: dict[str, Wiring]) -> tuple[Gap, ...]:
    """The cuts of the diagonals past their frogs, and the centre gaps."""

    def past_frog(turnout: str) -> str:
        return str(wirings[turnout].section_of["HD"])

    cuts: tuple[Gap, ...] = (
        Gap("gap-X1-north", past_frog("AW"), "B-inner-east"),
        Gap("gap-X1-south", "A-inner-west", past_frog("BE")),
        Gap("gap-X2-north", "B-inner-west", past_frog("AE")),
        Gap("gap-X2-south", past_frog("BW"), "A-inner-east"),
    )
    if params.centre_gap:
        cuts += tuple(
            Gap(f"gap-{track}-centre", f"{track}-mid-west", f"{track}-mid-east")
            for track in "AB"
        )
    return cuts


def scissors_roles(piece: Piece) -> dict[Key, PartRole]:
    """What the parts of a scissors crossover are."""
    halved = any(gap.name == "gap-A-centre" for gap in piece.gaps)
    names = _names(halved)
    found = crossover.cross_roles(piece, names) | corner_roles(crossover.DIAGONALS)
    for turnout, own in names.items():
        track, half = turnout[0], own["HT"].rpartition("-")[2] if halved else ""
        mid: Key = ("section", own["HT"])
        with_frog = mid in found
        if not (halved and with_frog):  # else it is a frog and what is left of the rail
            found[mid] = PartRole("mid rail", track=track, half=half, with_frog=with_frog)
        found["gap", f"gap-{track}-centre"] = PartRole("centre gap", track=track)
    return found
