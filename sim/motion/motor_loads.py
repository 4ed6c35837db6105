"""What motors are to the circuit, and for how much way a solution of it holds."""

from __future__ import annotations

from collections.abc import Sequence

from sim.circuit.loads import NO_LOAD, Load
from sim.layout.model import Layout
from sim.layout.traffic import Motor
from sim.motion.supply import Doing

#: Volts that the way since the last solution may have cost a train.
BAND_PLACE_V = 0.03
#: Way between two solutions: no less, and no more.
BAND_UM = 500_000.0, 5_000_000.0
#: Joiners on a metre of rail, on top of its own resistance (ohm): one each 0.3 m.
JOINERS_OHM_M = 0.017


def place_band_um(layout: Layout, motors: Sequence[tuple[Motor, ...]]) -> float:
    """How far a train may go before its volts can have changed by :data:`BAND_PLACE_V`.

    Both rails, at the greatest running current of any unit.
    """
    amps = max((sum(m.running_a for m in own) for own in motors), default=0.0)
    ohm_m = 2.0 * (layout.rail_ohm_m + JOINERS_OHM_M)
    way_m = BAND_PLACE_V / (ohm_m * amps) if amps > 0.0 else BAND_UM[1]
    return min(max(way_m * 1e6, BAND_UM[0]), BAND_UM[1])


def dc_load(motors: Sequence[Motor], doing: Doing) -> Load:
    """Motors straight on the rails, at full torque current, or held as a resistance.

    Standing, a motor is start voltage over starting current: 3 V and 0.4 A are 7.5 ohm.
    Turning, it draws its running current whatever the volts, down to where it stops.
    """
    ohm = 1.0 / sum(m.starting_a / m.start_voltage_v for m in motors)
    if doing is Doing.STARTING:
        return Load(ohm=ohm)
    return Load(sum(m.running_a for m in motors), ohm, min(m.turns_down_to_v for m in motors))


def digital_load(motors: Sequence[Motor], doing: Doing, share: float) -> Load:
    """Motors behind decoders, which draw by speed as long as they get their least volts.

    Below those a decoder counts as the resistance that it is just there, so that
    it draws no more than the volts allow.
    """
    starting = doing is Doing.STARTING
    amps = sum(m.starting_a if starting else m.running_a * share for m in motors)
    least = max(m.minimum_v for m in motors)
    return Load(amps, least / amps, least) if amps > 0.0 and least > 0.0 else NO_LOAD
