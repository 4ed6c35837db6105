"""What is shipped as an example asks for nothing that a standard forbids."""

from __future__ import annotations

import pytest

from tests.scenarios.demos import DEMOS, case


@pytest.mark.parametrize("demo", DEMOS)
def test_voltages_of_the_demos(demo: str) -> None:
    """Toy supplies: Directive 2009/48/EC, 24 V.  Digital: NMRA S-9.1 (2020), 8.5 to 22 V."""
    for supply in case(demo).layout.supplies:
        assert 0.0 < supply.voltage_v <= 24.0
        if supply.kind == "digital":
            assert 8.5 <= supply.voltage_v <= 22.0


@pytest.mark.parametrize("demo", DEMOS)
def test_no_engine_of_the_demos_asks_for_more_than_its_supply_gives(demo: str) -> None:
    """NMRA S-9: 12 V at the railhead at full throttle (DC); S-9.1: 7 V at a decoder."""
    made = case(demo)
    least_v = min(s.voltage_v for s in made.layout.supplies)
    for train in made.trains:
        for vehicle in train.vehicles:
            if vehicle.motor is not None:
                assert vehicle.motor.start_voltage_v < least_v
                assert vehicle.motor.minimum_v == 7.0
