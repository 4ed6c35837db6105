"""What is told of the volts of a layout, setting by setting."""

from __future__ import annotations

from dataclasses import dataclass

from sim.circuit.standing import Standing
from sim.circuit.starting import StartingTrain


@dataclass(frozen=True, slots=True)
class Weakest:
    """The place of a section at which a starting train gets least."""

    section: str
    route: str
    place_mm: float
    open_v: float
    volts: float

    @property
    def drop(self) -> float:
        """Share of the volts that is lost, 0 to 1."""
        return 1.0 - self.volts / self.open_v


@dataclass(frozen=True, slots=True)
class FarEnd:
    """The place of a module with the greatest loop resistance, and a coin laid there.

    ``loop_ohm`` goes from the supply to the place and back, through the supply.
    ``trips`` are the supplies that trip; ``weak`` those that feed the coin and do not.
    """

    module: str
    route: str
    place_mm: float
    open_v: float
    loop_ohm: float
    short_a: float
    trips: tuple[str, ...]
    weak: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class SettingVolts:
    """One setting: sections, modules, and what costs the weakest place of all most."""

    levers: tuple[tuple[str, str], ...]
    sections: tuple[Weakest, ...]
    modules: tuple[FarEnd, ...]
    costs: tuple[tuple[str, float], ...]
    #: the same summed by kind: rail, joiner, contact, feeder, bus, ..., supply
    kinds: tuple[tuple[str, float], ...]
    #: what supplies give that the wiring shorts in this setting
    shorted: tuple[Standing, ...] = ()

    @property
    def weakest(self) -> Weakest | None:
        """The section that loses the greatest share."""
        return max(self.sections, key=lambda s: s.drop, default=None)


@dataclass(frozen=True, slots=True)
class VoltsReport:
    """All settings that were worked out; ``skipped`` says why some were not."""

    scenario: str
    fix: str | None
    train: StartingTrain
    settings: tuple[SettingVolts, ...]
    total: int
    skipped: str | None
