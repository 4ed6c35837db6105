"""Tables of the file that say what runs, and what it is told to do."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field, model_validator

from sim.scenario.fields import (
    Ampere,
    FileName,
    Length,
    Model,
    Name,
    NameOrFile,
    PositiveLength,
    Ref,
    Seconds,
    SomeSeconds,
    Speed,
    SpeedMm,
    Volt,
    expected,
)


class MotorTable(Model):
    """A motor between the left and the right pickups of its vehicle."""

    speed: Speed | None = Field(
        default=None, description="Speed at at_voltage_v, by a timed metre."
    )
    speed_mm_s: SpeedMm | None = Field(default=None, description="The same in mm/s.")
    at_voltage_v: Volt = Field(description="Voltage at which the speed was measured.")
    start_voltage_v: Volt | None = Field(
        default=None, description="Raise the throttle under a standing engine until it moves."
    )
    turns_down_to_v: Volt | None = Field(
        default=None, description="Lower the throttle under a running engine until it stops."
    )
    running_a: Ampere | None = Field(default=None, description="Meter in the feed, running.")
    blocked_a: Ampere | None = Field(
        default=None,
        description="Current with the wheels held for an instant: meter in the feed, throttle "
        "at blocked_at_v. Gives the resistance of the standing motor. Not longer: it gets hot.",
    )
    blocked_at_v: Volt | None = Field(
        default=None, description="Voltage at which blocked_a was measured; 12 V by default."
    )
    starting_a: Ampere | None = Field(
        default=None,
        description="Older way to say it, instead of blocked_a: the current at the start "
        "voltage, at the instant it moves off.",
    )
    minimum_v: Volt | None = Field(
        default=None, description="Digital: least track voltage at which the decoder works."
    )

    @model_validator(mode="after")
    def _one_speed(self) -> MotorTable:
        if (self.speed is None) == (self.speed_mm_s is None):
            raise expected("either 'speed' or 'speed_mm_s', and not both")
        return self

    @model_validator(mode="after")
    def _one_current(self) -> MotorTable:
        blocked = self.blocked_a is not None or self.blocked_at_v is not None
        if blocked and self.starting_a is not None:
            raise expected("'blocked_a' or 'starting_a', and not both")
        if self.blocked_at_v is not None and self.blocked_a is None:
            raise expected("'blocked_a' beside 'blocked_at_v'")
        return self


class VehicleTable(Model):
    """One vehicle, or several alike. Pickups are mm from its front coupling."""

    name: Name
    length_mm: PositiveLength
    pickups_mm: tuple[Length, ...] | None = Field(
        default=None, description="Pickups on both sides."
    )
    pickups_left_mm: tuple[Length, ...] | None = None
    pickups_right_mm: tuple[Length, ...] | None = None
    motor: MotorTable | None = None
    shares_with_next: bool = Field(
        default=False,
        description="Its pickups are wired through the coupling to the next vehicle's.",
    )
    turned: bool = Field(default=False, description="It faces the other way.")
    count: int = Field(default=1, ge=1, le=500, description="So many of them in a row.")

    @model_validator(mode="after")
    def _one_way_to_say_pickups(self) -> VehicleTable:
        sides = (self.pickups_left_mm, self.pickups_right_mm)
        if self.pickups_mm is not None and any(side is not None for side in sides):
            raise expected("pickups_mm, or pickups_left_mm and pickups_right_mm, not all")
        return self


class _Moving(Model):
    speed: Speed | None = Field(default=None, description="Default: the train's own.")
    speed_mm_s: SpeedMm | None = None
    backward: bool = Field(
        default=False, description="Turn the direction of travel for this order."
    )

    @model_validator(mode="after")
    def _one_speed(self) -> _Moving:
        if self.speed is not None and self.speed_mm_s is not None:
            raise expected("'speed' or 'speed_mm_s', and not both")
        return self


class Circulate(_Moving):
    """So many rounds of the track it stands on."""

    do: Literal["circulate"]
    laps: int = Field(default=1, ge=1, le=1_000_000)


class Cross(_Moving):
    """Over to the other track through a piece."""

    do: Literal["cross"]
    at: Ref = Field(description="'module/piece'")


class Stop(_Moving):
    """Run to a piece, stand on it, and start again."""

    do: Literal["stop"]
    on: Ref = Field(description="'module/piece'")
    place_mm: Length | None = Field(
        default=None,
        description="Where the front stands, from the start of the route, as a train's own.",
    )
    for_s: Seconds = 0.0


class Run(_Moving):
    """Run until the front reaches a piece."""

    do: Literal["run"]
    to: Ref = Field(description="'module/piece'")


class Wait(Model):
    """Stand still."""

    do: Literal["wait"]
    for_s: Seconds


class OrderThrow(Model):
    """Put a gang or lever to a position."""

    do: Literal["throw"]
    lever: Ref = Field(description="'module/piece/name' of a gang, or of a lever in none.")
    to: str = Field(max_length=80, description="Name of the position.")


OrderTable = Annotated[
    Circulate | Cross | Stop | Run | Wait | OrderThrow, Field(discriminator="do")
]


class TrainTable(Model):
    """A line of vehicles, front first, here or in a file of its own.

    Where the show and the file say the same key, the show's word counts.
    """

    name: Name = Field(description="What the train is called in this show.")
    file: FileName | None = Field(
        default=None,
        description="The train's own file: a path from the scenario's folder. A file is one "
        "train, so a show names it once.",
    )
    like: NameOrFile | None = Field(
        default=None,
        description="A train of this show, or the file of one, of the same kind: everything "
        "that is not said here is taken from there.",
    )
    at: Ref = Field(description="'module/piece' its front stands on.")
    route: str | None = Field(
        default=None, description="'start-finish', when the piece has several."
    )
    place_mm: Length = Field(description="Its front, from the start of the route.")
    heading: str | None = Field(
        default=None, description="End of the route that it faces; default: the route's finish."
    )
    speed: Speed | None = Field(default=None, description="Speed at which it is driven.")
    speed_mm_s: SpeedMm | None = None
    acceleration_mm_s2: SpeedMm | None = None
    braking_mm_s2: SpeedMm | None = None
    coasting_mm: Length | None = Field(
        default=None,
        description="Run-out from the speed below with the supply cut; 0: it stops dead.",
    )
    coasting_from: Speed | None = None
    coasting_from_mm_s: SpeedMm | None = None
    energy_store_s: Seconds | None = Field(
        default=None, description="How long it runs with the supply cut."
    )
    refill_s: SomeSeconds | None = Field(
        default=None, description="How long an empty store refills."
    )
    repeat: bool = Field(
        default=False, description="Begin the orders again when they are done."
    )
    vehicle: tuple[VehicleTable, ...] = Field(min_length=1)
    orders: tuple[OrderTable, ...] = ()

    @model_validator(mode="after")
    def _speeds(self) -> TrainTable:
        if (self.speed is None) == (self.speed_mm_s is None):
            raise expected("either 'speed' or 'speed_mm_s', and not both")
        if self.coasting_from is not None and self.coasting_from_mm_s is not None:
            raise expected("'coasting_from' or 'coasting_from_mm_s', and not both")
        return self


class ThrowTable(Model):
    """A throw by the clock."""

    at_s: Seconds
    lever: Ref = Field(description="'module/piece/name' of a gang, or of a lever in none.")
    to: str | tuple[str, ...] = Field(
        description="Name of the position; a list is taken in turn when it repeats."
    )
    every_s: SomeSeconds | None = Field(default=None, description="Repeat until the run ends.")

    @model_validator(mode="after")
    def _turns(self) -> ThrowTable:
        if isinstance(self.to, tuple) and not self.to:
            raise expected("at least one position in 'to'")
        if isinstance(self.to, tuple) and len(self.to) > 1 and self.every_s is None:
            raise expected("one position, or every_s when 'to' lists several")
        return self

    @property
    def turns(self) -> tuple[str, ...]:
        """The positions it takes in turn."""
        return (self.to,) if isinstance(self.to, str) else self.to
