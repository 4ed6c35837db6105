"""Why a supply tripped, in words that can be checked, and which trains did it."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING

from sim.motion.cause import nodes_under, rails_of

if TYPE_CHECKING:
    from sim.motion.mover import Mover
    from sim.motion.world import World


def explain_trip(world: World, supply: int) -> tuple[tuple[str, ...], list[Mover]]:
    """What shorts ``supply``, and the trains without which it would not be shorted."""
    name = world.layout.supplies[supply].name
    culprits = _culprits(world, supply)
    amps = world.supply.amps(supply)
    if not world.supply.is_shorted(supply) and amps is not None:
        trip_a = world.layout.supplies[supply].trip_a
        lines = [f"{name} gives {abs(amps):.2f} A, more than the {trip_a:g} A it trips at"]
        return (*lines, "its trains together draw more than it has"), []
    lines = [f"{name} is shorted"]
    if not culprits:
        lines.append("by the wiring itself, in this setting")
    for mover in culprits:
        lines.append(f"{mover.train.name} joins rails of different poles at {mover.route_id()}")
        lines += _joined_by(world, mover)
    return tuple(lines), culprits


def _culprits(world: World, supply: int) -> list[Mover]:
    """Trains that each make the short; else all that only make it together, or each anew."""
    bridging = world.supply.bridging_units()
    units: dict[Mover, list[int]] = {}
    for unit in bridging:
        units.setdefault(world.unit_owner[unit], []).append(unit)
    alone = [
        mover for mover, own in units.items() if supply not in world.supply.shorted_without(own)
    ]
    if alone or supply in world.supply.shorted_without(bridging):
        return alone
    return list(units)


def _joined_by(world: World, mover: Mover) -> Iterator[str]:
    for unit in mover.road.path.consist.units:
        for word, side in zip(("left", "right"), rails_of(mover, unit), strict=True):
            if len(world.supply.labels(side)) > 1:
                names = ", ".join(world.layout.nodes[n] for n in nodes_under(mover, side))
                yield f"{unit.name}: its pickups on the {word} rail stand on {names}"
