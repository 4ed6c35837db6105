"""Wire resistances against published tables."""

from __future__ import annotations

from math import pi

import pytest

from sim.layout.sources import COPPER_OHM_M, LEAST_OHM, awg_diameter_mm, ohm_per_m, wire_ohm


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


@pytest.mark.parametrize(
    ("area", "ohm_km"), [(0.5, 36.0), (0.75, 24.5), (1.0, 18.1), (1.5, 12.1), (2.5, 7.41)]
)
def test_solid_by_area(area: float, ohm_km: float) -> None:
    """IEC 60228, class 1, greatest resistance."""
    assert ohm_per_m("mm2 solid", area) * 1000 == pytest.approx(ohm_km)


def test_warmer_copper_resists_more() -> None:
    """IEC 60028 and NBS Handbook 100 (from memory): 0.393 % for each degree from 20."""
    cold, warm = ohm_per_m("awg", 22), ohm_per_m("awg", 22, 45.0)
    assert warm / cold == pytest.approx(1 + 25 * 0.00393)
    assert wire_ohm("mm2", 1.5, 10_000, 20.0) < wire_ohm("mm2", 1.5, 10_000, 21.0)


def test_metals() -> None:
    """100 % IACS is 1.7241e-8 ohm m (IEC 60028, from memory); the metre of 1 mm2 follows."""
    area_m2 = pi / 4 * (awg_diameter_mm(14) / 1000) ** 2
    assert ohm_per_m("awg", 14) * area_m2 == pytest.approx(1.7241e-8)
    # Nickel silver with 18 % nickel, 0.286 uohm m (alloy data sheets): 16 to 17 times copper.
    assert 16 < 0.286e-6 / COPPER_OHM_M < 17


def test_sizes_between_those_listed_never_resist_less_than_a_thicker_one() -> None:
    sizes = [0.1, 0.22, 0.5, 0.6, 0.75, 0.9, 1.0, 1.4, 1.5, 2.0, 2.5, 4.0]
    for system in ("mm2", "mm2 solid"):
        found = [ohm_per_m(system, size) for size in sizes]
        assert found == sorted(found, reverse=True)


def test_stranded_wire_of_a_gauge_number_resists_a_little_more() -> None:
    """4 % for the lay is our assumption, no source."""
    ratio = ohm_per_m("awg stranded", 16) / ohm_per_m("awg", 16)
    assert ratio == pytest.approx(1.04)
