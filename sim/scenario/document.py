"""The whole scenario file as it was written: inert, checked against its schema only."""

from __future__ import annotations

from typing import Annotated, Any, Literal

from pydantic import BeforeValidator, Field

from sim.scenario.faults import FaultTable
from sim.scenario.fields import (
    Glob,
    Length,
    Model,
    Ohm,
    Probability,
    Seconds,
    SomeSeconds,
    SpeedMm,
    Title,
    expected,
)
from sim.scenario.fixes import FixTable
from sim.scenario.supplies import BusTable, DistrictTable, FeederTable, JumperTable, SupplyTable
from sim.scenario.tracks import GapTable, JoinerTable, JoinTable, LineTable, ModuleTable
from sim.scenario.trains import ThrowTable, TrainTable


def _no_bool(value: Any) -> Any:
    if isinstance(value, bool):  # Python takes true for 1
        raise expected("1")
    return value


FormatVersion = Annotated[Literal[1], BeforeValidator(_no_bool)]


class RunTable(Model):
    """How a run is conducted."""

    duration_s: SomeSeconds | None = None
    throw_s: Seconds | None = Field(default=None, description="How long a lever takes to move.")
    nudge_after_s: Seconds | None = Field(
        default=None, description="Until a hand moves a stalled train."
    )
    nudge_mm: Length | None = Field(default=None, description="How far the hand moves it.")
    nudge_speed_mm_s: SpeedMm | None = None
    nudges_at_most: int | None = Field(default=None, ge=0, le=10_000)
    headway_mm: Length | None = Field(
        default=None, description="Clear length behind another train."
    )


class AssumptionsTable(Model):
    """Numbers that nobody has published; give your own where you have measured."""

    contact_opens: Probability | None = Field(
        default=None, description="Per throw: a contact that should close stays open."
    )
    lever_fails: Probability | None = Field(
        default=None, description="Per throw: a member of a gang stays where it was."
    )
    lever_stays: Probability | None = Field(
        default=None, description="Per throw: a lever of its own stays where it was."
    )
    contact_ohm: Ohm | None = Field(default=None, description="A good contact.")
    joiner_ohm: Ohm | None = Field(default=None, description="A clean joiner.")
    tired_ohm: Ohm | None = Field(default=None, description="A tired contact or joiner.")
    solder_ohm: Ohm | None = Field(default=None, description="A soldered joiner.")
    bond_ohm: Ohm | None = Field(default=None, description="A strip or wire inside a piece.")
    common_ohm: Ohm | None = Field(default=None, description="A wire to a shared common.")
    rail_ohm_m: Ohm | None = Field(default=None, description="One metre of one rail.")
    pickup_ohm: Ohm | None = Field(
        default=None, description="One pickup: wheel on rail and wiper on wheel."
    )
    wire_celsius: float | None = Field(
        default=None, ge=-40, le=120, description="Temperature of the wires, degrees C."
    )


class Scenario(Model):
    """A layout, its trains, its timetable and the fixes to compare.

    Made by :func:`sim.scenario.read.read_scenario`; lengths are mm of the model.
    """

    format: FormatVersion = Field(description="Version of this format.")
    title: Title
    scale_ratio: float = Field(gt=0, le=1000, description="160 for 1:160.")
    gauge_mm: float = Field(ge=1, le=500, description="Inside width between the rails.")
    supply: tuple[SupplyTable, ...] = ()
    bus: tuple[BusTable, ...] = ()
    district: tuple[DistrictTable, ...] = ()
    piece: tuple[dict[str, Any], ...] = Field(
        default=(), description="Kinds of piece described rail by rail."
    )
    module: tuple[ModuleTable, ...] = Field(min_length=1)
    line: tuple[LineTable, ...] = ()
    join: tuple[JoinTable, ...] = ()
    gap: tuple[GapTable, ...] = ()
    joiner: tuple[JoinerTable, ...] = ()
    feeder: tuple[FeederTable, ...] = ()
    jumper: tuple[JumperTable, ...] = ()
    train: tuple[TrainTable, ...] = ()
    throw: tuple[ThrowTable, ...] = ()
    fault: tuple[FaultTable, ...] = ()
    keep_live: tuple[Glob, ...] = Field(
        default=(),
        description="Sections or routes that have to be live in every setting in use, even "
        "where no train is: 'module/piece/name', or a pattern.",
    )
    run: RunTable = RunTable()
    assumptions: AssumptionsTable = AssumptionsTable()
    fix: tuple[FixTable, ...] = ()

    @property
    def fix_names(self) -> tuple[str, ...]:
        """Names of the fixes, in the order of the file."""
        return tuple(fix.name for fix in self.fix)

    def fix_named(self, name: str) -> FixTable | None:
        """The fix of that name, or None."""
        return next((fix for fix in self.fix if fix.name == name), None)
