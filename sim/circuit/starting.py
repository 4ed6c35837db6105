"""The train whose start takes most."""

from __future__ import annotations

from dataclasses import dataclass

from sim.layout.traffic import Case
from sim.scenario.defaults import defaults_for


@dataclass(frozen=True, slots=True)
class StartingTrain:
    """The greediest motor of the scenario: a resistance on DC, a current on digital."""

    whose: str
    ohm: float
    amps: float


def starting_train(case: Case) -> StartingTrain:
    """The motor that takes most to start, or a starting value where there is none."""
    motors = [
        (m.starting_a, m.start_voltage_v / m.starting_a, f"{t.name}, {v.name}")
        for t in case.trains
        for v in t.vehicles
        if (m := v.motor) is not None
    ]
    if not motors:
        gauges = [placed.piece.gauge_mm for placed in case.layout.pieces]
        known = defaults_for(gauges[0] if gauges else 0.0)
        amps = known["starting_a"].value
        motors = [(amps, known["start_voltage_v"].value / amps, "a usual engine")]
    amps, ohm, whose = max(motors, key=lambda m: m[0])
    return StartingTrain(whose, ohm, amps)
