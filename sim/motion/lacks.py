"""Dropouts and hesitations of one train, written down as they end."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

from sim.motion.ledger import seconds
from sim.records.model import Dropout, Hesitation, Kind

if TYPE_CHECKING:
    from sim.motion.mover import Mover
    from sim.motion.world import World

Where = Literal["pickups", "motor"]


@dataclass(slots=True)
class Lack:
    """An interval without usable supply that is not over yet."""

    since_us: int
    kind: Kind
    route: str
    section: str
    stood: bool


class Lacks:
    """The dropouts of one train: at its pickups, and (store empty) at its motor.

    A dropout of no length is none.
    """

    __slots__ = ("_mover", "_open", "_world")

    def __init__(self, world: World, mover: Mover) -> None:
        self._world = world
        self._mover = mover
        self._open: dict[Where, Lack] = {}

    def lacks(self, where: Where) -> bool:
        """Whether a dropout is under way."""
        return where in self._open

    def begin(self, where: Where, kind: Kind, side: int) -> None:
        """Supply is lost; ``side`` is the one whose section is named."""
        if where in self._open:
            return
        mover = self._mover
        path = mover.road.path
        pickup = next((p for p in path.consist.pickups if p.side == side), None)
        node = -1 if pickup is None else path.node_under(pickup, mover.s)
        section = self._world.layout.nodes[node] if node >= 0 else ""
        stood = mover.v == 0.0
        self._open[where] = Lack(self._world.now, kind, mover.route_id(), section, stood)

    def stood(self) -> bool:
        """The train has come to a stand without supply; True when it was moving before."""
        lack = self._open.get("motor")
        stopped = lack is not None and not lack.stood
        if lack is not None:
            lack.stood = True
        return stopped

    def end(self, where: Where, hesitates: bool = False) -> None:
        """Supply is back (or no longer asked for).

        ``hesitates``: it is a hesitation if the train has kept moving.
        """
        lack = self._open.pop(where, None)
        now = self._world.now
        if lack is None or lack.since_us == now:
            return
        name, since = self._mover.train.name, seconds(lack.since_us)
        length = seconds(now - lack.since_us)
        self._world.ledger.dropouts.append(Dropout(since, name, where, lack.kind, length))
        if hesitates and not lack.stood:
            self._world.ledger.hesitations.append(
                Hesitation(since, name, lack.route, lack.section, length)
            )
            self._world.journal.mark(self._mover, "hesitated")
