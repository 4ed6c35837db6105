"""Where a motor gets just enough, just too little, or nothing at all (Ohm's law, by hand)."""

from __future__ import annotations

from collections.abc import Callable

import pytest

from sim.circuit.operating_point import Load, OperatingPoint, by_equations, operating_point
from sim.circuit.reduction import Ports
from sim.circuit.voltage_drop import volts_report
from tests.run.plans import Plan

#: Volts that a motor must have more than, and ampere that it draws then; below it is 7 ohm.
LEAST_V, RUNNING_A, OHM = 7.0, 1.0, 7.0
Way = Callable[..., OperatingPoint]


@pytest.mark.parametrize("way", [operating_point, by_equations])
@pytest.mark.parametrize("sign", [1.0, -1.0])
@pytest.mark.parametrize(
    ("loop_ohm", "volts"),
    [
        (4.5, 7.5),
        (4.9, 7.1),
        (4.999, 7.001),
        # At 7 V the motor has no more than its least: 12 V over the loop and 7 ohm.
        (5.001, 12.0 * 7.0 / 12.001),
        (5.1, 12.0 * 7.0 / 12.1),
        (5.5, 12.0 * 7.0 / 12.5),
    ],
)
def test_a_motor_is_starved_exactly_below_its_least_volts(
    way: Way, sign: float, loop_ohm: float, volts: float
) -> None:
    """12 V behind so many ohm leave 12 - 1 A · ohm: at 5 ohm just the least."""
    half = loop_ohm / 2.0
    ports = Ports([[half, 0.0], [0.0, half]], [[1.0], [0.0]], [[0.0]], [0, 0], {0: (0,)})
    found = way(ports, [[0], [1]], [Load(RUNNING_A, OHM, LEAST_V)], [12.0 * sign])
    (left,) = found.volts
    assert left == pytest.approx(volts * sign, rel=1e-9)
    amps = RUNNING_A if loop_ohm < 5.0 else 12.0 / (loop_ohm + OHM)
    assert found.added_a == pytest.approx((amps * sign,), rel=1e-9)


@pytest.mark.parametrize(("internal_ohm", "volts"), [(20.0, 4.0), (29.0, 0.4), (40.0, 0.0)])
def test_a_start_that_takes_more_than_there_is_leaves_nothing(
    internal_ohm: float, volts: float
) -> None:
    """A decoder's 0.4 A through 40 ohm would cost 16 V of 12: none are left, never -4 V.

    The leads take less than 0.1 ohm each way.
    """
    plan = Plan().supply(internal_ohm=internal_ohm).straight("a", 100.0, "cab")
    plan.train(motor={"starting_a": 0.4})
    (setting,) = volts_report(plan.case()).settings
    assert setting.weakest is not None
    assert setting.weakest.volts == pytest.approx(volts, abs=0.05)
    assert 0.0 <= setting.weakest.volts <= setting.weakest.open_v
    assert 0.0 <= setting.weakest.drop <= 1.0
