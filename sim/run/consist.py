"""A train compiled for motion: where its pickups are and how they are wired."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from sim.layout.model import UM_PER_MM
from sim.layout.traffic import Motor, Train, Vehicle


@dataclass(frozen=True, slots=True)
class Pickup:
    """One pickup: ``offset_um`` behind the front, on a rail, wired to a side's slot."""

    offset_um: int
    left: bool
    side: int
    slot: int


@dataclass(frozen=True, slots=True)
class Unit:
    """Vehicles wired together. ``left`` and ``right`` are side numbers as it faces."""

    number: int
    name: str
    left: int
    right: int
    motors: tuple[Motor, ...]

    def turned(self) -> Unit:
        """The same unit when the train's other end leads."""
        return Unit(self.number, self.name, self.right, self.left, self.motors)


@dataclass(frozen=True, slots=True)
class Consist:
    """A train as motion sees it, front first. Offsets in micrometres from the front."""

    length_um: int
    first_wheel_um: int
    last_wheel_um: int
    pickups: tuple[Pickup, ...]
    units: tuple[Unit, ...]

    def turned(self) -> Consist:
        """The same train seen from its other end: left is right, rear is front."""
        n = self.length_um
        return Consist(
            n,
            n - self.last_wheel_um,
            n - self.first_wheel_um,
            tuple(
                Pickup(n - p.offset_um, not p.left, p.side, p.slot)
                for p in reversed(self.pickups)
            ),
            tuple(u.turned() for u in self.units),
        )


def compile_train(train: Train, first_unit: int) -> tuple[Consist, list[int]]:
    """The train's consist, and the number of pickups on each of its sides.

    Units are numbered from ``first_unit``; unit *u* has sides ``2u`` (left) and
    ``2u + 1`` (right).  The first and last wheel are the outermost pickups of
    the end vehicles, or their couplings where they have none.
    """
    pickups: list[Pickup] = []
    counts: list[int] = []
    wheels: list[int] = []
    units: list[Unit] = []
    start = 0
    for group in _wired_together(train.vehicles):
        side = 2 * (first_unit + len(units))
        counts += [0, 0]
        for v in group:
            length = round(v.length_mm * UM_PER_MM)
            places = list(_pickups(v, start, length))
            for offset, left in places:
                odd = 0 if left else 1
                slot = counts[odd - 2]
                pickups.append(Pickup(offset, left, side + odd, slot))
                counts[odd - 2] += 1
            offsets = [offset for offset, _ in places] or [start, start + length]
            wheels += [min(offsets), max(offsets)]
            start += length
        motors = tuple(v.motor for v in group if v.motor is not None)
        name = " + ".join(v.name for v in group)
        units.append(Unit(first_unit + len(units), name, side, side + 1, motors))
    pickups.sort(key=lambda p: (p.offset_um, not p.left, p.side, p.slot))
    return Consist(start, wheels[0], wheels[-1], tuple(pickups), tuple(units)), counts


def _wired_together(vehicles: Sequence[Vehicle]) -> Iterator[list[Vehicle]]:
    """Vehicles that share their pickups through the couplings between them."""
    group: list[Vehicle] = []
    for v in vehicles:
        group.append(v)
        if not v.shares_with_next:
            yield group
            group = []
    if group:
        yield group


def _pickups(v: Vehicle, start_um: int, length_um: int) -> Iterator[tuple[int, bool]]:
    """(offset from the front of the train, on its left rail) of every pickup of ``v``."""
    for is_left, places in ((True, v.pickups_left_mm), (False, v.pickups_right_mm)):
        for place_mm in places:
            place = round(place_mm * UM_PER_MM)
            yield start_um + (length_um - place if v.turned else place), is_left != v.turned
