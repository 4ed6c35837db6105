"""Tables of the file that say where the supply comes from."""

from __future__ import annotations

from typing import Literal

from pydantic import Field, model_validator

from sim.scenario.fields import (
    Ampere,
    Glob,
    LengthText,
    Model,
    Name,
    Ohm,
    Ref,
    Seconds,
    Volt,
    Wire,
    expected,
)


class SupplyTable(Model):
    """A cab or booster with two poles."""

    name: Name = Field(description="Its poles are called name+ and name-.")
    kind: Literal["dc", "digital"] = Field(
        default="dc", description="dc: the throttle is the supply's; digital: the train's."
    )
    voltage_v: Volt | None = Field(default=None, description="Open-circuit voltage.")
    internal_ohm: Ohm | None = Field(default=None, description="Internal resistance.")
    trip_a: Ampere | None = Field(default=None, description="Current at which it trips.")
    trip_s: Seconds | None = Field(default=None, description="How long that current must last.")
    retry_s: Seconds | Literal["never"] | None = Field(
        default=None, description="Pause before it tries again; 'never': it stays off."
    )
    reversed: bool = Field(default=False, description="The phase is turned at the supply.")
    common: Name | None = Field(
        default=None,
        description="Supplies that name the same common have their minus poles joined.",
    )


class BusTable(Model):
    """A pair of heavy wires from a supply, on which feeders are dropped."""

    name: Name
    supply: Name
    wire: Wire = "AWG 14"
    length: LengthText = Field(
        default=0.0,
        description="From the supply to where the feeders drop, one way; taken as one place.",
    )


class DistrictTable(Model):
    """The rails that one supply is meant to feed."""

    name: Name
    supply: Name
    sections: tuple[Glob, ...] = Field(
        min_length=1, description="Section ids, or patterns over them."
    )


class FeederTable(Model):
    """A pair of wires from a supply or a bus to two rail sections."""

    name: Name
    supply: Name | None = None
    bus: Name | None = None
    plus: Ref = Field(description="Id of a section or pad for the plus wire.")
    minus: Ref = Field(description="Id of a section or pad for the minus wire.")
    wire: Wire | None = None
    length: LengthText | None = Field(
        default=None, description="Length of each of the two wires."
    )
    connected: bool = Field(default=True, description="false: the feeder is lifted.")
    permanent: bool = Field(
        default=False,
        description="true: its wires stay between the boards, so that a feeder to another "
        "board than its supply's need not be laid anew at every show.",
    )

    @model_validator(mode="after")
    def _one_source(self) -> FeederTable:
        if (self.supply is None) == (self.bus is None):
            raise expected("either 'supply' or 'bus', and not both")
        return self


class JumperTable(Model):
    """A wire between two pads or sections."""

    name: Name | None = Field(default=None, description="Default: 'jumper 1', 'jumper 2', ...")
    start: Ref = Field(alias="from", description="Id of a pad or section.")
    to: Ref = Field(description="Id of a pad or section.")
    wire: Wire | None = None
    length: LengthText | None = None
    way: Literal["inside", "under the board"] | None = Field(
        default=None,
        description="By default inside where both ends are on one covered piece.",
    )
