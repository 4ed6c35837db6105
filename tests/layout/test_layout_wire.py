"""Wire resistances against published tables."""

from __future__ import annotations

import pytest

from sim.layout.wire import LEAST_OHM, awg_diameter_mm, ohm_per_m, wire_ohm


@pytest.mark.parametrize(("number", "mm"), [(14, 1.628), (20, 0.812), (24, 0.511), (30, 0.255)])
def test_diameters(number: float, mm: float) -> None:
    """ASTM B258, printed to a micrometre."""
    assert awg_diameter_mm(number) == pytest.approx(mm, abs=0.0006)


@pytest.mark.parametrize(
    ("number", "ohm_km"),
    [
        (12, 5.211), (14, 8.285), (16, 13.17), (18, 20.95), (20, 33.31), (22, 52.96),
        (24, 84.21), (26, 133.9), (28, 212.9), (30, 338.6),
    ],
)  # fmt: skip
def test_solid_copper(number: float, ohm_km: float) -> None:
    """NBS Handbook 100, copper at 20 degrees C; it rounds diameters, hence 0.1 %."""
    assert ohm_per_m("awg", number) * 1000 == pytest.approx(ohm_km, rel=1e-3)


@pytest.mark.parametrize(
    ("area", "ohm_km"), [(0.5, 39.0), (0.75, 26.0), (1.0, 19.5), (1.5, 13.3), (2.5, 7.98)]
)
def test_stranded(area: float, ohm_km: float) -> None:
    """IEC 60228, class 5, greatest resistance."""
    assert ohm_per_m("mm2", area) * 1000 == pytest.approx(ohm_km)


def test_twice_the_length_is_twice_the_resistance_and_none_is_nothing() -> None:
    assert wire_ohm("awg", 24, 2000) == pytest.approx(2 * wire_ohm("awg", 24, 1000))
    assert wire_ohm("awg", 24, 0) == LEAST_OHM
