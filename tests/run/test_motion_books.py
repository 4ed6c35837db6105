"""Motion and motors against worked examples of textbooks."""

from __future__ import annotations

import pytest

from sim.run import kinematics as k
from sim.scenario.fields import speed_in_mm_s
from tests.run.plans import Plan, drive, set_up


def test_a_jet_that_has_landed() -> None:
    """OpenStax College Physics, ch. 2 (from memory): 70.0 m/s, -1.50 m/s², 40.0 s: 10.0 m/s.

    1,600 m by s = (u + v) t / 2.
    """
    assert k.speed_after(70.0, -1.5, 1600.0) == pytest.approx(10.0)
    assert k.time_over(70.0, -1.5, 1600.0) == pytest.approx(40.0)


def test_a_dragster() -> None:
    """OpenStax College Physics, ch. 2 (from memory): 26.0 m/s² over 402 m: 145 m/s, 5.56 s."""
    assert k.speed_after(0.0, 26.0, 402.0) == pytest.approx(145.0, abs=0.5)
    assert k.time_over(0.0, 26.0, 402.0) == pytest.approx(5.56, abs=0.005)


@pytest.mark.parametrize(("braking", "way"), [(7.0, 64.3), (5.0, 90.0)])
def test_braking_on_dry_and_on_wet_concrete(braking: float, way: float) -> None:
    """OpenStax College Physics, ch. 2 (from memory): from 30.0 m/s 64.3 m and 90.0 m."""
    assert k.distance_to_speed(30.0, 0.0, -braking) == pytest.approx(way, abs=0.05)
    assert k.coasting_deceleration(30.0, 900.0 / (2 * braking)) == pytest.approx(braking)


def test_onto_the_motorway() -> None:
    """OpenStax College Physics, ch. 2 (from memory): 10.0 m/s, 2.00 m/s², 200 m take 10.0 s."""
    assert k.time_over(10.0, 2.0, 200.0) == pytest.approx(10.0)
    assert k.speed_after(10.0, 2.0, 200.0) == pytest.approx(30.0)


def test_the_shortest_time_between_two_stops() -> None:
    """Textbook of railway operation (from memory): t = d / v + v / 2a + v / 2b, to full speed.

    2,000 mm at 100 mm/s, gathering speed at 100 and braking at 50 mm/s²: 21.5 s.
    """
    plan = Plan(60.0).supply().straight("a", 4000.0, "cab")
    order = {"do": "stop", "on": "a/P", "place_mm": 2500.0, "for_s": 5.0}
    plan.train(place_mm=500.0, braking_mm_s2=50.0, orders=drive(order))
    record = plan.record(motions=True)
    stood = [m.time_s for m in record.motions if m.speed_mm_s == 0.0 and m.time_s > 1.0]
    expected = 2000.0 / 100.0 + 100.0 / (2 * 100.0) + 100.0 / (2 * 50.0)
    assert stood[0] == pytest.approx(expected, abs=1e-4)


@pytest.mark.parametrize(("mph", "mm_s"), [(25, 128.31), (45, 230.96), (60, 307.95)])
def test_scale_speeds_at_1_87(mph: int, mm_s: float) -> None:
    """60 mph are 88 ft/s (textbook): in HO, 1:87.1, 307.95 mm/s."""
    assert mm_s == pytest.approx(mph * 88.0 / 60.0 * 304.8 / 87.1, abs=0.005)
    assert speed_in_mm_s(f"{mph} mph", 87.1) == pytest.approx(mm_s, abs=0.005)


@pytest.mark.parametrize(
    ("volts", "share"), [(6.0, 1.0), (4.5, 2 / 3), (3.0, 1 / 3), (5.25, 5 / 6)]
)
def test_a_motor_of_the_books_at_less_than_its_voltage(volts: float, share: float) -> None:
    """OpenStax College Physics, ch. 23: at 6.00 V 3.00 A, back-EMF 4.50 V, so 0.5 ohm.

    With the same load, so the same current, the back-EMF, and with it the speed, is
    V - 1.50 V: it stops at 1.5 V, and two thirds of the speed take 4.5 V.  (E = kω; that
    rule from memory.)
    """
    assert share == pytest.approx((volts - 1.5) / 4.5)
    full = 90.0
    motor = {"speed_mm_s": full, "at_voltage_v": 6.0, "turns_down_to_v": 1.5,
             "start_voltage_v": 2.0}  # fmt: skip
    plan = Plan(20.0).supply(kind="dc", voltage_v=12.0).straight("a", 1500.0, "cab")
    plan.straight("b", 1500.0)
    orders = drive({"do": "circulate", "laps": 99})
    plan.train(speed_mm_s=full * share, motor=motor, orders=orders)
    live = set_up(plan.case(ring=True))
    live.agenda.run_until(8_000_000)
    train = live.trains[0]
    steps = live.supply.reading(train.power.unit.number).steps
    assert abs(live.throttle_settings.volts(steps)) == pytest.approx(volts)
    assert train.speed_now() / 1000.0 == pytest.approx(full * share)
