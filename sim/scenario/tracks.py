"""Tables of the file that lay the track: modules, their pieces, and how they join."""

from __future__ import annotations

from typing import Any, Literal

from pydantic import ConfigDict, Field, model_validator

from sim.scenario.fields import (
    Glob,
    Model,
    Name,
    Ohm,
    PositiveLength,
    Probability,
    Ref,
    expected,
)

Rails = Literal["both", "north", "south"]


class PieceTable(Model):
    """One piece of track on a module; further keys are its kind's own parameters."""

    model_config = ConfigDict(extra="allow")

    name: Name
    kind: str = Field(min_length=1, max_length=80)
    opens: dict[str, Probability] = Field(
        default_factory=dict,
        description="By contact: probability per throw that it does not close when it should.",
    )
    fails: dict[str, Probability] = Field(
        default_factory=dict,
        description="By lever: probability per throw that it stays where it was.",
    )
    contact_ohm: dict[str, Ohm] = Field(
        default_factory=dict, description="By contact: its resistance when it is closed."
    )

    @property
    def params(self) -> dict[str, Any]:
        """The parameters of its kind, as written."""
        return dict(self.model_extra or {})


class EndsTable(Model):
    """Ends of a module, each list from north to south."""

    west: tuple[Ref, ...] | None = Field(
        default=None, description="'piece/end' at the west edge."
    )
    east: tuple[Ref, ...] | None = Field(
        default=None, description="'piece/end' at the east edge."
    )


class ModuleTable(Model):
    """A portable board carrying pieces."""

    name: Name
    length_mm: PositiveLength | None = Field(default=None, description="Length of the board.")
    ends: EndsTable = Field(
        default_factory=EndsTable,
        description="Default: every unjoined end that leads out that way, in order of pieces.",
    )
    joins: tuple[tuple[Ref, Ref], ...] = Field(
        default=(), description="Pairs of 'piece/end' that meet within the module."
    )
    piece: tuple[PieceTable, ...] = Field(min_length=1)


class LineTable(Model):
    """Modules end to end: the east end of each meets the west end of the next."""

    modules: tuple[Name, ...] = Field(min_length=1)
    ring: bool = Field(default=False, description="The last module meets the first.")
    turned: tuple[Name, ...] = Field(
        default=(), description="Modules that stand turned round, west end to the east."
    )


class JoinTable(Model):
    """Two ends that meet, wherever they are."""

    a: Ref = Field(description="'module/piece/end'")
    b: Ref = Field(description="'module/piece/end'")


class GapTable(Model):
    """Insulated joiners at a joint, in place of metal ones."""

    at: Glob = Field(description="'module/piece/end', or a pattern over such ids.")
    rails: Rails = Field(default="both", description="As named in that end's own piece.")


class JoinerTable(Model):
    """What is known of the joiners at a joint."""

    at: Glob = Field(description="'module/piece/end', or a pattern over such ids.")
    rails: Rails = Field(default="both", description="As named in that end's own piece.")
    soldered: bool = False
    open: bool = Field(default=False, description="It has lost contact altogether.")
    resistance_ohm: Ohm | None = None

    @model_validator(mode="after")
    def _one_state(self) -> JoinerTable:
        said = [self.soldered, self.open, self.resistance_ohm is not None]
        if sum(said) != 1:
            raise expected("just one of soldered = true, open = true, resistance_ohm = ...")
        return self
