"""A network as it is seen from some of its nodes."""

from __future__ import annotations

from dataclasses import dataclass

from sim.circuit.matrix import Matrix

#: Ports whose mutual resistance is more than this are of one island (ohm).
SAME_ISLAND_OHM = 0.5


@dataclass(frozen=True, slots=True)
class Ports:
    """The network seen from some of its nodes, for m ports and s supplies.

    ``ohm`` (m, m): volts at one port that an ampere drawn at another costs;
    ``share`` (m, s): volts at a port for a volt of each supply; ``short_a`` (s, s):
    amps of each supply for a volt of each, nothing drawn.  An ampere drawn at a
    port adds ``share[port, supply]`` to that supply's current.  ``island`` gives by
    port the first port of its island, ``feeds`` by such a port the supplies of it.
    """

    ohm: list[list[float]]
    share: list[list[float]]
    short_a: list[list[float]]
    island: list[int]
    feeds: dict[int, tuple[int, ...]]


def ports_of(ohm: Matrix, share: Matrix, short_a: Matrix) -> Ports:
    """Ports in plain numbers, and which of them are of one island."""
    together = ohm > SAME_ISLAND_OHM
    island = together.argmax(axis=1).tolist() if len(ohm) else []
    shares = share.tolist()
    feeds = {
        head: tuple(s for s, part in enumerate(shares[head]) if part != 0.0)
        for head in dict.fromkeys(island)
    }
    return Ports(ohm.tolist(), shares, short_a.tolist(), island, feeds)
