"""What one train's motors get, and for how long they have not got it."""

from __future__ import annotations

from dataclasses import dataclass
from math import inf
from typing import TYPE_CHECKING

from sim.layout.traffic import Motor
from sim.motion.consist import UM_PER_MM, Unit
from sim.motion.kinematics import US_PER_S
from sim.motion.ledger import seconds
from sim.motion.supply import Reading
from sim.motion.world import Alarm, Turn
from sim.power.poles import Verdict
from sim.records.model import Dropout, Hesitation, Kind

if TYPE_CHECKING:
    from sim.motion.mover import Mover
    from sim.motion.world import World


@dataclass(slots=True)
class Lack:
    """An interval without usable supply that is not over yet."""

    since_us: int
    kind: Kind
    route: str
    section: str
    stood: bool


class PowerAt:
    """The supply of one train: pickups, energy store, motor."""

    __slots__ = (
        "_level_s",
        "_level_us",
        "_mover",
        "_world",
        "at_motor",
        "at_pickups",
        "drives",
        "fights",
        "goal_um_s",
        "stalled",
        "store_token",
        "supplies",
        "unit",
        "usable",
        "verdict",
    )

    def __init__(self, world: World, mover: Mover) -> None:
        self._world = world
        self._mover = mover
        self.usable = self.drives = self.fights = False
        self.verdict: Verdict | str = "insulated"
        self.goal_um_s = 0.0
        self.supplies: tuple[int, ...] = ()
        motored = [u for u in mover.path.consist.units if u.motors]
        self.unit: Unit = (motored or list(mover.path.consist.units))[0]
        self.at_pickups: Lack | None = None
        self.at_motor: Lack | None = None
        self.stalled: int | None = None  #: number of the stall that is not over yet
        self._level_s = mover.train.energy_store_s
        self._level_us = 0
        self.store_token = 0

    # -- judging ----------------------------------------------------------------

    @property
    def asked(self) -> bool:
        """Whether timetable and throttle ask for movement."""
        return self._mover.want > 0.0 and self._world.throttles.ask(self.supplies)

    def assess(self) -> None:
        """Read the supply anew and note dropouts that begin or end."""
        self._read()
        self._refill_or_drain()
        asked = self.asked
        now = self._world.now
        lacking = asked and not self.usable
        if lacking and self.at_pickups is None:
            self.at_pickups = self._lack()
        elif not lacking and self.at_pickups is not None:
            self._close(self.at_pickups, "pickups", now)
            self.at_pickups = None
        self.drives = self.usable or self._level_s > 0.0
        if not self.usable and self.drives:
            # The store keeps the motor turning at the ordered speed.
            self.goal_um_s, self.fights = self._mover.want, False
        starving = asked and not self.drives
        if starving and self.at_motor is None:
            self.at_motor = self._lack()
        elif not starving and self.at_motor is not None:
            self._recover(self.at_motor, now, asked)
            self.at_motor = None
        if starving:
            self._note_outcome()
        elif self.stalled is not None and self.drives and not self._mover.pushing:
            self._world.hand.running(self._mover)

    def _note_outcome(self) -> None:
        mover = self._mover
        if self.verdict == "tripped":
            self._world.yard.mark(mover, "tripped")
        if mover.v == 0.0 and self.at_motor is not None:
            self.at_motor.stood = True
            self._world.at(0, Turn.STALLS, self._stall_alarm)

    def _stall_alarm(self, _: Alarm) -> None:
        self._world.hand.look(self._mover)

    @property
    def stands_without(self) -> bool:
        """Stands, is asked to move, has no usable supply, and is not merely held."""
        mover = self._mover
        return (
            mover.v == 0.0
            and self.asked
            and not self.drives
            and not mover.pushing
            and not mover.held
            and not mover.gone
        )

    def _read(self) -> None:
        """Pick the motored unit that gets most, and work out what it does."""
        best: tuple[int, float] = (-1, -inf)
        standing = self._mover.v == 0.0
        self.usable = self.fights = False
        self.goal_um_s = 0.0
        for unit in self._mover.path.consist.units:
            if not unit.motors:
                continue
            reading = self._world.supply.reading(unit.number)
            rank, volts = self._rank(unit, reading, standing)
            if (rank, abs(volts)) > best:
                best = rank, abs(volts)
                self.unit = unit
                self._take(unit.motors[0], reading, rank, volts)

    def _rank(self, unit: Unit, reading: Reading, standing: bool) -> tuple[int, float]:
        """(2 usable, 1 live but too little, 0 nothing; volts right above left)."""
        if reading.verdict is not None:
            return 0, 0.0
        volts = self._world.throttles.volts(reading.steps)
        # Steps give the even side above the odd one; right positive means forward.
        rail = -volts if unit.left % 2 == 0 else volts
        motor = unit.motors[0]
        if self._is_digital(reading):
            return (2 if abs(rail) >= motor.minimum_v else 1), rail
        need = motor.start_voltage_v if standing else motor.turns_down_to_v
        enough = abs(rail) >= need if standing else abs(rail) > need
        return (2 if enough else 1), rail

    def _take(self, motor: Motor, reading: Reading, rank: int, volts: float) -> None:
        if reading.verdict is None:
            self.supplies = tuple(s for s, _ in reading.steps)
        self.usable = rank == 2
        self.verdict = "starved" if rank == 1 else reading.verdict
        if rank != 2:
            return
        if self._is_digital(reading):
            self.goal_um_s = self._mover.want
            return
        span = motor.at_voltage_v - motor.turns_down_to_v
        share = (abs(volts) - motor.turns_down_to_v) / span
        self.goal_um_s = max(0.0, share) * motor.speed_mm_s * UM_PER_MM
        if volts < 0.0:
            self.fights, self.goal_um_s = True, 0.0

    def _is_digital(self, reading: Reading) -> bool:
        supplies = self._world.layout.supplies
        return all(supplies[s].kind == "digital" for s, _ in reading.steps)

    # -- the store --------------------------------------------------------------

    def _refill_or_drain(self) -> None:
        """Bring the store's level up to now; set the alarm for when it is empty."""
        train, now = self._mover.train, self._world.now
        if train.energy_store_s <= 0.0:
            return
        passed = (now - self._level_us) / US_PER_S
        self._level_us = now
        if self.at_pickups is not None:
            self._level_s = max(0.0, self._level_s - passed)
        elif train.refill_s > 0.0:
            gain = passed * train.energy_store_s / train.refill_s
            self._level_s = min(train.energy_store_s, self._level_s + gain)
        else:
            self._level_s = train.energy_store_s
        self.store_token += 1
        if self.asked and not self.usable and self._level_s > 0.0:
            # Round up: at the alarm the store must count as empty.
            self._world.at(
                int(self._level_s * US_PER_S) + 1, Turn.SOLVE, self._empty, self.store_token
            )

    def _empty(self, alarm: Alarm) -> None:
        if alarm.what == self.store_token:
            self._mover.power_changed()

    # -- writing down -----------------------------------------------------------

    def _lack(self) -> Lack:
        mover = self._mover
        kind = self.kind()
        node = mover.path.node_under(mover.path.consist.pickups[0], mover.s)
        section = self._world.layout.nodes[node] if node >= 0 else ""
        return Lack(self._world.now, kind, mover.route_id(), section, mover.v == 0.0)

    def kind(self) -> Kind:
        """The kind of dead; a short that has not tripped yet counts as tripped."""
        if self.verdict in (None, "short"):
            return "tripped" if self.verdict else "starved"
        return self.verdict  # type: ignore[return-value]

    def _close(self, lack: Lack, where: str, now: int) -> None:
        self._world.ledger.dropouts.append(
            Dropout(
                seconds(lack.since_us),
                self._mover.train.name,
                where,  # type: ignore[arg-type]
                lack.kind,
                seconds(now - lack.since_us),
            )
        )

    def _recover(self, lack: Lack, now: int, asked: bool) -> None:
        self._close(lack, "motor", now)
        if asked and not lack.stood and now > lack.since_us:
            name = self._mover.train.name
            self._world.ledger.hesitations.append(
                Hesitation(
                    seconds(lack.since_us),
                    name,
                    lack.route,
                    lack.section,
                    seconds(now - lack.since_us),
                )
            )
            self._world.yard.mark(self._mover, "hesitated")

    def finish(self) -> None:
        """The run ends: close what is open."""
        now = self._world.now
        if self.at_pickups is not None:
            self._close(self.at_pickups, "pickups", now)
        if self.at_motor is not None:
            self._close(self.at_motor, "motor", now)

    def supply_name(self) -> str:
        """The supply under the pickups, by name."""
        names = [self._world.layout.supplies[s].name for s in self.supplies]
        return " + ".join(names)
