"""Track geometry against published figures and against geometry done another way."""

from __future__ import annotations

from math import degrees, dist, radians, tan

import pytest

from sim.pieces import geometry
from sim.pieces.kinds import build
from sim.pieces.model import Piece, Stroke
from sim.pieces.parameters import PieceError
from tests.pieces.cases import (
    FAMILIES,
    crossover,
    end_of,
    rail_place,
    rail_runs,
    route_of,
    scissors,
    turnout,
)

INCH = 25.4


def _dms(angle_deg: float) -> tuple[int, int, int]:
    seconds = round(angle_deg * 3600.0)
    return seconds // 3600, seconds % 3600 // 60, seconds % 60


# Nos. 4 to 7: AREMA practice, printed to the minute in NMRA RP-12.7.
# Nos. 8 to 20: AREMA practice, from memory and recomputed from the formula.
@pytest.mark.parametrize(
    ("number", "expected"),
    [
        (4, (14, 15, 0)),
        (5, (11, 25, 16)),
        (6, (9, 31, 38)),
        (7, (8, 10, 16)),
        (8, (7, 9, 10)),
        (10, (5, 43, 29)),
        (12, (4, 46, 19)),
        (15, (3, 49, 6)),
        (20, (2, 51, 51)),
    ],
)
def test_frog_angle_of_american_practice(number: int, expected: tuple[int, int, int]) -> None:
    assert _dms(degrees(geometry.frog_angle_rad(number))) == expected


# The European 1:N is the tangent by definition.
@pytest.mark.parametrize(("number", "expected"), [(4, 14.0362), (6, 9.4623), (10, 5.7106)])
def test_frog_angle_of_the_tangent_rule(number: int, expected: float) -> None:
    assert degrees(geometry.frog_angle_rad(number, "tangent")) == pytest.approx(
        expected, abs=5e-5
    )


# NMRA RP-12.7, 9 mm gauge: frog point to the intersection of the centre lines, in inches.
@pytest.mark.parametrize(("number", "inches"), [(4, 1.416), (5, 1.771), (6, 2.123)])
def test_frog_point_to_intersection(number: int, inches: float) -> None:
    angle = geometry.frog_angle_rad(number)
    found = geometry.intersection_to_frog_mm(9.0, angle)
    assert found == pytest.approx(number * 9.0, abs=1e-9)
    assert found == pytest.approx(inches * INCH, abs=0.1)


# NMRA RP-12.7, 9 mm gauge: lead in inches. The simple lead 2·gauge·N is a classic
# approximation (from memory) that is never shorter; leads in use are 0.75 to 0.95 of it.
@pytest.mark.parametrize(("number", "inches"), [(4, 2.657), (5, 2.971), (6, 3.256), (7, 4.514)])
def test_published_leads_are_a_little_under_the_simple_lead(number: int, inches: float) -> None:
    share = inches * INCH / geometry.simple_lead_mm(9.0, number)
    assert 0.75 < share < 0.95
    piece = turnout(frog_number=float(number), lead_mm=inches * INCH, family="powered frog")
    route = route_of(piece, "points-through")
    ((_, toe, heel),) = rail_runs(route, "F")
    toe_length, heel_length = geometry.frog_parts_mm(9.0, number)
    tip = route.points[0].tip_mm
    assert toe + toe_length - tip == pytest.approx(inches * INCH, abs=0.01)
    assert heel - heel_length - tip == pytest.approx(inches * INCH, abs=0.01)


# NMRA RP-12.7, 9 mm gauge: overall, toe and heel of the frog in mm.
@pytest.mark.parametrize(
    ("number", "overall", "toe", "heel"),
    [(4, 20.5, 7.5, 13.0), (5, 23.5, 8.5, 15.0), (6, 26.0, 9.5, 16.5), (7, 28.5, 11.0, 17.5)],
)
def test_frog_lengths(number: int, overall: float, toe: float, heel: float) -> None:
    assert geometry.frog_parts_mm(9.0, number) == pytest.approx((toe, heel))
    route = route_of(
        turnout(frog_number=float(number), family="powered frog"), "points-through"
    )
    ((_, low, high),) = rail_runs(route, "F")
    assert high - low == pytest.approx(overall, abs=0.01)


# Common practice, no source: dead length of a plastic frog in N, TT, HO and 0.
PLASTIC_DEAD = [(9.0, 15.0), (12.0, 16.0), (16.5, 18.0), (32.0, 25.0)]


def dead_lengths(piece: Piece) -> list[float]:
    """Every plastic stretch of every route, mm."""
    return [high - low for route in piece.routes for _, low, high in rail_runs(route, None)]


@pytest.mark.parametrize(("gauge_mm", "dead_mm"), PLASTIC_DEAD)
@pytest.mark.parametrize(
    "family", ["insulated frog, power routing", "insulated frog, all live"]
)
def test_plastic_frogs_are_dead_as_long_as_practice_says(
    gauge_mm: float, dead_mm: float, family: str
) -> None:
    piece = build("turnout", {"gauge_mm": gauge_mm, "family": family})
    assert dead_lengths(piece) == pytest.approx([dead_mm] * 2, abs=0.05)
    assert piece.assumed_dead_mm == dead_mm
    measured = build("turnout", {"gauge_mm": gauge_mm, "family": family, "frog_dead_mm": 12.5})
    assert dead_lengths(measured) == pytest.approx([12.5] * 2, abs=0.05)
    assert measured.assumed_dead_mm is None


def test_plastic_frogs_of_other_gauges() -> None:
    lengths = [geometry.plastic_dead_mm(gauge) for gauge in (4.5, 9.0, 10.5, 14.25, 22.0, 64.0)]
    assert lengths == sorted(lengths)
    assert lengths[:4] == [7.5, 15.0, 15.5, 17.0] and lengths[-1] == 50.0


def test_a_plastic_frog_is_no_longer_than_the_frog_itself() -> None:
    frog = sum(geometry.frog_parts_mm(9.0, 2.0))
    piece = turnout(frog_number=2.0, family="insulated frog, all live")
    assert frog < 15.0
    assert dead_lengths(piece) == pytest.approx([frog] * 2, abs=0.05)


def test_what_a_frog_is_made_of_changes_no_length_of_track() -> None:
    """A fix that exchanges the family of a piece leaves it where it lies."""
    lengths = {
        tuple(route.length_mm for route in scissors(family=family).routes)
        for family in FAMILIES
    }
    assert len(lengths) == 1


def test_a_frog_number_that_nobody_gave() -> None:
    """No. 8, or what a shorter piece has room for; the piece says which it is."""
    assert any("No. 8 (our starting value" in note for note in turnout().notes)
    slender = geometry.frog_angle_rad(8.0)
    whole = geometry.crossover_length_mm(9.0, 30.0, geometry.simple_lead_mm(9.0, 8.0), slender)
    assert whole == pytest.approx(383.1, abs=0.1)  # by the formula; 400 mm has room for it
    for length_mm, number in ((400.0, 8), (383.0, 7), (300.0, 6), (250.0, 5)):
        notes = scissors(length_mm=length_mm).notes
        assert any(f"frogs of No. {number} " in note for note in notes), length_mm
        assert scissors(length_mm=length_mm, frog_number=float(number)).notes != notes
    with pytest.raises(PieceError, match="length_mm"):
        scissors(length_mm=150.0)


def test_frog_lengths_between_and_outside_the_published_numbers_grow_with_both() -> None:
    numbers = [3.0, 3.9, 4.0, 4.5, 5.5, 6.5, 7.0, 7.1, 10.0]
    parts = [geometry.frog_parts_mm(9.0, number) for number in numbers]
    assert parts == sorted(parts)
    toe, heel = geometry.frog_parts_mm(16.5, 6.0)
    assert (toe, heel) == pytest.approx((9.5 * 16.5 / 9.0, 16.5 * 16.5 / 9.0))


def test_closure_radius_is_that_of_the_curve_from_tip_to_frog_point() -> None:
    # Classic approximation 2·gauge·N² (from memory): an arc tangent at the tip whose
    # tangents are each N·gauge long has exactly this radius.
    assert geometry.closure_radius_mm(9.0, 6.0) == 648.0
    angle = geometry.frog_angle_rad(6.0)
    half_lead = geometry.simple_lead_mm(9.0, 6.0) / 2.0
    exact = half_lead / tan(angle / 2.0)
    assert exact == pytest.approx(648.0)
    # the arc of our turnout ends before the frog, so it is a little sharper
    arc = max(
        route_of(turnout(frog_number=6.0), "points-diverging").course,
        key=lambda s: abs(s.turn_deg),
    )
    radius = arc.length_mm / abs(radians(arc.turn_deg))
    assert 0.75 * 648.0 < radius < 648.0


def test_scissors_length_of_common_practice() -> None:
    # Formula from the geometry; 33 mm centres and 310 mm are common practice, no source.
    angle = geometry.frog_angle_rad(6.0)
    exact = geometry.crossover_length_mm(9.0, 33.0, 108.0, angle)
    rough = geometry.crossover_length_rough_mm(9.0, 33.0, 6.0)
    assert exact == pytest.approx(304.6, abs=0.05)
    assert rough == pytest.approx(305.4, abs=0.05)
    own = {"frog_number": 6.0, "track_centres_mm": 33.0, "length_mm": 310.0}
    for piece in (scissors(**own), crossover(**own)):
        route = route_of(piece, "A-west-B-east")
        assert end_of(piece, "A-east").x_mm == 310.0
        west, east = route.points
        tips_apart = 310.0 - 2.0 * west.tip_mm
        assert tips_apart == pytest.approx(304.6, abs=0.05)
        assert route.length_mm - east.tip_mm == pytest.approx(west.tip_mm, abs=0.002)


@pytest.mark.parametrize("hand", ["left", "right", "symmetrical"])
@pytest.mark.parametrize("rule", ["american", "tangent"])
def test_rails_of_both_legs_cross_at_the_frog_point(hand: str, rule: str) -> None:
    """The frog is where two rails cross: geometry done again, from the drawing."""
    piece = turnout(hand=hand, frog_rule=rule, family="powered frog")
    toe_length, _ = geometry.frog_parts_mm(9.0, 8.0)
    places = []
    for name in ("points-through", "points-diverging"):
        route = route_of(piece, name)
        ((side, toe, _),) = rail_runs(route, "F")
        places.append(rail_place(piece, route, side, toe + toe_length))
    assert dist(*places) < 0.02


@pytest.mark.parametrize(
    ("frog", "main", "diagonal"),
    [
        ("AW-F", "A-west-A-east", "A-west-B-east"),
        ("BE-F", "B-west-B-east", "A-west-B-east"),
        ("BW-F", "B-west-B-east", "B-west-A-east"),
        ("AE-F", "A-west-A-east", "B-west-A-east"),
    ],
)
def test_frogs_of_a_scissors_lie_where_rails_cross(frog: str, main: str, diagonal: str) -> None:
    piece = scissors(family="powered frog")
    toe_length, heel_length = geometry.frog_parts_mm(9.0, 8.0)
    share = toe_length / (toe_length + heel_length)
    places = []
    for name in (main, diagonal):
        route = route_of(piece, name)
        ((side, low, high),) = rail_runs(route, frog)
        at = low + (high - low) * (share if frog[1] == "W" else 1.0 - share)
        places.append(rail_place(piece, route, side, at))
    assert dist(*places) < 0.02


@pytest.mark.parametrize("corner", ["north", "south", "west", "east"])
def test_corners_of_a_scissors_lie_where_diagonal_rails_cross(corner: str) -> None:
    piece = scissors(corners="fed", gangs="single")
    places = []
    for name in ("A-west-B-east", "B-west-A-east"):
        ((side, low, high),) = rail_runs(route_of(piece, name), f"D-{corner}")
        places.append(rail_place(piece, route_of(piece, name), side, (low + high) / 2.0))
    assert dist(*places) < 0.02
    x, y = places[0]
    towards = {"north": (0, 1), "south": (0, -1), "west": (-1, 0), "east": (1, 0)}[corner]
    across, along = x - 200.0, y + 15.0  # from the middle of the piece
    assert across * towards[0] + along * towards[1] > 4.0
    assert abs(across * towards[1]) + abs(along * towards[0]) < 0.02


def test_strokes_walked_exactly_and_numerically_agree() -> None:
    course = geometry.strokes([(10.0, 0.0), (200.0, 0.7), (55.5, -1.1)])
    exact = geometry.walk(course, geometry.Pose(1.0, 2.0, 30.0))
    x, y, heading = 1.0, 2.0, 30.0
    for stroke in course:
        for _ in range(2000):
            step, turn = stroke.length_mm / 2000, stroke.turn_deg / 2000
            pose = geometry.Pose(x, y, heading + turn / 2)
            small = geometry.walk((Stroke(step),), pose)
            x, y, heading = small.x_mm, small.y_mm, heading + turn
    assert (exact.x_mm, exact.y_mm) == pytest.approx((x, y), abs=1e-3)
    assert exact.heading_deg == pytest.approx(heading)
