"""Starting values for what a scenario leaves out, and where each comes from.

None is a truth: every one that is used appears in the case's assumptions, and
any can be given in the scenario instead.
"""

from __future__ import annotations

from dataclasses import dataclass

from sim.faults.kinds import OURS as OURS
from sim.faults.kinds import PRACTICE as PRACTICE
from sim.faults.kinds import STARTS

S91 = "NMRA S-9.1 (2020), table 3: least voltage at the decoder"

#: Up to this gauge the values for N are taken, above it those for HO.
SMALL_GAUGE_MM = 12.0


@dataclass(frozen=True, slots=True)
class Default:
    """A value, its unit, and whose it is."""

    value: float
    unit: str
    whose: str


_ANY_SCALE = {
    **{key: Default(s.value, s.unit, s.whose) for key, s in STARTS.items()},
    "contact_ohm": Default(0.05, "ohm", PRACTICE),
    "joiner_ohm": Default(0.005, "ohm", PRACTICE),
    "solder_ohm": Default(0.001, "ohm", OURS),
    "bond_ohm": Default(0.005, "ohm", OURS),
    "common_ohm": Default(0.01, "ohm", OURS),
    "rail_ohm_m": Default(0.057, "ohm per m", PRACTICE),
    "pickup_ohm": Default(0.0, "ohm", OURS),
    "wire_celsius": Default(20.0, "degrees C", OURS),
    "dc.voltage_v": Default(12.0, "V", PRACTICE),
    "dc.internal_ohm": Default(0.5, "ohm", OURS),
    "dc.trip_a": Default(1.0, "A", PRACTICE),
    "dc.trip_s": Default(2.0, "s", OURS),
    "dc.retry_s": Default(10.0, "s", OURS),
    "digital.internal_ohm": Default(0.1, "ohm", OURS),
    "digital.trip_a": Default(3.0, "A", PRACTICE),
    "digital.trip_s": Default(0.1, "s", PRACTICE),
    "digital.retry_s": Default(4.0, "s", PRACTICE),
    "feeder_length_mm": Default(300.0, "mm", OURS),
    "jumper_length_mm": Default(100.0, "mm", OURS),
    "start_voltage_v": Default(3.0, "V", PRACTICE),
    "blocked_at_v": Default(12.0, "V", PRACTICE),
    "turns_down_to_v": Default(2.0, "V", OURS),
    "minimum_v": Default(7.0, "V", S91),
    "acceleration_mm_s2": Default(60.0, "mm/s2", OURS),
    "braking_mm_s2": Default(100.0, "mm/s2", OURS),
    "energy_store_s": Default(0.0, "s", PRACTICE),
    "refill_s": Default(5.0, "s", OURS),
    "duration_s": Default(600.0, "s", OURS),
    "throw_s": Default(0.3, "s", PRACTICE),
    "nudge_after_s": Default(8.0, "s", OURS),
    "nudge_mm": Default(30.0, "mm", OURS),
    "nudge_speed_mm_s": Default(50.0, "mm/s", OURS),
    "nudges_at_most": Default(10, "", OURS),
    "headway_mm": Default(50.0, "mm", OURS),
}
_SMALL = {
    "digital.voltage_v": Default(12.0, "V", PRACTICE),
    "running_a": Default(0.06, "A", PRACTICE),
    "blocked_a": Default(0.4, "A", PRACTICE),
    "coasting_mm": Default(10.0, "mm", PRACTICE),
}
_LARGE = {
    "digital.voltage_v": Default(14.0, "V", PRACTICE),
    "running_a": Default(0.15, "A", PRACTICE),
    "blocked_a": Default(0.9, "A", PRACTICE),
    "coasting_mm": Default(40.0, "mm", PRACTICE),
}
#: Starting values that a verdict hangs on: who has not given them is asked to.
DECISIVE = frozenset(
    {"contact_opens", "contacts_bad", "lever_fails", "blocked_a", "coasting_mm"}
)

#: Wire of a feeder and of a jumper: both within the 22 to 26 AWG of practice.
FEEDER_WIRE = "AWG 22"
JUMPER_WIRE = "AWG 24"
#: Scale speed from which the starting value for coasting is taken.
COASTING_FROM = "25 mph"


def defaults_for(gauge_mm: float) -> dict[str, Default]:
    """Every starting value, by the name of its field, for track of that gauge."""
    return _ANY_SCALE | (_SMALL if gauge_mm <= SMALL_GAUGE_MM else _LARGE)
