"""Wire against what tables say beyond the sizes that our own table copies."""

from __future__ import annotations

import pytest

from sim.layout.sources import awg_diameter_mm, ohm_per_m
from sim.scenario.defaults import FEEDER_WIRE, JUMPER_WIRE
from sim.scenario.fields import wire_size


@pytest.mark.parametrize(("number", "mil"), [(-3, 460.0), (0, 324.9), (10, 101.9), (36, 5.0)])
def test_gauge_numbers_in_thousandths_of_an_inch(number: float, mil: float) -> None:
    """ASTM B258 (from memory): 0000 is 460 mil and 36 is 5 mil by definition."""
    assert awg_diameter_mm(number) / 0.0254 == pytest.approx(mil, rel=2e-4)


@pytest.mark.parametrize(("number", "ohm_1000_ft"), [(10, 0.9989), (32, 164.1), (36, 414.8)])
def test_thick_and_thin_solid_copper(number: float, ohm_1000_ft: float) -> None:
    """NBS Handbook 100, ohm for 1000 ft of 304.8 m at 20 degrees C (from memory)."""
    assert ohm_per_m("awg", number) * 304.8 == pytest.approx(ohm_1000_ft, rel=3e-3)


def test_three_numbers_are_twice_the_copper_and_ten_are_ten_times() -> None:
    """Rules of thumb of wire tables (from memory): within 0.5 % and 2 %."""
    for number in (10, 16, 24, 30):
        here = ohm_per_m("awg", number)
        assert ohm_per_m("awg", number + 3) / here == pytest.approx(2.0, rel=5e-3)
        assert ohm_per_m("awg", number + 10) / here == pytest.approx(10.0, rel=2e-2)


@pytest.mark.parametrize(
    ("celsius", "factor"),
    [(5, 1.064), (10, 1.042), (15, 1.020), (20, 1.0), (25, 0.980), (30, 0.962)],
)
def test_factors_to_20_degrees(celsius: float, factor: float) -> None:
    """IEC 60228, table of correction factors for copper, 250 / (230 + t) (from memory).

    The table takes 0.4 % for each degree and ours 0.393 %: 0.0015 apart at most.
    """
    assert factor == pytest.approx(250 / (230 + celsius), abs=5e-4)
    for system, size in (("awg", 22), ("mm2", 1.5), ("mm2 solid", 0.5)):
        there, here = ohm_per_m(system, size), ohm_per_m(system, size, celsius)
        assert there / here == pytest.approx(factor, abs=1.5e-3)


def test_what_a_standard_allows_is_more_than_pure_copper_takes() -> None:
    """IEC 60228 against IEC 60028, 1/58 ohm mm2/m (from memory).

    The greatest resistance allowed is 3 to 8 % above that of the nominal area for solid
    wire, and more, up to 16 %, for that of fine strands.
    """
    for area in (0.5, 0.75, 1.0, 1.5, 2.5):
        pure = 1.0 / 58.0 / area
        assert 1.03 < ohm_per_m("mm2 solid", area) / pure < 1.08
        assert 1.10 < ohm_per_m("mm2", area) / pure < 1.17


def test_drops_are_of_the_wire_that_the_standard_asks_for() -> None:
    """NMRA MRP-1.3: drops of 22 to 24 AWG; what a file leaves out is of these."""
    for wire in (FEEDER_WIRE, JUMPER_WIRE):
        system, number = wire_size(wire)
        assert system == "awg"
        assert 22 <= number <= 24
