"""A train compiled for motion: where its pickups are and how they are wired."""

from __future__ import annotations

from dataclasses import dataclass

from sim.layout.traffic import Motor, Train

UM_PER_MM = 1000


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
    units: list[Unit] = []
    counts: list[int] = []
    wheels: list[int] = []
    start = 0
    unit, names, motors = first_unit, [], []
    counts += [0, 0]
    for i, v in enumerate(train.vehicles):
        length = round(v.length_mm * UM_PER_MM)
        names.append(v.name)
        if v.motor is not None:
            motors.append(v.motor)
        offsets = []
        for is_left, places in ((True, v.pickups_left_mm), (False, v.pickups_right_mm)):
            for place_mm in places:
                place = round(place_mm * UM_PER_MM)
                offset = start + (length - place if v.turned else place)
                left = is_left != v.turned
                side = 2 * unit + (0 if left else 1)
                local = side - 2 * first_unit
                pickups.append(Pickup(offset, left, side, counts[local]))
                counts[local] += 1
                offsets.append(offset)
        wheels += [min(offsets), max(offsets)] if offsets else [start, start + length]
        start += length
        last = i == len(train.vehicles) - 1
        if last or not v.shares_with_next:
            name = " + ".join(names)
            units.append(Unit(unit, name, 2 * unit, 2 * unit + 1, tuple(motors)))
            if not last:
                unit, names, motors = unit + 1, [], []
                counts += [0, 0]
    pickups.sort(key=lambda p: (p.offset_um, not p.left, p.side, p.slot))
    consist = Consist(start, wheels[0], wheels[-1], tuple(pickups), tuple(units))
    return consist, counts
