"""Hands on the throttles: on DC they belong to the supply, on digital to the train."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import TYPE_CHECKING

from sim.motion.consist import UM_PER_MM
from sim.power.poles import sources_of

if TYPE_CHECKING:
    from sim.motion.mover import Mover
    from sim.motion.world import World


class Throttles:
    """The voltage of every supply at every instant.

    A DC throttle is set once for the slowest of the trains that stand on it; it is
    not nursed.  It is closed while one of them is to stand, and then they run out.
    A train that has no orders (any more) is not asked: it runs along.  The
    direction is given by the first train that stands on the supply at the start,
    and turned by orders; a supply that no train stands on is turned along with it,
    as by a driver who means to cross over: its plus pole is above its minus pole
    where the other's is.
    """

    def __init__(self, world: World) -> None:
        self._world = world
        supplies = world.layout.supplies
        self._dc = [s.kind == "dc" for s in supplies]
        self._nominal = [s.volts for s in sources_of(supplies)]
        self.signs = [1] * len(supplies)
        self._share = [0.0 if dc else 1.0 for dc in self._dc]
        #: DC supplies whose direction waits for the train that is to have it
        self._waiting: dict[int, Mover] = {}

    def volts(self, steps: Iterable[tuple[int, int]]) -> float:
        """The present voltage that ``steps`` add up to."""
        total = 0.0
        for s, sign in steps:
            total += sign * self.signs[s] * self._share[s] * self._nominal[s]
        return total

    def asks(self, supplies: Iterable[int], ordered: bool) -> bool:
        """Whether a train on ``supplies`` is asked to move.

        A digital supply is always on, so there the train's own orders decide.
        """
        return any(self._share[s] > 0.0 and (self._dc[s] or ordered) for s in supplies)

    def start(self) -> None:
        """Give every train its supply, and every DC supply its direction."""
        given: set[int] = set()
        for mover in self._world.movers:
            power = mover.power
            steps = self._world.supply.reading(power.unit.number).steps
            power.supplies = tuple(s for s, _ in steps) or self._likely(mover)
            for s in power.supplies:
                if self._dc[s] and s not in given and power.unit.motors:
                    given.add(s)
                    self._waiting[s] = mover
        self.meet(self._world.movers)
        self.look()

    def meet(self, movers: Iterable[Mover]) -> None:
        """Point supplies that wait for one of ``movers``, if they reach it now."""
        if not self._waiting:
            return
        for mover in movers:
            for s, sign in self._world.supply.reading(mover.power.unit.number).steps:
                if self._waiting.get(s) is mover:
                    del self._waiting[s]
                    self._point(s, sign, mover)

    def _point(self, s: int, sign: int, mover: Mover) -> None:
        """Turn supply ``s`` so that ``mover`` runs the way it faces."""
        even_is_left = mover.power.unit.left % 2 == 0
        even_above_odd = sign * self._nominal[s] > 0.0
        # Forward means right above left, so the even side lower where it is the left one.
        sign = 1 if even_above_odd != even_is_left else -1
        self._turn(dict.fromkeys((s, *self._idle()), sign))

    def _idle(self) -> list[int]:
        """DC supplies that no train stands on."""
        used = {s for m in self._world.movers if not m.gone for s in m.power.supplies}
        return [s for s, dc in enumerate(self._dc) if dc and s not in used]

    def _turn(self, signs: Mapping[int, int]) -> None:
        for s, sign in signs.items():
            self.signs[s] = sign
            self._world.supply.turn(s, sign)
        self._tell()
        self._world.request_solve()

    def _likely(self, mover: Mover) -> tuple[int, ...]:
        """The supply that a train without supply was put down for.

        That of a pole under one of its sides, else that of the district it
        stands in, else the first.
        """
        for pole in self._world.supply.reading(mover.power.unit.number).poles:
            if pole is not None:
                return (pole // 2,)
        path = mover.road.path
        nodes = {path.node_under(p, mover.s) for p in path.consist.pickups}
        for district in self._world.layout.districts:
            if not nodes.isdisjoint(district.nodes):
                return (district.supply,)
        return (0,) if self._dc else ()

    def reverse(self, mover: Mover) -> None:
        """The driver of ``mover`` turns the throttle of every DC supply it is on."""
        mine = [s for s in mover.power.supplies if self._dc[s]]
        if mine:
            signs = {s: -self.signs[s] for s in mine}
            self._turn({**dict.fromkeys(self._idle(), signs[mine[0]]), **signs})

    def look(self) -> None:
        """Set every DC throttle for the trains on it; tell those whose supply changes."""
        wanted: dict[int, list[float]] = {s: [] for s, dc in enumerate(self._dc) if dc}
        for mover in self._world.movers:
            if mover.ordered and not mover.gone and mover.power.unit.motors:
                for s in mover.power.supplies:
                    if self._dc[s]:
                        wanted[s].append(self._wanted(mover, s))
        changed = set()
        for s, shares in wanted.items():
            share = min(shares, default=0.0)
            if share != self._share[s]:
                self._share[s] = share
                changed.add(s)
        self._tell()
        if changed:
            for mover in self._world.movers:
                if not changed.isdisjoint(mover.power.supplies):
                    mover.power_changed()

    def _tell(self) -> None:
        """Tell the supplies what they give with nothing on them."""
        due = False
        for s, nominal in enumerate(self._nominal):
            sign = self.signs[s] if self._dc[s] else 1
            due |= self._world.supply.drive(s, sign * self._share[s] * nominal)
        if due:
            self._world.request_solve()

    def _wanted(self, mover: Mover, s: int) -> float:
        """The share of full voltage at which ``mover`` runs as ordered."""
        if mover.want <= 0.0:
            return 0.0
        motor = mover.power.unit.motors[0]
        speed = mover.want / UM_PER_MM
        span = motor.at_voltage_v - motor.turns_down_to_v
        volts = motor.turns_down_to_v + span * speed / motor.speed_mm_s
        return min(1.0, volts / abs(self._nominal[s]))
