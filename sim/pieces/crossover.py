"""A single crossover, and what it shares with a scissors crossover.

What a single crossover and a scissors crossover share: two tracks, diagonals, ends.

Track A lies north, track B south; ``A-west`` is the origin.  The turnout that
stands on A at the west is ``AW``, and so on.  ``X1`` runs from AW to BE, ``X2``
from BW to AE.  Seen from their points AW and BE are right-hand, BW and AE
left-hand turnouts.

A single crossover: from track A at the west to track B at the east.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from math import ceil, sin, tan
from typing import Literal, cast

from pydantic import Field

from sim.pieces import geometry
from sim.pieces.families import (
    DIVERGING,
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
from sim.pieces.model import End, Gang, Gap, Lever, Outward, Piece, Points, Section
from sim.pieces.parameters import LONGEST_MM, Problem, SwitchParams, raise_problems
from sim.pieces.rails import Draft, Rail, finish_route, make_pads, rail, turned
from sim.pieces.roles import Key
from sim.pieces.roles import Role as PartRole
from sim.pieces.turnout import (
    LEAST_RAIL_MM,
    SHAPE_NOTES,
    SwitchShape,
    assumed_dead_mm,
    check_frog_gaps,
    inner_diverging,
    inner_through,
    switch_shape,
    too_short,
)

#: each diagonal: the turnouts that it goes from and to
DIAGONALS = {"X1": ("AW", "BE"), "X2": ("BW", "AE")}

#: spare length when none is asked for, both ends together, mm
_SPARE_MM = 5.0

#: section names without a turnout's prefix, in the order that names a merged one
PLAIN_NAMES = (
    "A-outer",
    "A-inner-west",
    "A-inner-east",
    "A-mid",
    "A-mid-west",
    "A-mid-east",
    "B-outer",
    "B-inner-west",
    "B-inner-east",
    "B-mid",
    "B-mid-west",
    "B-mid-east",
    "X1-north-west",
    "X1-south-east",
)


class CrossParams(SwitchParams):
    """Parameters of any piece that lets trains change between two tracks."""

    track_centres_mm: float = Field(
        gt=0.0, le=LONGEST_MM, description="Between the two centre lines, mm."
    )
    length_mm: float | None = Field(
        default=None,
        gt=0.0,
        le=LONGEST_MM,
        description="Length of the piece, mm; by default a little more than leads and frogs "
        "need.",
    )


@dataclass(frozen=True, slots=True)
class CrossShape:
    """Measures of a crossover in mm; both ends are alike."""

    switch: SwitchShape
    centres_mm: float
    length_mm: float
    tip_mm: float

    @property
    def diagonal_mm(self) -> float:
        """Length of a diagonal route, as its rounded course gives it."""
        return geometry.course_length_mm(geometry.strokes(self.diagonal(1.0)))

    def diagonal(self, sign: float) -> tuple[tuple[float, float], ...]:
        """Course parts of a diagonal that first turns left (1) or right (-1)."""
        switch = self.switch
        between = self.centres_mm / sin(switch.turn_rad)
        first, arc, _ = switch.leg(self.tip_mm, 0.0, sign)
        straight = (between - 2.0 * switch.tangent_mm, 0.0)
        return first, arc, straight, (arc[0], -arc[1]), first

    @property
    def frog_heel_mm(self) -> float:
        """Heel of the near frog on a diagonal, from the route's start."""
        return mm(self.tip_mm + self.switch.curved(self.switch.frog_heel_mm))

    @property
    def through_heel_mm(self) -> float:
        """Heel of the near frog on a through track, from the piece's end."""
        return mm(self.tip_mm + self.switch.frog_heel_mm)

    def course(self, start: str, finish: str) -> tuple[tuple[float, float], ...]:
        """Course parts of the route between two ends, west to east."""
        if start[0] == finish[0]:
            return ((self.length_mm, 0.0),)
        return self.diagonal(-1.0 if start[0] == "A" else 1.0)


def cross_shape(params: CrossParams, problems: list[Problem]) -> CrossShape:
    """Measures from parameters; what is impossible is added to ``problems``."""
    switch = switch_shape(params, problems)
    centres = params.track_centres_mm
    tips = 2.0 * switch.intersection_mm + centres / tan(switch.turn_rad)
    length = params.length_mm or float(ceil(tips + _SPARE_MM))
    need = tips + 2.0 * LEAST_RAIL_MM
    if length < need:
        parts = need, "two leads and the stretch between the frogs"
        problems.append(too_short(switch, params, parts, need - length, 2))
    return CrossShape(switch, centres, mm(length), mm((length - tips) / 2.0))


def check_centres(shape: CrossShape, least_mm: float, problems: list[Problem]) -> None:
    """The frogs of one diagonal must leave ``least_mm`` of rail between their heels."""
    switch = shape.switch
    between = shape.centres_mm / sin(switch.turn_rad)
    beyond = 2.0 * (switch.frog_heel_mm - switch.intersection_mm)
    if between - beyond < least_mm:
        least = (beyond + least_mm) * sin(switch.turn_rad)
        expected = f"at least {least:.3f} mm for rail between the frogs"
        problems.append(("track_centres_mm", expected, f"{shape.centres_mm:g} mm"))


def check_gap(field: str, place_mm: float, shape: CrossShape, problems: list[Problem]) -> None:
    """A gap of a diagonal lies between the heels of its two frogs."""
    low, high = shape.frog_heel_mm, mm(shape.diagonal_mm - shape.frog_heel_mm)
    if not low < mm(place_mm) < high:
        expected = f"a place between the frogs, {low:.3f} to {high:.3f} mm"
        problems.append((field, expected, f"{place_mm:g} mm"))


def wire_turnouts(
    params: CrossParams,
    names: Mapping[str, Mapping[Role, str]],
    cut_past_frog: tuple[Role, ...] = (),
) -> dict[str, Wiring]:
    """Wire the turnouts of a piece; ``names`` gives the piece's names for their rails."""
    return {
        turnout: wire(
            params.family,
            Fitting(
                turnout, f"{turnout}-", own, cut_past_frog, params.makes_at, params.breaks_at
            ),
        )
        for turnout, own in names.items()
    }


def west_inner(shape: CrossShape, wiring: Wiring, to_mm: float, position: str) -> Rail:
    """The frog-side rail of a route from a western turnout on, up to ``to_mm``."""
    curved = position == DIVERGING
    marks = shape.switch.marks(shape.tip_mm, curved=curved)
    lay = inner_diverging if curved else inner_through
    return lay(wiring.section_of, marks, to_mm)


def east_inner(shape: CrossShape, wiring: Wiring, from_mm: float, position: str) -> Rail:
    """The frog-side rail of a route into an eastern turnout, from ``from_mm`` on."""
    length = shape.diagonal_mm if position == DIVERGING else shape.length_mm
    return turned(west_inner(shape, wiring, length - from_mm, position), length)


def plain_rail(section: str, shape: CrossShape, position: str = THROUGH) -> Rail:
    """A rail that is one section from end to end of a route."""
    length = shape.diagonal_mm if position == DIVERGING else shape.length_mm
    return rail((section, length))


def up_to(section: str, to_mm: float) -> Rail:
    """A rail of one section from the start of a route to a place."""
    return rail((section, to_mm))


def onward(section: str, from_mm: float, shape: CrossShape) -> Rail:
    """A rail of one section from a place on a diagonal to its finish."""
    return turned(rail((section, shape.diagonal_mm - from_mm)), shape.diagonal_mm)


def draft(
    shape: CrossShape, start: str, finish: str, left: Rail, right: Rail, turnouts: Iterable[str]
) -> Draft:
    """A route west to east through the named turnouts."""
    diverging = start[0] != finish[0]
    course = geometry.strokes(shape.course(start, finish))
    length = geometry.course_length_mm(course)
    marks = shape.switch.marks(shape.tip_mm, curved=diverging)
    position = DIVERGING if diverging else THROUGH
    points = []
    for turnout in turnouts:
        tip, heel = marks.tip_mm, marks.heel_mm
        if turnout.endswith("E"):  # met from its frog
            tip, heel = mm(length - tip), mm(length - heel)
        points.append(Points(turnout, position, tip, heel))
    pose = Pose(0.0, 0.0 if start[0] == "A" else -mm(shape.centres_mm), 0.0)
    return Draft(start, finish, pose, course, left, right, tuple(points))


def cross_ends(shape: CrossShape) -> tuple[End, ...]:
    """The four ends; the inner rail of A is its south one, of B its north one."""
    ends = []
    for track, y_mm in (("A", 0.0), ("B", -mm(shape.centres_mm))):
        sides: tuple[tuple[Outward, float, float], ...] = (
            ("west", 0.0, 180.0),
            ("east", shape.length_mm, 0.0),
        )
        for outward, x_mm, heading in sides:
            outer, inner = f"{track}-outer", f"{track}-inner-{outward}"
            north, south = (outer, inner) if track == "A" else (inner, outer)
            name = f"{track}-{outward}"
            ends.append(End(name, outward, north, south, x_mm, y_mm, heading))
    return tuple(ends)


def order_sections(drafts: Iterable[Draft], wirings: Iterable[Wiring]) -> tuple[str, ...]:
    """Every section once: the plainly named first, then those of single turnouts."""
    found: dict[str | None, None] = {}
    for wiring in wirings:
        found.update(dict.fromkeys(wiring.section_of.values()))
    for d in drafts:
        found.update(dict.fromkeys(s.section for s in d.left + d.right))
    plain = [name for name in PLAIN_NAMES if name in found]
    return (*plain, *(name for name in found if name and name not in plain))


def assemble(
    kind: str,
    params: CrossParams,
    shape: CrossShape,
    drafts: tuple[Draft, ...],
    wirings: Mapping[str, Wiring],
    gangs: tuple[Gang, ...],
) -> Piece:
    """The piece of two tracks, without the gaps that belong to its kind."""
    sections = order_sections(drafts, wirings.values())
    return Piece(
        kind=kind,
        gauge_mm=params.gauge_mm,
        sections=tuple(Section(name) for name in sections),
        ends=cross_ends(shape),
        routes=tuple(finish_route(d) for d in drafts),
        bonds=tuple(bond for wiring in wirings.values() for bond in wiring.bonds),
        gaps=tuple(gap for wiring in wirings.values() for gap in wiring.gaps),
        contacts=tuple(contact for wiring in wirings.values() for contact in wiring.contacts),
        levers=tuple(Lever(name, run_through=params.run_through) for name in wirings),
        gangs=gangs,
        pads=make_pads(sections, drafts, params.gauge_mm),
        family=params.family,
        assumed_dead_mm=assumed_dead_mm(params),
        notes=SHAPE_NOTES,
        cover=params.cover,
    )


def cross_roles(piece: Piece, names: Mapping[str, Mapping[Role, str]]) -> dict[Key, PartRole]:
    """What the parts are that all such pieces have; ``names`` as in :func:`wire_turnouts`.

    Rails between the frogs are left to the kind.
    """
    family = cast(Family, piece.family)
    found: dict[Key, PartRole] = {}
    for turnout, own in names.items():
        cut = cut_past_frog(family, f"{turnout}-", piece.gaps)
        found |= turnout_roles(family, Fitting(turnout, f"{turnout}-", own, cut))
    for track in "AB":
        found["section", f"{track}-outer"] = PartRole("outer rail", track=track)
        for half in ("west", "east"):
            inner = PartRole("inner rail", track=track, half=half)
            found.setdefault(("section", f"{track}-inner-{half}"), inner)
            found["end", f"{track}-{half}"] = PartRole("end", track=track, side=half)
        found["route", f"{track}-west-{track}-east"] = PartRole("track", track=track)
    for name, ends in DIAGONALS.items():
        route = f"{ends[0][0]}-west-{ends[1][0]}-east"
        found["route", route] = PartRole("diagonal", diagonal=ends)
        for side in ("north", "south"):
            gap = PartRole("diagonal gap", diagonal=ends, side=side)
            found["gap", f"gap-{name}-{side}"] = gap
    return found


_NAMES: dict[str, dict[Role, str]] = {
    "AW": {"SN": "A-outer", "SS": "A-inner-west", "HT": "A-inner-east", "HD": "X1-north-west"},
    "BE": {"SN": "B-outer", "SS": "B-inner-east", "HT": "B-inner-west", "HD": "X1-south-east"},
}
_LEAST_BETWEEN_FROGS_MM = 1.0


class CrossoverParams(CrossParams):
    """A single crossover of turnouts AW and BE; both rails of the diagonal have a gap."""

    north_gap_mm: float | None = Field(
        default=None,
        description="Place of the gap in the diagonal's north rail along A-west to B-east, mm; "
        "middle by default.",
    )
    south_gap_mm: float | None = Field(
        default=None,
        description="Place of the gap in the diagonal's south rail along A-west to B-east, mm; "
        "middle by default.",
    )
    frog_gaps: bool = Field(
        default=False, description="Gaps past both frogs on the through tracks."
    )
    gangs: Literal["both", "single"] = Field(
        default="both", description="Whether the two levers are meant to move together."
    )


def build_crossover(params: CrossoverParams) -> Piece:
    """Build a single crossover, or raise :class:`~sim.pieces.parameters.PieceError`."""
    problems: list[Problem] = []
    shape = cross_shape(params, problems)
    check_frog_gaps(params, params.frog_gaps, problems)
    raise_problems(problems)  # what follows needs a shape that exists
    check_centres(shape, _LEAST_BETWEEN_FROGS_MM, problems)
    raise_problems(problems)
    middle = shape.diagonal_mm / 2.0
    north = mm(middle if params.north_gap_mm is None else params.north_gap_mm)
    south = mm(middle if params.south_gap_mm is None else params.south_gap_mm)
    check_gap("north_gap_mm", north, shape, problems)
    check_gap("south_gap_mm", south, shape, problems)
    raise_problems(problems)
    wirings = wire_turnouts(params, _NAMES, ("HT",) if params.frog_gaps else ())
    drafts = _drafts(shape, wirings, north, south)
    gangs = (Gang("X1", ("AW", "BE")),) if params.gangs == "both" else ()
    piece = assemble("single crossover", params, shape, drafts, wirings, gangs)
    return replace(piece, gaps=piece.gaps + _diagonal_gaps(wirings))


def _diagonal_gaps(wirings: dict[str, Wiring]) -> tuple[Gap, ...]:
    """The cuts in the two rails of the diagonal."""
    west, east = wirings["AW"].section_of["HD"], wirings["BE"].section_of["HD"]
    return (
        Gap("gap-X1-north", str(west), "B-inner-east"),
        Gap("gap-X1-south", "A-inner-west", str(east)),
    )


def _drafts(
    shape: CrossShape, wirings: dict[str, Wiring], north_mm: float, south_mm: float
) -> tuple[Draft, ...]:
    aw, be = wirings["AW"], wirings["BE"]
    a_inner = west_inner(shape, aw, shape.length_mm, THROUGH)
    b_inner = east_inner(shape, be, 0.0, THROUGH)
    north = west_inner(shape, aw, north_mm, DIVERGING)
    south = east_inner(shape, be, south_mm, DIVERGING)
    return (
        draft(shape, "A-west", "A-east", plain_rail("A-outer", shape), a_inner, ("AW",)),
        draft(shape, "B-west", "B-east", b_inner, plain_rail("B-outer", shape), ("BE",)),
        draft(
            shape,
            "A-west",
            "B-east",
            north + onward("B-inner-east", north_mm, shape),
            up_to("A-inner-west", south_mm) + south,
            ("AW", "BE"),
        ),
    )


def crossover_roles(piece: Piece) -> dict[Key, PartRole]:
    """What the parts of a single crossover are."""
    found = cross_roles(piece, _NAMES)
    for turnout, own in _NAMES.items():
        frog = PartRole("frog", turnout=turnout)
        rail: Key = ("section", own["HT"])
        track = turnout[0]
        half = own["HT"].rpartition("-")[2]
        # one metal with the frog it is still the rail that a builder sees
        found[rail] = PartRole("inner rail", track=track, half=half, turnout=turnout,
                               with_frog=found[rail] == frog)  # fmt: skip
        leg = PartRole("leg rail", turnout=turnout, way=DIVERGING)
        found.setdefault(("section", own["HD"]), leg)
    return found
