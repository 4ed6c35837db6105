"""What every kind's parameters have in common, and what is said when a piece cannot be built.

What is said when a piece cannot be built.

What every kind's parameters have in common.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any, Literal, cast

from pydantic import BaseModel, ConfigDict, Field, ValidationError

from sim.pieces.families import Family
from sim.pieces.geometry import FrogRule
from sim.pieces.model import Cover, RunThrough

#: (field, what was expected, what was found)
Problem = tuple[str, str, str]
_LONGEST_FOUND = 60


class PieceError(ValueError):
    """A piece that cannot exist; carries every problem found, not the first one.

    ``problems`` is a list of (field, expected, found), all of them text.
    """

    def __init__(self, problems: Iterable[Problem]) -> None:
        self.problems: list[Problem] = list(problems)
        super().__init__(
            "\n".join(
                f"{field}: expected {exp}, got {got}" for field, exp, got in self.problems
            )
        )


def raise_problems(problems: list[Problem]) -> None:
    """Raise :class:`PieceError` when there is anything in ``problems``."""
    if problems:
        raise PieceError(problems)


def validation_problems(error: ValidationError) -> list[Problem]:
    """What pydantic found, as (field, expected, found)."""
    problems: list[Problem] = []
    for item in error.errors(include_url=False):
        field = "".join(
            f"[{part}]" if isinstance(part, int) else f".{part}" for part in item["loc"]
        ).lstrip(".")
        problems.append((field or "piece", *_explain(cast("Mapping[str, Any]", item))))
    return problems


def _explain(item: Mapping[str, Any]) -> tuple[str, str]:
    """(expected, found) of one finding."""
    if item["type"] == "missing":
        return "a value", "nothing"
    if item["type"] == "extra_forbidden":
        return "no such field", _short(item["input"])
    expected = item["msg"].removeprefix("Input should be ").removeprefix("a valid ")
    found = item["input"]
    if isinstance(found, Mapping):
        return expected, "a table"
    if isinstance(found, list):
        return expected, "a list"
    return expected, _short(found)


def _short(found: object) -> str:
    """What was found, cut where it would fill the screen."""
    text = repr(found)
    return text if len(text) <= _LONGEST_FOUND else text[: _LONGEST_FOUND - 1] + "…"


#: beyond this a length is a slip of the keyboard, not track
LONGEST_MM = 100_000.0
Hand = Literal["left", "right"]
#: Frog numbers of pieces whose number is not given: the first that fits (our choice).
USUAL_FROGS = (8.0, 7.0, 6.0, 5.0, 4.0)


class Params(BaseModel):
    """Parameters of any kind of piece. Lengths in mm, angles in degrees."""

    model_config = ConfigDict(
        extra="forbid",
        frozen=True,
        strict=True,
        allow_inf_nan=False,
        defer_build=True,  # of most kinds no piece is there
    )

    gauge_mm: float = Field(
        ge=1.0, le=500.0, description="Between the inner faces of the rails, mm."
    )


class SwitchParams(Params):
    """Parameters of any piece with blades and frogs."""

    frog_number: float | None = Field(
        default=None,
        ge=2.0,
        le=30.0,
        description="Frog number N: how slender the frog is. By default 8, or the next lower "
        "whole number that the given length has room for.",
    )
    frog_rule: FrogRule = Field(
        default="american",
        description="How N gives the angle: american 2·atan(1/(2N)), tangent atan(1/N).",
    )
    family: Family = Field(
        default="live frog", description="Which rails are joined, cut and switched."
    )
    lead_mm: float | None = Field(
        default=None,
        gt=0.0,
        le=LONGEST_MM,
        description="Blade tip to frog point, mm; by default the simple lead 2·gauge·N.",
    )
    frog_dead_mm: float | None = Field(
        default=None,
        ge=0.1,
        le=LONGEST_MM,
        description="How long the frog interrupts its rail, mm. A plastic frog is dead for so "
        "long; a metal one is a section of its own, or part of one. Measure it with a lamp or "
        "a meter between the other rail and a probe that you slide along the frog's rail: from "
        "where it goes dark to where it lights again; with a metal frog between its gaps. "
        "By default, plastic: 15 mm in N, 16 in TT, 18 in HO, 25 in 0 (common practice, no "
        "source); metal: from toe to heel in the proportions of NMRA RP-12.7.",
    )
    cover: Cover = Field(default="metal", description="What closes the underside of the piece.")
    run_through: RunThrough = Field(
        default="forced over",
        description="What blades do when a train comes from the leg that is not set.",
    )
    makes_at: float = Field(
        default=1.0,
        ge=0.0,
        le=1.0,
        description="Share of the throw after which the new contact makes; below breaks_at "
        "it makes before the old one breaks.",
    )
    breaks_at: float = Field(
        default=0.0, ge=0.0, le=1.0, description="Share of the throw at which a contact breaks."
    )
