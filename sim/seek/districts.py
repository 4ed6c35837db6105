"""Which rails each supply is meant to feed: declared, or taken from the layout as built."""

from __future__ import annotations

from dataclasses import dataclass

from sim.layout.model import Layout
from sim.power.settings import rest_positions
from sim.power.trace import trace

NOT_DECLARED = (
    "the file declares no districts, so the rails that each supply reaches with all levers "
    "at rest are taken for its own"
)


@dataclass(frozen=True, slots=True)
class Homes:
    """``of`` gives a node's district by number, ``supply`` that district's supply."""

    of: dict[int, int]
    supply: tuple[int, ...]
    note: str | None = None

    def supply_of(self, node: int) -> int | None:
        """The supply that a node is meant to be fed by, if that is known."""
        district = self.of.get(node)
        return None if district is None else self.supply[district]


def homes_of(layout: Layout) -> Homes:
    """The declared districts, else one for each supply as the rails are fed at rest."""
    if layout.districts:
        of = {n: number for number, d in enumerate(layout.districts) for n in d.nodes}
        return Homes(of, tuple(d.supply for d in layout.districts))
    every = tuple(range(len(layout.supplies)))
    if len(every) < 2:
        return Homes({}, every)
    traced = trace(layout, [tuple(rest_positions(layout))])
    found: dict[int, int] = {}
    for node in range(len(layout.nodes)):
        supplies = {p // 2 for p in traced.poles_at(node, 0)}
        if len(supplies) == 1:
            found[node] = supplies.pop()
    return Homes(found, every, NOT_DECLARED)


def isolated(layout: Layout, a: int, b: int) -> bool:
    """Whether two supplies have no way back to each other."""
    one, other = layout.supplies[a].common, layout.supplies[b].common
    return a != b and (one is None or one != other)
