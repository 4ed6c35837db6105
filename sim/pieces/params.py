"""What every kind's parameters have in common."""

from __future__ import annotations

from typing import Literal

from pydantic import BaseModel, ConfigDict, Field

from sim.pieces.family import Family
from sim.pieces.geometry import FrogRule
from sim.pieces.model import Cover, RunThrough

#: beyond this a length is a slip of the keyboard, not track
LONGEST_MM = 100_000.0
Hand = Literal["left", "right"]


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

    frog_number: float = Field(
        default=6.0, ge=2.0, le=30.0, description="Frog number N: how slender the frog is."
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
        description="Length of the frog from toe to heel, mm; by default in the proportions "
        "of NMRA RP-12.7.",
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
