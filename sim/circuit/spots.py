"""Places along the routes at which a train may stand."""

from __future__ import annotations

from collections.abc import Iterator
from typing import NamedTuple

from sim.circuit.network import Network
from sim.layout.model import PLASTIC, Layout
from sim.power.trace import Positions

#: Places are looked at this far apart at most (micrometres).
SPOT_UM = 100_000


class Spot(NamedTuple):
    """Two facing places of a route."""

    module: int
    route: int
    place_um: int
    left: int  #: section
    right: int
    left_node: int
    right_node: int


def spots_of(network: Network) -> Iterator[Spot]:
    """Places along every route, a cell of either rail apart at most."""
    layout = network.layout
    module_of = {p: n for n, m in enumerate(layout.modules) for p in m.pieces}
    for number, route in enumerate(layout.routes):
        for span in route.spans:
            if PLASTIC in (span.left, span.right) or span.to_um <= span.from_um:
                continue
            count = max(1, -(-(span.to_um - span.from_um) // SPOT_UM))
            for k in range(count):
                place = span.from_um + (span.to_um - span.from_um) * (2 * k + 1) // (2 * count)
                nodes = [
                    network.station(n, network.lines.along(n, number, place))
                    for n in (span.left, span.right)
                ]
                module = module_of.get(route.piece, -1)
                yield Spot(module, number, place, span.left, span.right, *nodes)


def is_set(layout: Layout, route: int, positions: Positions) -> bool:
    """Whether the levers give that route."""
    return all(positions[p.lever] == p.position for p in layout.routes[route].points)
