"""The places of a network that the pickups of each side stand on."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence

from sim.circuit.network import Network
from sim.layout.model import PLASTIC
from sim.motion.supply import Spot


class Stations:
    """By side: one place for each piece of metal under its pickups, looked up when asked.

    ``cluster_of`` gives the piece of metal of each node, one more entry standing for
    plastic; ``under`` the pieces under the pickups of each side, which others keep up
    to date: they say which sides have :meth:`moved`.
    """

    def __init__(
        self, network: Network, cluster_of: Sequence[int], under: Sequence[Sequence[int]]
    ) -> None:
        self._network, self._cluster_of, self._under = network, cluster_of, under
        self._where: Callable[[int, int], Spot] | None = None
        self._moved: set[int] = set(range(len(under)))
        self.nodes: list[tuple[int, ...]] = [()] * len(under)

    def locate(self, where: Callable[[int, int], Spot]) -> None:
        """Be told how to find out where a pickup stands."""
        self._where = where

    def moved(self, sides: Iterable[int]) -> None:
        """These sides have to be looked up again."""
        self._moved.update(sides)

    def look_up(self) -> bool:
        """Bring :attr:`nodes` up to date; True if any side had moved."""
        if not self._moved:
            return False
        for side in sorted(self._moved):
            self.nodes[side] = self._nodes_under(side)
        self._moved.clear()
        return True

    def _nodes_under(self, side: int) -> tuple[int, ...]:
        """What is in one piece counts as at the first of its pickups."""
        nowhere = len(self._cluster_of) - 1
        found: dict[int, int] = {}
        for slot, cluster in enumerate(self._under[side]):
            if cluster != nowhere and cluster not in found:
                found[cluster] = self._station(side, slot, cluster)
        return tuple(dict.fromkeys(found.values()))

    def _station(self, side: int, slot: int, cluster: int) -> int:
        network = self._network
        section = cluster
        if self._where is not None:
            route, place_um, node = self._where(side, slot)
            if node != PLASTIC and self._cluster_of[node] == cluster:
                section = node
                if len(network.cells[node]) > 1:
                    along = network.lines.along(node, route, round(place_um))
                    return network.station(node, along)
        return network.cells[section][0].node

    def middle(self, section: int) -> int:
        """A place on ``section``, about half way along it."""
        cells = self._network.cells[section]
        return cells[len(cells) // 2].node
