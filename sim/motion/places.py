"""Where a pickup stands, for those who need it nearer than the section."""

from __future__ import annotations

from typing import TYPE_CHECKING

from sim.motion.consist import Consist, Pickup
from sim.motion.supply import Spot

if TYPE_CHECKING:
    from sim.motion.world import World


class Places:
    """Finds pickups by side and slot; a train's own are looked up again when it turns."""

    def __init__(self, world: World) -> None:
        self._world = world
        self._known: dict[int, tuple[Consist, dict[tuple[int, int], Pickup]]] = {}

    def spot(self, side: int, slot: int) -> Spot:
        """Route, place from the route's start in micrometres, and node."""
        mover = self._world.unit_owner[side >> 1]
        path = mover.road.path
        known = self._known.get(mover.index)
        if known is None or known[0] is not path.consist:
            pickups = {(p.side, p.slot): p for p in path.consist.pickups}
            known = self._known[mover.index] = path.consist, pickups
        pickup = known[1][side, slot]
        front = mover.place_now()
        segment = path.at(front - pickup.offset_um)
        along = front - pickup.offset_um - segment.begin_um
        if not segment.forward:
            along = segment.end_um - segment.begin_um - along
        return segment.route, along, path.node_under(pickup, front)
