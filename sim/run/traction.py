"""What one train's motors get, what its energy store adds, and its dropouts.

The energy store of a train: how long it still drives with the supply cut.

Dropouts and hesitations of one train, written down as they end.

What one train's motors get, and for how long they have not got it.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import IntEnum
from math import inf
from typing import TYPE_CHECKING, Literal

from sim.layout.traffic import Motor, Train
from sim.power.poles import Verdict
from sim.records.model import Dropout, Hesitation, Kind
from sim.run.agenda import Turn
from sim.run.consist import UM_PER_MM, Unit
from sim.run.kinematics import LEAST_S, US_PER_S
from sim.run.recorder import seconds
from sim.run.supply import Doing, Reading

if TYPE_CHECKING:
    from sim.run.agenda import World
    from sim.run.train import Mover


class Flow(IntEnum):
    """What the store does at present."""

    DRAINS = -1
    KEEPS = 0
    FILLS = 1


class EnergyStore:
    """Full at the start; ``level_s`` is for how many seconds it still lasts.

    It drains while the motor lives on it, fills while the pickups have usable
    supply (an empty one in ``refill_s``), and keeps its charge otherwise.
    """

    __slots__ = ("_full_s", "_gain", "_since_us", "flow", "level_s")

    def __init__(self, train: Train) -> None:
        self._full_s = self.level_s = train.energy_store_s
        self._gain = train.energy_store_s / train.refill_s if train.refill_s > 0.0 else None
        self._since_us = 0
        self.flow = Flow.KEEPS

    def bring(self, now_us: int) -> None:
        """Bring the level up to this instant."""
        passed_s = (now_us - self._since_us) / US_PER_S
        self._since_us = now_us
        if self.flow is Flow.DRAINS:
            left_s = self.level_s - passed_s
            self.level_s = left_s if left_s > LEAST_S else 0.0  # less than that is empty
        elif self.flow is Flow.FILLS:
            gain = self._full_s if self._gain is None else passed_s * self._gain
            self.level_s = min(self._full_s, self.level_s + gain)

    def empty_in_us(self) -> int:
        """When it will be empty; at that instant it counts as empty."""
        return max(1, round(self.level_s * US_PER_S))


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


#: Ranks of what a motored unit gets.
USABLE, TOO_LITTLE, NOTHING = 2, 1, 0


class PowerAt:
    """The supply of one train: pickups, energy store, motor.

    Of several motored units the one that gets most drives the train; what the
    others get is not counted.  ``supplies`` are those that fed it last: their
    throttles are the ones its driver has in hand.
    """

    __slots__ = (
        "_doing",
        "_lacks",
        "_mover",
        "_stall_due",
        "_token",
        "_world",
        "drives",
        "fights",
        "goal_um_s",
        "stalled",
        "store",
        "supplies",
        "torn",
        "unit",
        "usable",
        "verdict",
    )

    def __init__(self, world: World, mover: Mover) -> None:
        self._world = world
        self._mover = mover
        self.usable = self.drives = self.fights = False
        self.torn = False  #: two throttles pull it opposite ways, until a hand moves it
        self.verdict: Verdict = "insulated"
        self.goal_um_s = 0.0
        self.supplies: tuple[int, ...] = ()
        units = mover.road.path.consist.units
        self.unit: Unit = next((u for u in units if u.motors), units[0])
        self.stalled: int | None = None  #: number of the stall that is not over yet
        self.store = EnergyStore(mover.train)
        self._lacks = Lacks(world, mover)
        self._doing = Doing.IDLE
        self._token = 0
        self._stall_due = False

    # -- judging ----------------------------------------------------------------

    @property
    def asked(self) -> bool:
        """Whether the throttle asks for movement.

        On DC the throttle is the supply's, so a train without orders is asked too.
        """
        if not self.unit.motors:
            return False
        return self._world.throttles.asks(self.supplies, self._mover.want > 0.0)

    def tell_load(self) -> bool:
        """Tell the supply what the motors do; what that changes is solved in its turn.

        True if it changes what the train itself gets.
        """
        mover = self._mover
        doing = Doing.IDLE
        if mover.v > 0.0 or mover.a > 0.0:
            doing = Doing.RUNNING
        elif self.asked and not mover.held and not mover.gone:
            doing = Doing.STARTING
        if doing is self._doing and doing is not Doing.RUNNING:
            return False
        self._doing = doing
        due = False
        for unit in mover.road.path.consist.units:
            if unit.motors:
                share = mover.want / UM_PER_MM / unit.motors[0].speed_mm_s
                due |= self._world.supply.load(unit.number, doing, share)
        if due:
            self._world.request_solve()
        return due

    def assess(self) -> None:
        """Read the supply anew and note dropouts that begin or end."""
        self.tell_load()
        self.store.bring(self._world.now)
        self._read()
        asked = self.asked
        lacking = asked and not self.usable
        self.drives = self.usable or self.store.level_s > 0.0
        if self.drives and not self.usable:
            # The store keeps the motor turning at the speed it was driven at.
            self.goal_um_s, self.fights = self._mover.want, False
        self._set_store(lacking)
        self._note_pickups(lacking)
        self._note_motor(asked and not self.drives, asked)

    def _set_store(self, lacking: bool) -> None:
        store = self.store
        if lacking and store.level_s > 0.0:
            store.flow = Flow.DRAINS
            self._token += 1
            self._world.at(store.empty_in_us(), Turn.SOLVE, self._empty, self._token)
        else:
            store.flow = Flow.FILLS if self.usable else Flow.KEEPS

    def _empty(self, token: int) -> None:
        if token == self._token and self.store.flow is Flow.DRAINS:
            self._mover.power_changed()

    def _note_pickups(self, lacking: bool) -> None:
        if lacking:
            self._lacks.begin("pickups", self.kind(), self._named_side())
        else:
            self._lacks.end("pickups")

    def _note_motor(self, starving: bool, asked: bool) -> None:
        if starving:
            self._lacks.begin("motor", self.kind(), self._named_side())
            if self.verdict == "tripped":
                self._world.journal.mark(self._mover, "tripped")
            self.check_stall()
            return
        if self._lacks.lacks("motor"):
            self._lacks.end("motor", hesitates=asked)
        if self.stalled is not None and self.usable and not self._mover.pushing:
            self._world.hand.over(self._mover)

    def check_stall(self) -> None:
        """A train that stands without supply may be a stall; the last thing looked at."""
        if self._mover.v == 0.0 and self._lacks.lacks("motor") and not self._mover.pushing:
            stopped = self._lacks.stood()
            if stopped and self.verdict == "short":  # rolling over it would be a hesitation
                self._world.journal.mark(self._mover, "tripped")
            if not self._stall_due:
                self._stall_due = True
                self._world.at(0, Turn.STALLS, self._look, None)

    def _look(self, _: None) -> None:
        self._stall_due = False
        self._world.hand.look(self._mover)

    @property
    def stands_without(self) -> bool:
        """Stands, is asked to move, has no usable supply, and is not merely held.

        A train whose supply is off, or about to trip, is halted: no stall.
        """
        mover = self._mover
        return (
            mover.v == 0.0
            and self.asked
            and not self.drives
            and self.kind() != "tripped"
            and not mover.pushing
            and not mover.held
            and not mover.gone
        )

    # -- reading ----------------------------------------------------------------

    def _read(self) -> None:
        """Pick the motored unit that gets most, and work out what it does."""
        best: tuple[int, float] = (-1, -inf)
        standing = self._mover.v == 0.0
        self.usable = self.fights = False
        for unit in self._mover.road.path.consist.units:
            if not unit.motors:
                continue
            reading = self._world.supply.reading(unit.number)
            rank, volts = self._rank(unit, reading, standing)
            if (rank, abs(volts)) > best:
                best = rank, abs(volts)
                self.unit = unit
                self._take(unit.motors[0], reading, rank, volts)

    def _rank(self, unit: Unit, reading: Reading, standing: bool) -> tuple[int, float]:
        """What the unit gets, and the voltage of its right rail above its left."""
        if reading.verdict is not None:
            return NOTHING, 0.0
        volts = reading.volts
        if volts is None:
            volts = self._world.throttles.volts(reading.steps)
        # Steps give the even side above the odd one; right positive means forward.
        rail = -volts if unit.left % 2 == 0 else volts
        motor = unit.motors[0]
        if self.torn:
            return TOO_LITTLE, rail
        if self._is_digital(reading):
            return (USABLE if abs(rail) >= motor.minimum_v else TOO_LITTLE), rail
        need = motor.start_voltage_v if standing else motor.turns_down_to_v
        enough = abs(rail) >= need if standing else abs(rail) > need
        return (USABLE if enough else TOO_LITTLE), rail

    def _take(self, motor: Motor, reading: Reading, rank: int, volts: float) -> None:
        if reading.verdict is None:
            self.supplies = tuple(s for s, _ in reading.steps)
        self.usable = rank == USABLE
        self.verdict = "starved" if rank == TOO_LITTLE else reading.verdict
        if not self.usable:
            self.goal_um_s = 0.0
        elif self._is_digital(reading):
            self.goal_um_s = self._mover.want
        else:
            span = motor.at_voltage_v - motor.turns_down_to_v
            share = max(0.0, abs(volts) - motor.turns_down_to_v) / span
            self.fights = volts < 0.0
            self.goal_um_s = 0.0 if self.fights else share * motor.speed_mm_s * UM_PER_MM

    def _is_digital(self, reading: Reading) -> bool:
        supplies = self._world.layout.supplies
        return all(supplies[s].kind == "digital" for s, _ in reading.steps)

    # -- telling ----------------------------------------------------------------

    def kind(self) -> Kind:
        """The kind of dead; a short that has not tripped yet counts as tripped."""
        if self.verdict == "short":
            return "tripped"
        return "starved" if self.verdict is None else self.verdict

    def _named_side(self) -> int:
        """The side of the unit that has no pole; the left one where both have."""
        poles = self._world.supply.reading(self.unit.number).poles
        even, odd = 2 * self.unit.number, 2 * self.unit.number + 1
        if (poles[0] is None) != (poles[1] is None):
            return even if poles[0] is None else odd
        return self.unit.left

    def finish(self) -> None:
        """The run ends for this train: close what is open."""
        self._lacks.end("pickups")
        self._lacks.end("motor")

    def supply_name(self) -> str:
        """The supplies that feed it, by name."""
        names = [self._world.layout.supplies[s].name for s in self.supplies]
        return " + ".join(names)
