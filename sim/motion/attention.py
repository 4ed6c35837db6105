"""When a driver looks again at what is ahead: at once, or after a moment."""

from __future__ import annotations

from typing import TYPE_CHECKING

from sim.motion.world import Turn

if TYPE_CHECKING:
    from sim.motion.mover import Mover
    from sim.motion.world import World

#: Looks of one train at one instant.  Trains in a ring look at each other; what the
#: last of them found is what the first saw, so a few rounds settle it.
LOOKS_AT_ONE_INSTANT = 50
#: How long a driver takes to see that the train ahead has changed its speed (µs).
#: Without it trains in a ring would match each other's speeds for ever.
REACTION_US = 50_000


class Attention:
    """Calls a train to look out again, once however many ask for it."""

    __slots__ = ("_count", "_due", "_mover", "_react_due", "_since", "_world")

    def __init__(self, world: World, mover: Mover) -> None:
        self._world = world
        self._mover = mover
        self._due = self._react_due = False
        self._since, self._count = 0, 0

    def request(self) -> None:
        """Look out later in this instant."""
        if not self._due and not self._mover.gone:
            self._due = True
            self._world.at(0, Turn.MOTION, self._look, None)

    def react(self) -> None:
        """The train ahead goes on otherwise, but not to a stand: see to it, in a moment."""
        if not self._react_due and not self._mover.gone:
            self._react_due = True
            self._world.at(REACTION_US, Turn.MOTION, self._reacted, None)

    def _reacted(self, _: None) -> None:
        self._react_due = False
        self._mover.replan()

    def _look(self, _: None) -> None:
        self._due = False
        now = self._world.now
        self._count = self._count + 1 if self._since == now else 1
        self._since = now
        if self._count <= LOOKS_AT_ONE_INSTANT:
            self._mover.replan()
