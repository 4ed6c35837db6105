"""Which units touch each other: by pickups that join sections, or by one island."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from sim.circuit.ports import Ports
from sim.power.wiring import Forest


@dataclass(frozen=True, slots=True)
class Group:
    """Units that touch each other; their sides and further ones that only join; the
    supplies that feed them."""

    units: tuple[int, ...]
    sides: tuple[int, ...]
    fed: tuple[int, ...]


def grouped(ports: Ports, sides: Sequence[tuple[int, ...]], units: int) -> list[Group]:
    """All groups; ``sides`` gives the islands under each side."""
    return [_group(ports, *found) for found in _touching(len(ports.island), sides, units)]


def _group(ports: Ports, units: list[int], joins: list[int], heads: list[int]) -> Group:
    sides = [side for u in units for side in (2 * u, 2 * u + 1)] + joins
    fed = sorted({s for head in {*heads} for s in ports.feeds[head]})
    return Group(tuple(units), tuple(sides), tuple(fed))


def _touching(
    islands: int, sides: Sequence[tuple[int, ...]], units: int
) -> list[tuple[list[int], list[int], list[int]]]:
    """Units, sides that only join, and islands that go together.

    ``sides`` gives the islands under each side.  A unit whose two sides are on
    islands that nothing joins has no way back: it is left out, but for pickups of
    one side that join two places.
    """
    joined = Forest(islands)
    for side in sides:
        for other in side[1:]:
            joined.join(side[0], other)
    group_of = [joined.find(side[0]) if side else -1 for side in sides]
    groups: dict[int, tuple[list[int], list[int], list[int]]] = {}

    def group(number: int) -> tuple[list[int], list[int], list[int]]:
        found = groups.setdefault(group_of[number], ([], [], []))
        found[2].extend(sides[number])
        return found

    for unit in range(units):
        even, odd = 2 * unit, 2 * unit + 1
        if group_of[even] == group_of[odd] >= 0:
            group(even)[0].append(unit)
            group(odd)
        else:
            for number in (even, odd):
                if len(sides[number]) > 1:
                    group(number)[1].append(number)
    for number in range(2 * units, len(sides)):
        group(number)[1].append(number)
    return list(groups.values())
