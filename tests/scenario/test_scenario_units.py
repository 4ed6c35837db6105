"""Texts with units. Checked against definitions and published conversions."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from sim.scenario.fields import length_in_mm, speed_in_mm_s, wire_size


@pytest.mark.parametrize(
    ("text", "mm"),
    [
        # definitions: 1 in = 25.4 mm exactly, 1 ft = 12 in
        ("12 in", 304.8),
        ("1.5 ft", 457.2),
        ("3.2 cm", 32.0),
        ("400 mm", 400.0),
        ("2m", 2000.0),
        ('4"', 101.6),
        # NMRA RP-12.7: lead of a No. 6 in 9 mm gauge, printed 3.256 in
        ("3.256 in", 82.7024),
    ],
)
def test_lengths(text: str, mm: float) -> None:
    assert length_in_mm(text) == mm


@pytest.mark.parametrize(
    ("text", "ratio", "mm_s"),
    [
        # unit conversion: 20 / 40 / 60 scale mph at 1:160 = 55.9 / 111.8 / 167.6 mm/s
        ("20 mph", 160.0, 55.9),
        ("40 mph", 160.0, 111.8),
        ("60 mph", 160.0, 167.6),
        # 36 km/h is 10 m/s by definition
        ("36 km/h", 100.0, 100.0),
        ("70 mm/s", 160.0, 70.0),
    ],
)
def test_speeds(text: str, ratio: float, mm_s: float) -> None:
    assert speed_in_mm_s(text, ratio) == pytest.approx(mm_s, abs=0.05)


def test_wire_sizes() -> None:
    assert wire_size("AWG 24") == ("awg", 24.0)
    assert wire_size("0.5 mm2") == wire_size("0.5 mm²") == ("mm2", 0.5)
    assert wire_size("AWG 16 stranded") == ("awg stranded", 16.0)
    assert wire_size("1.5 mm2 solid") == ("mm2 solid", 1.5)
    assert wire_size("AWG 16 solid") == wire_size("AWG 16")


@pytest.mark.parametrize("text", ["", "12", "12 parsecs", "in", "1,5 m", "1e3 mm", "nan mm"])
def test_what_is_no_length(text: str) -> None:
    with pytest.raises(ValueError, match="a length in mm"):
        length_in_mm(text)


@pytest.mark.parametrize("text", ["AWG 41", "0.001 mm2", "24", "AWG", "200 mm2", "0 mm2"])
def test_what_is_no_wire(text: str) -> None:
    with pytest.raises(ValueError, match="a wire size"):
        wire_size(text)


@given(st.text())
def test_any_text_is_a_number_or_a_value_error(text: str) -> None:
    for parse in (length_in_mm, wire_size, lambda t: speed_in_mm_s(t, 160.0)):
        try:
            parse(text)
        except ValueError as error:
            assert "such as" in str(error)
