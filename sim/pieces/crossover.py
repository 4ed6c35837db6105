"""A single crossover: from track A at the west to track B at the east."""

from __future__ import annotations

from dataclasses import replace
from typing import Literal

from pydantic import Field

from sim.pieces import crosswork
from sim.pieces.crosswork import CrossParams, CrossShape, assemble, draft
from sim.pieces.errors import Problem, raise_problems
from sim.pieces.family import DIVERGING, THROUGH, Role, Wiring
from sim.pieces.geometry import mm
from sim.pieces.model import Gang, Gap, Piece
from sim.pieces.rails import Draft
from sim.pieces.turnout import check_frog_gaps

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
    """Build a single crossover, or raise :class:`~sim.pieces.errors.PieceError`."""
    problems: list[Problem] = []
    shape = crosswork.cross_shape(params, problems)
    check_frog_gaps(params, params.frog_gaps, problems)
    raise_problems(problems)  # what follows needs a shape that exists
    crosswork.check_centres(shape, _LEAST_BETWEEN_FROGS_MM, problems)
    raise_problems(problems)
    middle = shape.diagonal_mm / 2.0
    north = mm(middle if params.north_gap_mm is None else params.north_gap_mm)
    south = mm(middle if params.south_gap_mm is None else params.south_gap_mm)
    crosswork.check_gap("north_gap_mm", north, shape, problems)
    crosswork.check_gap("south_gap_mm", south, shape, problems)
    raise_problems(problems)
    wirings = crosswork.wire_turnouts(params, _NAMES, ("HT",) if params.frog_gaps else ())
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
    a_inner = crosswork.west_inner(shape, aw, shape.length_mm, THROUGH)
    b_inner = crosswork.east_inner(shape, be, 0.0, THROUGH)
    north = crosswork.west_inner(shape, aw, north_mm, DIVERGING)
    south = crosswork.east_inner(shape, be, south_mm, DIVERGING)
    return (
        draft(
            shape, "A-west", "A-east", crosswork.plain_rail("A-outer", shape), a_inner, ("AW",)
        ),
        draft(
            shape, "B-west", "B-east", b_inner, crosswork.plain_rail("B-outer", shape), ("BE",)
        ),
        draft(
            shape,
            "A-west",
            "B-east",
            north + crosswork.onward("B-inner-east", north_mm, shape),
            crosswork.up_to("A-inner-west", south_mm) + south,
            ("AW", "BE"),
        ),
    )
