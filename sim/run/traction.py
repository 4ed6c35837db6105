"""What one train's motors get, what its energy store adds, and its dropouts."""

from __future__ import annotations

from dataclasses import dataclass
from enum import IntEnum
from math import inf
from typing import Literal

from sim.layout.model import UM_PER_MM, Layout
from sim.layout.traffic import Motor, Train
from sim.records.model import Dropout, Hesitation, Kind
from sim.run.agenda import Agenda, Once, Turn
from sim.run.consist import Unit
from sim.run.kinematics import LEAST_S, US_PER_S, seconds
from sim.run.operator import Operator
from sim.run.recorder import Journal, Recorder
from sim.run.supply import Doing, SupplyModel, SupplyReading, ThrottleSettings
from sim.run.train import RunningTrain


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
class OpenDropout:
    """An interval without usable supply that is not over yet."""

    since_us: int
    kind: Kind
    route: str
    section: str
    stood: bool


class Dropouts:
    """The dropouts of one train: at its pickups, and (store empty) at its motor.

    A dropout of no length is none.
    """

    __slots__ = ("_agenda", "_journal", "_layout", "_open", "_recorder", "_train")

    def __init__(
        self,
        agenda: Agenda,
        recorder: Recorder,
        journal: Journal,
        layout: Layout,
        train: RunningTrain,
    ) -> None:
        self._agenda, self._recorder, self._journal = agenda, recorder, journal
        self._layout, self._train = layout, train
        self._open: dict[Where, OpenDropout] = {}

    def under_way(self, where: Where) -> bool:
        """Whether a dropout is under way."""
        return where in self._open

    def begin(self, where: Where, kind: Kind, side: int) -> None:
        """Supply is lost; ``side`` is the one whose section is named."""
        if where in self._open:
            return
        train = self._train
        path = train.path
        pickup = next((p for p in path.consist.pickups if p.side == side), None)
        node = -1 if pickup is None else path.node_under(pickup, train.s)
        section = self._layout.nodes[node] if node >= 0 else ""
        stood = train.v == 0.0
        self._open[where] = OpenDropout(
            self._agenda.now, kind, train.route_id(), section, stood
        )

    def stood(self) -> bool:
        """The train has come to a stand without supply; True when it was moving before."""
        dropout = self._open.get("motor")
        stopped = dropout is not None and not dropout.stood
        if dropout is not None:
            dropout.stood = True
        return stopped

    def end(self, where: Where, hesitates: bool = False) -> None:
        """Supply is back (or no longer asked for).

        ``hesitates``: it is a hesitation if the train has kept moving.
        """
        dropout = self._open.pop(where, None)
        now = self._agenda.now
        if dropout is None or dropout.since_us == now:
            return
        name, since = self._train.name, seconds(dropout.since_us)
        length = seconds(now - dropout.since_us)
        self._recorder.dropouts.append(Dropout(since, name, where, dropout.kind, length))
        if hesitates and not dropout.stood:
            self._recorder.hesitations.append(
                Hesitation(since, name, dropout.route, dropout.section, length)
            )
            self._journal.mark(self._train, "hesitated")


#: Ranks of what a motored unit gets.
USABLE, TOO_LITTLE, NOTHING = 2, 1, 0


class Traction:
    """The supply of one train: pickups, energy store, motor.

    Of several motored units the one that gets most drives the train; what the
    others get is not counted.
    """

    __slots__ = (
        "_agenda",
        "_doing",
        "_dropouts",
        "_journal",
        "_layout",
        "_operator",
        "_solution",
        "_stall",
        "_supply",
        "_throttles",
        "_token",
        "_train",
        "power",
        "store",
    )

    def __init__(
        self,
        agenda: Agenda,
        recorder: Recorder,
        journal: Journal,
        layout: Layout,
        supply: SupplyModel,
        solution: Once,
        throttles: ThrottleSettings,
        operator: Operator,
        train: RunningTrain,
    ) -> None:
        self._agenda, self._journal, self._layout = agenda, journal, layout
        self._supply, self._solution = supply, solution
        self._throttles, self._operator = throttles, operator
        self._train = train
        self.power = train.power
        self.store = EnergyStore(train.description)
        self._dropouts = Dropouts(agenda, recorder, journal, layout, train)
        self._stall = Once(agenda, Turn.STALLS, self._look)
        self._doing = Doing.IDLE
        self._token = 0

    # -- judging ----------------------------------------------------------------

    def tell_load(self) -> bool:
        """Tell the supply what the motors do; what that changes is solved in its turn.

        True if it changes what the train itself gets.
        """
        train = self._train
        doing = Doing.IDLE
        if train.v > 0.0 or train.a > 0.0:
            doing = Doing.RUNNING
        elif train.asked and not train.held and not train.gone:
            doing = Doing.STARTING
        if doing is self._doing and doing is not Doing.RUNNING:
            return False
        self._doing = doing
        due = False
        for unit in train.path.consist.units:
            if unit.motors:
                share = train.want / UM_PER_MM / unit.motors[0].speed_mm_s
                due |= self._supply.load(unit.number, doing, share)
        if due:
            self._solution.request()
        return due

    def assess(self) -> None:
        """Read the supply anew and note dropouts that begin or end."""
        self.tell_load()
        self.store.bring(self._agenda.now)
        self._read()
        asked = self._train.asked
        lacking = asked and not self.power.usable
        self.power.drives = self.power.usable or self.store.level_s > 0.0
        if self.power.drives and not self.power.usable:
            # The store keeps the motor turning at the speed it was driven at.
            self.power.goal_um_s, self.power.fights = self._train.want, False
        self._set_store(lacking)
        self._note_pickups(lacking)
        self._note_motor(asked and not self.power.drives, asked)

    def _set_store(self, lacking: bool) -> None:
        store = self.store
        if lacking and store.level_s > 0.0:
            store.flow = Flow.DRAINS
            self._token += 1
            self._agenda.at(store.empty_in_us(), Turn.SOLVE, self._empty, self._token)
        else:
            store.flow = Flow.FILLS if self.power.usable else Flow.KEEPS

    def _empty(self, token: int) -> None:
        if token == self._token and self.store.flow is Flow.DRAINS:
            self._train.motion.power_changed()

    def _note_pickups(self, lacking: bool) -> None:
        if lacking:
            self._dropouts.begin("pickups", self.power.kind(), self._named_side())
        else:
            self._dropouts.end("pickups")

    def _note_motor(self, starving: bool, asked: bool) -> None:
        if starving:
            self._dropouts.begin("motor", self.power.kind(), self._named_side())
            if self.power.verdict == "tripped":
                self._journal.mark(self._train, "tripped")
            self.check_stall()
            return
        if self._dropouts.under_way("motor"):
            self._dropouts.end("motor", hesitates=asked)
        if self.power.stalled is not None and self.power.usable and not self._train.pushing:
            self._operator.over(self._train)

    def check_stall(self) -> None:
        """A train that stands without supply may be a stall; the last thing looked at."""
        train = self._train
        if train.v == 0.0 and self._dropouts.under_way("motor") and not train.pushing:
            stopped = self._dropouts.stood()
            if stopped and self.power.verdict == "short":
                # Rolling over it would be a hesitation.
                self._journal.mark(train, "tripped")
            self._stall.request()

    def _look(self) -> None:
        self._operator.look(self._train)

    # -- reading ----------------------------------------------------------------

    def _read(self) -> None:
        """Pick the motored unit that gets most, and work out what it does."""
        best: tuple[int, float] = (-1, -inf)
        standing = self._train.v == 0.0
        self.power.usable = self.power.fights = False
        for unit in self._train.path.consist.units:
            if not unit.motors:
                continue
            reading = self._supply.reading(unit.number)
            rank, volts = self._rank(unit, reading, standing)
            if (rank, abs(volts)) > best:
                best = rank, abs(volts)
                self.power.unit = unit
                self._take(unit.motors[0], reading, rank, volts)

    def _rank(self, unit: Unit, reading: SupplyReading, standing: bool) -> tuple[int, float]:
        """What the unit gets, and the voltage of its right rail above its left."""
        if reading.verdict is not None:
            return NOTHING, 0.0
        volts = reading.volts
        if volts is None:
            volts = self._throttles.volts(reading.steps)
        # Steps give the even side above the odd one; right positive means forward.
        rail = -volts if unit.left % 2 == 0 else volts
        motor = unit.motors[0]
        if self.power.torn:
            return TOO_LITTLE, rail
        if self._is_digital(reading):
            return (USABLE if abs(rail) >= motor.minimum_v else TOO_LITTLE), rail
        need = motor.start_voltage_v if standing else motor.turns_down_to_v
        enough = abs(rail) >= need if standing else abs(rail) > need
        return (USABLE if enough else TOO_LITTLE), rail

    def _take(self, motor: Motor, reading: SupplyReading, rank: int, volts: float) -> None:
        if reading.verdict is None:
            self.power.supplies = tuple(s for s, _ in reading.steps)
        self.power.usable = rank == USABLE
        self.power.verdict = "starved" if rank == TOO_LITTLE else reading.verdict
        if not self.power.usable:
            self.power.goal_um_s = 0.0
        elif self._is_digital(reading):
            self.power.goal_um_s = self._train.want
        else:
            span = motor.at_voltage_v - motor.turns_down_to_v
            share = max(0.0, abs(volts) - motor.turns_down_to_v) / span
            self.power.fights = volts < 0.0
            self.power.goal_um_s = (
                0.0 if self.power.fights else share * motor.speed_mm_s * UM_PER_MM
            )

    def _is_digital(self, reading: SupplyReading) -> bool:
        return all(self._throttles.decodes[s] for s, _ in reading.steps)

    # -- telling ----------------------------------------------------------------

    def _named_side(self) -> int:
        """The side of the unit that has no pole; the left one where both have."""
        poles = self._supply.reading(self.power.unit.number).poles
        even, odd = 2 * self.power.unit.number, 2 * self.power.unit.number + 1
        if (poles[0] is None) != (poles[1] is None):
            return even if poles[0] is None else odd
        return self.power.unit.left

    def finish(self) -> None:
        """The run ends for this train: close what is open."""
        self._dropouts.end("pickups")
        self._dropouts.end("motor")

    def supply_name(self) -> str:
        """The supplies that feed it, by name."""
        return " + ".join(self._layout.supplies[s].name for s in self.power.supplies)
