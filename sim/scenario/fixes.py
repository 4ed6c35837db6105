"""Tables of the file that state a fix: everything a builder can change."""

from __future__ import annotations

from typing import Any

from pydantic import Field, field_validator

from sim.scenario.fields import (
    Glob,
    LengthText,
    Model,
    Name,
    PositiveLength,
    Probability,
    Ref,
    Seconds,
    Text,
    Wire,
    expected,
)
from sim.scenario.supplies import FeederTable, JumperTable
from sim.scenario.tracks import GapTable

AS_BUILT = "as built"


class AddedLengthTable(Model):
    """A feeder length put between an end and what it was joined to."""

    at: Ref = Field(description="'module/piece/end'")
    name: Name = Field(description="It becomes 'module/name'.")
    length_mm: PositiveLength


class AlterTable(Model):
    """A library piece with other parameters, or another kind in its place."""

    piece: Ref = Field(description="'module/piece'")
    set: dict[str, Any] = Field(
        min_length=1,
        description="Parameters to change, 'opens', 'fails' and 'contact_ohm' too; "
        "'kind': a whole new piece.",
    )


class ChangeoverTable(Model):
    """A changeover contact on a lever, feeding one section either way."""

    section: Ref = Field(description="Id of the section that it feeds.")
    lever: Ref = Field(description="Id of the lever it is on.")
    to: dict[str, Ref] = Field(
        min_length=1, description="By position of the lever: the section it connects to."
    )
    opens: Probability = 0.0


class EnergyStoreTable(Model):
    """An energy store put into a train."""

    train: Name
    energy_store_s: Seconds


class RewireTable(Model):
    """Other wire in the place of wires that are there: a thicker bus, shorter drops."""

    of: Glob = Field(
        description="Name of a bus, feeder or jumper, or a pattern over them: both wires of "
        "a bus or feeder are changed."
    )
    wire: Wire
    length: LengthText | None = Field(
        default=None, description="Length of each wire; default: as long as before."
    )


class FixTable(Model):
    """One fix: changes that are made together."""

    name: Name
    note: Text = ""
    jumper: tuple[JumperTable, ...] = ()
    feeder: tuple[FeederTable, ...] = ()
    added_length: tuple[AddedLengthTable, ...] = ()
    rewire: tuple[RewireTable, ...] = ()
    gap: tuple[GapTable, ...] = ()
    cut: tuple[Ref, ...] = Field(
        default=(), description="Ids of bonds, jumpers, joiners or feeders to take away."
    )
    alter: tuple[AlterTable, ...] = ()
    changeover: tuple[ChangeoverTable, ...] = ()
    solder: tuple[Glob, ...] = Field(
        default=(), description="Joiners to solder, patterns allowed."
    )
    reverse: tuple[Name, ...] = Field(default=(), description="Supplies whose phase is turned.")
    energy_store: tuple[EnergyStoreTable, ...] = ()
    clean: tuple[Glob, ...] = Field(
        default=(), description="Contacts to clean, patterns allowed."
    )
    clean_opens: Probability = Field(
        default=0.0, description="Probability per throw that a cleaned contact stays open."
    )

    @field_validator("name")
    @classmethod
    def _not_reserved(cls, name: str) -> str:
        if name == AS_BUILT:
            raise expected(f"a name other than {AS_BUILT!r}, which means no fix")
        return name
