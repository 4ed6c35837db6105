"""The form of a piece described rail by rail: what may be said, and in which words."""

from __future__ import annotations

from typing import Annotated

from pydantic import BaseModel, ConfigDict, Field

from sim.pieces.geometry import mm
from sim.pieces.model import Cover, Face, Outward, RunThrough

#: what a span says where there is no metal under the wheel
PLASTIC = "plastic"

Name = Annotated[str, Field(min_length=1, max_length=80, pattern=r"^[^/\s]([^/\n]*[^/\s])?$")]
#: what a part is called on pages: as free as a name
Words = Name
Length = Annotated[float, Field(ge=0.0, le=100_000.0)]
Place = Annotated[float, Field(ge=-100_000.0, le=100_000.0)]
Share = Annotated[float, Field(ge=0.0, le=1.0)]


class Form(BaseModel):
    """What all parts of a description share: strict, and nothing unknown."""

    model_config = ConfigDict(
        extra="forbid",
        frozen=True,
        strict=True,
        allow_inf_nan=False,
        populate_by_name=True,
        defer_build=True,  # many a run describes no piece of its own
    )


class DescribedJoin(Form):
    """A gap or a bond between two sections."""

    name: Name
    a: Name
    b: Name


class DescribedContact(Form):
    """A connection that holds while any of the tables in ``when`` holds whole."""

    name: Name
    a: Name
    b: Name
    when: list[dict[Name, Name]] = Field(
        min_length=1, description="Any one closes the contact; each maps levers to positions."
    )
    makes_at: Share = Field(default=1.0, description="Share of the throw after which it makes.")
    breaks_at: Share = Field(default=0.0, description="Share of the throw at which it breaks.")


class DescribedLever(Form):
    """One drive and its positions."""

    name: Name
    positions: list[Name] = Field(default=["through", "diverging"], min_length=2)
    rest: Name | None = Field(default=None, description="By default the first position.")
    run_through: RunThrough = "forced over"


class DescribedGang(Form):
    """Levers meant to move together."""

    name: Name
    levers: list[Name] = Field(min_length=2)


class DescribedPad(Form):
    """A place where a wire can be soldered; lengths in mm."""

    name: Name
    section: Name
    x_mm: Place | None = None
    y_mm: Place | None = None
    size_mm: Length = 3.0
    clearance_mm: Length = 2.0
    slides: bool = Field(default=False, description="A moving contact slides over it.")
    face: Face = "underside"
    drill: bool = Field(default=False, description="Nothing metal lies below it.")
    iron_s: float = Field(
        default=2.0, gt=0.0, le=60.0, description="How long an iron may touch it."
    )


class DescribedEnd(Form):
    """A place where another piece can join; lengths in mm, outward heading in degrees."""

    name: Name
    outward: Outward
    north: Name
    south: Name
    x_mm: Place | None = None
    y_mm: Place | None = None
    heading_deg: float | None = Field(default=None, ge=-360.0, le=360.0)
    joinable: bool = True


class DescribedSpan(Form):
    """A stretch of a route; ``left`` and ``right`` are sections or ``plastic``."""

    from_mm: Length
    to_mm: Length
    left: Name
    right: Name


class DescribedPoints(Form):
    """Where a route passes blades, mm from its start."""

    lever: Name
    position: Name
    tip_mm: Length
    heel_mm: Length


class DescribedStroke(Form):
    """A straight or an arc; a positive turn goes to the left."""

    length_mm: Length
    turn_deg: float = Field(default=0.0, ge=-720.0, le=720.0)


class DescribedRoute(Form):
    """One way through the piece, with both of its rails."""

    start: Name = Field(alias="from")
    finish: Name = Field(alias="to")
    length_mm: Length | None = Field(
        default=None, description="By default where the last span ends."
    )
    spans: list[DescribedSpan] = Field(min_length=1)
    points: list[DescribedPoints] = []
    course: list[DescribedStroke] = Field(default=[], description="By default one straight.")

    @property
    def name(self) -> str:
        """The route's name."""
        return f"{self.start}-{self.finish}"

    @property
    def whole_mm(self) -> float:
        """Length of the route in mm, given or from its spans."""
        return mm(self.spans[-1].to_mm if self.length_mm is None else self.length_mm)


class DescribedPiece(Form):
    """A piece described rail by rail. Lengths in mm."""

    kind: Annotated[str, Field(min_length=1, max_length=80)] = "described piece"
    gauge_mm: float = Field(ge=1.0, le=500.0)
    sections: list[Name] = Field(min_length=1)
    ends: list[DescribedEnd] = Field(min_length=1)
    routes: list[DescribedRoute] = Field(min_length=1)
    bonds: list[DescribedJoin] = []
    gaps: list[DescribedJoin] = []
    contacts: list[DescribedContact] = []
    levers: list[DescribedLever] = []
    gangs: list[DescribedGang] = []
    pads: list[DescribedPad] = []
    crossings: list[Annotated[list[Name], Field(min_length=2, max_length=2)]] = []
    family: str = ""
    notes: list[str] = []
    cover: Cover = Field(default="none", description="What closes its underside.")
    words: dict[Name, Words] = Field(
        default={},
        description="By name of a section, bond, gap, contact, lever or pad: what a page calls "
        "it; by default its name.",
    )
