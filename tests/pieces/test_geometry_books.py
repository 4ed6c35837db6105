"""Track and wheel against formulas of railway handbooks and against standards."""

from __future__ import annotations

from math import cos, dist, radians, sin

import pytest

from sim.begin.questions import SCALES
from sim.pieces import geometry
from sim.pieces.model import Stroke
from sim.scenario.defaults import defaults_for
from sim.scenario.fields import length_in_mm

FOOT = 304.8


@pytest.mark.parametrize(
    ("degree", "radius_ft"), [(1.0, 5729.65), (2.0, 2864.93), (5.0, 1146.28), (10.0, 573.686)]
)
def test_curves_of_so_many_degrees(degree: float, radius_ft: float) -> None:
    """Degree of a curve, chord definition: 100 ft of chord turn it (handbooks, from memory).

    Stringlining: the middle of a 62 ft chord is one inch off the rail for each degree.
    """
    chord = 2.0 * radius_ft * sin(radians(degree) / 2.0)
    assert chord == pytest.approx(100.0, abs=5e-4)
    arc_mm = radians(degree) * radius_ft * FOOT
    end = geometry.walk((Stroke(arc_mm, degree),), geometry.Pose(0.0, 0.0, 0.0))
    assert dist((0.0, 0.0), (end.x_mm, end.y_mm)) == pytest.approx(100.0 * FOOT, rel=1e-5)
    # 62 ft of chord, as good as 62 ft along the curve.
    turn = degree * 62.0 / 100.0
    course = (Stroke(radians(turn) * radius_ft * FOOT, turn),)
    west = geometry.Pose(0.0, 0.0, -turn / 2.0)
    middle = geometry.walk(course, west, course[0].length_mm / 2.0)
    assert -middle.y_mm / 25.4 == pytest.approx(degree, rel=0.01)


@pytest.mark.parametrize("degrees", [8.0, 15.0, 30.0, 45.0, 90.0])
@pytest.mark.parametrize("gauge_mm", [9.0, 16.5])
def test_frogs_of_a_diamond_are_those_of_a_rhombus(gauge_mm: float, degrees: float) -> None:
    """Handbooks of crossings (from memory): frog to frog along a rail g / sin F.

    The sharp frogs are g / sin(F/2) apart, the blunt ones g / cos(F/2).
    """
    angle = radians(degrees)
    corners = {c.name: c for c in geometry.diamond_corners(gauge_mm, angle)}
    one, other = geometry.Pose(0.0, 0.0, 0.0), geometry.Pose(0.0, 0.0, degrees)

    def place(pose: geometry.Pose, along: float, side: str) -> tuple[float, float]:
        direction = radians(pose.heading_deg)
        left = gauge_mm / 2.0 if side == "left" else -gauge_mm / 2.0
        return (
            along * cos(direction) - left * sin(direction),
            along * sin(direction) + left * cos(direction),
        )

    places = {}
    for name, c in corners.items():
        places[name] = place(one, c.first_mm, c.first)
        assert places[name] == pytest.approx(place(other, c.second_mm, c.second), abs=1e-9)
    sharp, blunt = gauge_mm / sin(angle / 2.0), gauge_mm / cos(angle / 2.0)
    assert dist(places["west"], places["east"]) == pytest.approx(sharp)
    assert dist(places["north"], places["south"]) == pytest.approx(blunt)
    along = gauge_mm / sin(angle)
    for a in ("north", "south"):
        for b in ("west", "east"):
            assert dist(places[a], places[b]) == pytest.approx(along)


@pytest.mark.parametrize("scale", SCALES)
def test_every_gauge_is_the_standard_one_made_smaller(scale: str) -> None:
    """4 ft 8 1/2 in, 1,435 mm (every handbook, from memory), within half a per cent."""
    ratio, gauge_mm = SCALES[scale]
    assert pytest.approx(1435.0, abs=0.2) == 56.5 * 25.4
    assert gauge_mm * ratio == pytest.approx(1435.0, rel=5e-3)


def test_gauges_and_wheels_fit_each_other() -> None:
    """HO track: NMRA S-3.2, .649 to .672 in.  N wheels and track: NMRA S-4.2, NEM 110 (2009).

    The check gauge is .323 in at most, 8.1 to 8.2 mm in the other standard; back to back
    .297 in at least.
    """
    least, most = (length_in_mm(f"{inches} in") for inches in ("0.649", "0.672"))
    assert least <= SCALES["HO"][1] <= most
    check, back = (length_in_mm(f"{inches} in") for inches in ("0.323", "0.297"))
    assert 8.1 <= round(check, 1) <= 8.2
    assert back < check < SCALES["N"][1]


@pytest.mark.parametrize("scale", SCALES)
def test_a_digital_supply_that_nothing_is_said_of_is_within_the_standard(scale: str) -> None:
    """NMRA S-9.1 (2020), table 3: 8.5 V at least, 22 V at most, 12 V the normal of N."""
    volts = defaults_for(SCALES[scale][1])["digital.voltage_v"].value
    assert 8.5 <= volts <= 22.0
    assert scale != "N" or volts == 12.0
