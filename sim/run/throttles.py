"""Hands on the throttles: on DC they belong to the supply, on digital to the train."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence

from sim.layout.model import UM_PER_MM, Layout
from sim.run.agenda import Once
from sim.run.supply import SupplyModel, ThrottleSettings
from sim.run.train import RunningTrain


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

    def __init__(
        self,
        layout: Layout,
        supply: SupplyModel,
        solution: Once,
        settings: ThrottleSettings,
        trains: Sequence[RunningTrain],
    ) -> None:
        self._layout, self._supply, self._solution = layout, supply, solution
        self._throttled, self._nominal = settings.throttled, settings.nominal
        self._signs, self._share = settings.signs, settings.share
        self._any_throttled = any(settings.throttled)
        self._trains = trains
        #: DC supplies whose direction waits for the train that is to have it
        self._waiting: dict[int, RunningTrain] = {}

    def start(self) -> None:
        """Give every train its supply, and every DC supply its direction."""
        given: set[int] = set()
        for train in self._trains:
            power = train.power
            steps = self._supply.reading(power.unit.number).steps
            power.supplies = tuple(s for s, _ in steps) or self._likely(train)
            for s in power.supplies:
                if self._throttled[s] and s not in given and power.unit.motors:
                    given.add(s)
                    self._waiting[s] = train
        self.meet(self._trains)
        self._tell()
        self.look()

    def meet(self, trains: Iterable[RunningTrain]) -> None:
        """Point supplies that wait for one of ``trains``, if they reach it now."""
        if not self._waiting:
            return
        for train in trains:
            for s, sign in self._supply.reading(train.power.unit.number).steps:
                if self._waiting.get(s) is train:
                    del self._waiting[s]
                    self._point(s, sign, train)

    def _point(self, s: int, sign: int, train: RunningTrain) -> None:
        """Turn supply ``s`` so that ``train`` runs the way it faces."""
        even_is_left = train.power.unit.left % 2 == 0
        even_above_odd = sign * self._nominal[s] > 0.0
        # Forward means right above left, so the even side lower where it is the left one.
        sign = 1 if even_above_odd != even_is_left else -1
        self._turn(dict.fromkeys((s, *self._idle()), sign))

    def _idle(self) -> list[int]:
        """DC supplies that no train stands on."""
        used = {s for m in self._trains if not m.gone for s in m.power.supplies}
        return [s for s, own in enumerate(self._throttled) if own and s not in used]

    def _turn(self, signs: Mapping[int, int]) -> None:
        for s, sign in signs.items():
            self._signs[s] = sign
            self._supply.turn(s, sign)
        self._tell()
        self._solution.request()

    def _likely(self, train: RunningTrain) -> tuple[int, ...]:
        """The supply that a train without supply was put down for.

        That of a pole under one of its sides, else that of the district it
        stands in, else the first.
        """
        for pole in self._supply.reading(train.power.unit.number).poles:
            if pole is not None:
                return (pole // 2,)
        path = train.path
        nodes = {path.node_under(p, train.s) for p in path.consist.pickups}
        for district in self._layout.districts:
            if not nodes.isdisjoint(district.nodes):
                return (district.supply,)
        return (0,) if self._throttled else ()

    def reverse(self, train: RunningTrain) -> None:
        """The driver of ``train`` turns the throttle of every DC supply it is on."""
        mine = [s for s in train.power.supplies if self._throttled[s]]
        if mine:
            signs = {s: -self._signs[s] for s in mine}
            self._turn({**dict.fromkeys(self._idle(), signs[mine[0]]), **signs})

    def look(self) -> None:
        """Set every DC throttle for the trains on it; tell those whose supply changes."""
        if not self._any_throttled:
            return
        wanted: dict[int, list[float]] = {s: [] for s, own in enumerate(self._throttled) if own}
        for train in self._trains:
            if train.ordered and not train.gone and train.power.unit.motors:
                for s in train.power.supplies:
                    if self._throttled[s]:
                        wanted[s].append(self._wanted(train, s))
        changed = set()
        for s, shares in wanted.items():
            share = min(shares, default=0.0)
            if share != self._share[s]:
                self._share[s] = share
                changed.add(s)
        self._tell()
        if changed:
            for train in self._trains:
                if not changed.isdisjoint(train.power.supplies):
                    train.motion.power_changed()

    def _tell(self) -> None:
        """Tell the supplies what they give with nothing on them."""
        due = False
        for s, nominal in enumerate(self._nominal):
            sign = self._signs[s] if self._throttled[s] else 1
            due |= self._supply.drive(s, sign * self._share[s] * nominal)
        if due:
            self._solution.request()

    def _wanted(self, train: RunningTrain, s: int) -> float:
        """The share of full voltage at which ``train`` runs as ordered."""
        if train.want <= 0.0:
            return 0.0
        motor = train.power.unit.motors[0]
        speed = train.want / UM_PER_MM
        span = motor.at_voltage_v - motor.turns_down_to_v
        volts = motor.turns_down_to_v + span * speed / motor.speed_mm_s
        return min(1.0, volts / abs(self._nominal[s]))
