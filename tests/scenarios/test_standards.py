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
def test_the_demos_give_their_engines_what_the_standards_promise(demo: str) -> None:
    """NMRA S-9: 12 V at full throttle on DC.  S-9.1: a decoder works from 7 V on."""
    made = case(demo)
    volts = [s.voltage_v for s in made.layout.supplies]
    assert all(v >= 12.0 for v in volts)
    motors = [v.motor for train in made.trains for v in train.vehicles if v.motor is not None]
    assert motors
    assert all(m.minimum_v <= 7.0 < min(volts) for m in motors)
