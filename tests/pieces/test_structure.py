"""Pieces written out: what a builder finds on opening one. Common practice, no source."""

from __future__ import annotations

import pytest

from sim.pieces.kinds import KINDS, build
from sim.pieces.model import Bond, Contact, End, Gang, Gap, Piece, Points, Stroke
from sim.pieces.parameters import PieceError
from tests.pieces.cases import (
    N_GAUGE,
    TWIN,
    crossover,
    end_of,
    rail_runs,
    route_of,
    scissors,
    turnout,
)


def _sections(piece: Piece) -> list[str]:
    return [section.name for section in piece.sections]


def _rails(piece: Piece, route: str) -> tuple[list[str], list[str]]:
    """(left, right): sections in the order of travel, plastic as ``-``."""
    found = []
    for side in ("left", "right"):
        names: list[str] = []
        for span in route_of(piece, route).spans:
            name = getattr(span, side) or "-"
            if names[-1:] != [name]:
                names.append(name)
        found.append(names)
    return found[0], found[1]


NO_6 = {"frog_number": 6}


def _problems(kind: str, **params: object) -> dict[str, tuple[str, str]]:
    with pytest.raises(PieceError) as caught:
        build(kind, N_GAUGE | params)
    return {field: (expected, found) for field, expected, found in caught.value.problems}


def test_straight() -> None:
    piece = build("straight", N_GAUGE | {"length_mm": 124})
    assert _sections(piece) == ["north", "south"]
    assert piece.ends == (
        End("west", "west", "north", "south", 0.0, 0.0, 180.0),
        End("east", "east", "north", "south", 124.0, 0.0, 0.0),
    )
    assert [route.name for route in piece.routes] == ["west-east"]
    assert _rails(piece, "west-east") == (["north"], ["south"])


@pytest.mark.parametrize(
    ("hand", "y_mm", "heading"), [("left", 100.0, 90.0), ("right", -100, -90)]
)
def test_quarter_curve(hand: str, y_mm: float, heading: float) -> None:
    piece = build("curve", N_GAUGE | {"radius_mm": 100, "angle_deg": 90, "hand": hand})
    east = end_of(piece, "east")
    assert (east.x_mm, east.y_mm, east.heading_deg) == pytest.approx(
        (100, y_mm, heading), abs=2e-3
    )
    assert piece.routes[0].course == (Stroke(157.08, 90.0 if hand == "left" else -90.0),)
    assert _rails(piece, "west-east") == (["north"], ["south"])


def test_insulated_straight() -> None:
    piece = build("insulated straight", N_GAUGE | {"length_mm": 80, "south_gap_mm": 50})
    assert piece.gaps == (
        Gap("gap-north", "north-west", "north-east"),
        Gap("gap-south", "south-west", "south-east"),
    )
    assert rail_runs(piece.routes[0], "north-west") == [("left", 0.0, 40.0)]
    assert rail_runs(piece.routes[0], "south-west") == [("right", 0.0, 50.0)]
    one = build("insulated straight", N_GAUGE | {"length_mm": 80, "gap_in": "south"})
    assert _sections(one) == ["north", "south-west", "south-east"]
    assert one.gaps == (Gap("gap-south", "south-west", "south-east"),)


def test_feeder_length_has_a_terminal_on_each_rail_in_its_middle() -> None:
    piece = build("feeder length", N_GAUGE)
    pads = [(pad.name, pad.section, pad.x_mm, pad.y_mm) for pad in piece.pads]
    assert pads == [("pad-north-1", "north", 40, 4.5), ("pad-south-1", "south", 40, -4.5)]
    assert [pad.slides for pad in piece.pads] == [False, False]


def test_siding_end_takes_nothing_at_its_buffer() -> None:
    piece = build("siding end", N_GAUGE | {"length_mm": 200})
    assert [(end.name, end.joinable) for end in piece.ends] == [
        ("west", True),
        ("buffer", False),
    ]
    assert [route.name for route in piece.routes] == ["west-buffer"]


def test_right_hand_turnout_of_separate_rails() -> None:
    piece = turnout(family="insulated frog, power routing")
    assert _sections(piece) == ["SN", "SS", "BN", "CN", "BS", "CS", "HT", "HD"]
    assert _rails(piece, "points-through") == (["SN"], ["SS", "BS", "CS", "-", "HT"])
    assert _rails(piece, "points-diverging") == (["SN", "BN", "CN", "-", "HD"], ["SS"])
    assert piece.bonds == (
        Bond("hinge-BN-CN", "BN", "CN"),
        Bond("hinge-BS-CS", "BS", "CS"),
        Bond("link-CS-HT", "CS", "HT"),
        Bond("link-CN-HD", "CN", "HD"),
    )
    assert piece.contacts == (
        Contact("through", "CS", "SS", ((("lever", "through"),),)),
        Contact("diverging", "CN", "SN", ((("lever", "diverging"),),)),
    )
    assert route_of(piece, "points-through").points == (Points("lever", "through", 9.0, 57.0),)
    diverging = end_of(piece, "diverging")
    assert diverging.y_mm < 0.0
    assert (diverging.north, diverging.south) == ("HD", "SS")
    assert diverging.heading_deg == pytest.approx(-7.152669)


def test_left_hand_turnout_is_the_mirror_image() -> None:
    right, left = turnout(family="powered frog"), turnout(family="powered frog", hand="left")
    assert (left.bonds, left.contacts, left.gaps) == (right.bonds, right.contacts, right.gaps)
    for name in ("points-through", "points-diverging"):
        assert _rails(left, name) == _rails(right, name)[::-1]
    for end in right.ends:
        other = end_of(left, end.name)
        assert (other.north, other.south) == (end.south, end.north)
        assert (other.x_mm, other.y_mm) == (end.x_mm, -end.y_mm)
    for pad, other_pad in zip(right.pads, left.pads, strict=True):
        assert (other_pad.x_mm, other_pad.y_mm) == (pad.x_mm, -pad.y_mm)
    assert end_of(left, "points").north == "SS"


def test_symmetrical_turnout_turns_both_legs_by_half_the_angle() -> None:
    piece = turnout(hand="symmetrical")
    through, diverging = end_of(piece, "through"), end_of(piece, "diverging")
    assert (
        through.heading_deg == -diverging.heading_deg == pytest.approx(7.152669 / 2, abs=1e-6)
    )
    assert (through.x_mm, through.y_mm) == (diverging.x_mm, -diverging.y_mm)
    assert through.y_mm > 0.0
    assert (through.north, diverging.south) == ("SN", "SS")


def test_live_frog_turnout_is_three_rails_or_five_with_gaps_past_the_frog() -> None:
    assert _sections(turnout()) == ["SN", "SS", "BN"]
    piece = turnout(frog_gaps=True)
    assert _sections(piece) == ["SN", "SS", "BN", "HT", "HD"]
    assert piece.gaps == (Gap("gap-F-HT", "BN", "HT"), Gap("gap-F-HD", "BN", "HD"))


def test_slides_feed_the_frog_and_the_rail_past_it() -> None:
    """Nine rails; by the lever F and HT are joined to SS, or F and HD to SN."""
    piece = turnout(family="metal frog, slide-routed")
    assert _sections(piece) == ["SN", "SS", "BN", "CN", "BS", "CS", "F", "HT", "HD"]
    assert _rails(piece, "points-through") == (["SN"], ["SS", "BS", "CS", "F", "HT"])
    assert _rails(piece, "points-diverging") == (["SN", "BN", "CN", "F", "HD"], ["SS"])
    assert [(b.a, b.b) for b in piece.bonds] == [
        *(("BN", "CN"), ("BS", "CS"), ("CS", "SS"), ("CN", "SN")),
    ]
    assert [(g.a, g.b) for g in piece.gaps] == [
        *(("CS", "F"), ("CN", "F"), ("F", "HT"), ("F", "HD")),
    ]
    through, diverging = (((("lever", position),),) for position in ("through", "diverging"))
    assert piece.contacts == (
        Contact("through-F", "F", "SS", through),
        Contact("through-HT", "HT", "SS", through),
        Contact("diverging-F", "F", "SN", diverging),
        Contact("diverging-HD", "HD", "SN", diverging),
    )
    assert list(_problems("turnout", family=piece.family, frog_gaps=True)) == ["frog_gaps"]


@pytest.mark.parametrize("centre_gap", [True, False])
def test_frogs_mids_and_legs_of_a_scissors_with_slides(centre_gap: bool) -> None:
    piece = scissors(family="metal frog, slide-routed", centre_gap=centre_gap)
    mid = ["A-mid-west", "A-mid-east"] if centre_gap else ["A-mid"]
    assert _rails(piece, "A-west-A-east")[1] == [
        *("A-inner-west", "AW-BS", "AW-CS", "AW-frog", *mid),
        *("AE-frog", "AE-CS", "AE-BS", "A-inner-east"),
    ]
    x1_north, x1_south = _rails(piece, "A-west-B-east")
    assert x1_north[:6] == ["A-outer", "AW-BN", "AW-CN", "AW-frog", "AW-leg", "B-inner-east"]
    assert x1_south[-6:] == ["A-inner-west", "BE-leg", "BE-frog", "BE-CN", "BE-BN", "B-outer"]
    assert Gap("gap-X1-north", "AW-leg", "B-inner-east") in piece.gaps
    assert Contact("AW-through-HT", mid[0], "A-inner-west", ((("AW", "through"),),)) in (
        piece.contacts
    )
    leg = Contact("AW-diverging-HD", "AW-leg", "A-outer", ((("AW", "diverging"),),))
    assert leg in piece.contacts
    one = crossover(family="metal frog, slide-routed")
    assert {"AW-frog", "BE-frog", "X1-north-west", "X1-south-east"} <= set(_sections(one))


def test_single_crossover_of_live_frogs() -> None:
    piece = crossover()
    plain = [
        "A-outer",
        "A-inner-west",
        "A-inner-east",
        "B-outer",
        "B-inner-west",
        "B-inner-east",
    ]
    assert _sections(piece) == plain  # each diagonal stub is one with the rail past its frog
    assert _rails(piece, "A-west-A-east") == (["A-outer"], ["A-inner-west", "A-inner-east"])
    assert _rails(piece, "A-west-B-east") == (
        ["A-outer", "A-inner-east", "B-inner-east"],
        ["A-inner-west", "B-inner-west", "B-outer"],
    )
    assert piece.gaps == (
        Gap("gap-X1-north", "A-inner-east", "B-inner-east"),
        Gap("gap-X1-south", "A-inner-west", "B-inner-west"),
    )
    apart = crossover(frog_gaps=True)
    assert _sections(apart) == [*plain, "X1-north-west", "X1-south-east"]
    assert apart.gaps[:2] == (
        Gap("AW-gap-F-HT", "X1-north-west", "A-inner-east"),
        Gap("BE-gap-F-HT", "X1-south-east", "B-inner-west"),
    )
    assert [route.name for route in piece.routes] == [
        "A-west-A-east",
        "B-west-B-east",
        "A-west-B-east",
    ]
    assert route_of(piece, "A-west-B-east").needs == (("AW", "diverging"), ("BE", "diverging"))
    assert piece.gangs == (Gang("X1", ("AW", "BE")),)
    assert crossover(gangs="single").gangs == ()


def test_crossover_gaps_lie_where_they_are_asked_for() -> None:
    piece = crossover(family="insulated frog, all live", north_gap_mm=192, south_gap_mm=210.5)
    route = route_of(piece, "A-west-B-east")
    assert rail_runs(route, "X1-north-west")[0][2] == 192.0
    assert rail_runs(route, "X1-south-east")[0][1] == 210.5
    # between the gaps lies one rail of each track
    between = [s for s in route.spans if s.from_mm >= 192.0 and s.to_mm <= 210.5]
    assert [(s.left, s.right) for s in between] == [("B-inner-east", "A-inner-west")]


def test_scissors_of_live_frogs() -> None:
    piece = scissors(centre_gap=False)
    inner = ["outer", "inner-west", "inner-east", "mid"]
    assert _sections(piece) == [f"{track}-{name}" for track in "AB" for name in inner]
    assert _rails(piece, "A-west-A-east") == (
        ["A-outer"],
        ["A-inner-west", "A-mid", "A-inner-east"],
    )
    # X1's rails: north is A's frog, then B's eastern inner rail; both diamond corners plastic
    assert _rails(piece, "A-west-B-east") == (
        ["A-outer", "A-mid", "B-inner-east", "-", "B-inner-east", "-", "B-inner-east"],
        ["A-inner-west", "-", "A-inner-west", "-", "A-inner-west", "B-mid", "B-outer"],
    )
    assert _rails(piece, "B-west-A-east") == (
        ["B-inner-west", "-", "B-inner-west", "-", "B-inner-west", "A-mid", "A-outer"],
        ["B-outer", "B-mid", "A-inner-east", "-", "A-inner-east", "-", "A-inner-east"],
    )
    assert piece.crossings == (("A-west-B-east", "B-west-A-east"),)
    assert [lever.name for lever in piece.levers] == ["AW", "AE", "BW", "BE"]


def test_scissors_with_centre_gaps() -> None:
    piece = scissors(family="powered frog")
    assert _rails(piece, "B-west-B-east")[0] == [
        *("B-inner-west", "BW-BS", "BW-CS", "BW-F"),
        *("B-mid-west", "B-mid-east"),
        *("BE-F", "BE-CS", "BE-BS", "B-inner-east"),
    ]
    assert rail_runs(route_of(piece, "A-west-A-east"), "A-mid-west")[0][2] == 200.0
    assert Gap("gap-A-centre", "A-mid-west", "A-mid-east") in piece.gaps


def test_gangs_of_a_scissors() -> None:
    assert scissors(gangs="all").gangs == (Gang("all", ("AW", "AE", "BW", "BE")),)
    assert scissors(gangs="per diagonal").gangs == (
        Gang("X1", ("AW", "BE")),
        Gang("X2", ("BW", "AE")),
    )
    assert scissors(gangs="single").gangs == ()


def test_a_piece_too_short_says_what_it_needs() -> None:
    found = _problems("scissors crossover", track_centres_mm=30, frog_number=8.0, length_mm=380)
    expected, got = found["length_mm"]
    assert (
        "384.062" in expected
    )  # 2 * 144 + 21 / tan 7.15° - 9 / sin 7.15°, half a mm at each end
    assert "380 mm" in got
    needs = _problems("turnout", length_mm=100, frog_number=8.0)["length_mm"][0]
    assert "165.0" in needs  # lead 144, heel 20, half a mm at each end


@pytest.mark.parametrize(
    ("kind", "params"),
    [
        ("scissors crossover", NO_6 | {"track_centres_mm": 33, "length_mm": 262}),
        (
            "scissors crossover",
            NO_6 | {"track_centres_mm": 33, "length_mm": 262, "lead_mm": 100},
        ),
        (
            "single crossover",
            NO_6 | {"track_centres_mm": 33, "length_mm": 250, "frog_dead_mm": 5},
        ),
        ("turnout", NO_6 | {"length_mm": 100}),
    ],
)
def test_a_piece_too_short_names_the_lead_that_fits(
    kind: str, params: dict[str, object]
) -> None:
    """The longest that does: with it the piece can be built, with a hair more it cannot."""
    told = _problems(kind, **params)["length_mm"][0]
    lead = float(told.partition("lead_mm of at most ")[2].partition(" mm")[0])
    assert build(kind, N_GAUGE | params | {"lead_mm": lead})
    assert "length_mm" in _problems(kind, **params | {"lead_mm": lead + 0.002})
    taken = params.get("lead_mm", 108)
    leads = 1 if kind == "turnout" else 2
    need = float(told.partition("at least ")[2].partition(" mm")[0])
    assert need - leads * (float(str(taken)) - lead) == pytest.approx(
        float(str(params["length_mm"])), abs=0.003
    )


@pytest.mark.parametrize("kind", ["scissors crossover", "single crossover"])
def test_a_piece_too_short_for_any_lead_says_what_the_shortest_takes(kind: str) -> None:
    params = {"frog_number": 6, "track_centres_mm": 33}
    told = _problems(kind, **params, length_mm=150)["length_mm"][0]
    shortest, _, rest = told.partition("the shortest, ")[2].partition(" mm, takes ")
    length = float(rest.partition(" mm")[0])
    most = {"lead_mm": float(shortest), "length_mm": length + 0.001}
    assert build(kind, N_GAUGE | params | most)
    assert "lead_mm" in _problems(kind, **params, **most | {"lead_mm": most["lead_mm"] - 0.002})


def test_tracks_too_near_say_how_far_apart_they_must_be() -> None:
    """Rail runs out between the frogs of a track and of a diagonal; the larger one holds."""
    steep = {"frog_number": 3.0, "frog_dead_mm": 20.0}
    with pytest.raises(PieceError) as caught:
        build("scissors crossover", N_GAUGE | steep | {"track_centres_mm": 20})
    told = [e for field, e, _ in caught.value.problems if field == "track_centres_mm"]
    assert len(told) == 2
    least = max(float(e.partition("at least ")[2].partition(" mm")[0]) for e in told)
    assert build("scissors crossover", N_GAUGE | steep | {"track_centres_mm": least + 0.001})
    assert _problems("scissors crossover", track_centres_mm=least - 0.001, **steep)


def test_all_problems_are_told_at_once() -> None:
    found = _problems("turnout", length_mm=80, frog_gaps=True, family="powered frog")
    assert sorted(found) == ["frog_gaps", "length_mm"]
    found = _problems("turnout", hand="up", frog_number="six", colour="red")
    assert sorted(found) == ["colour", "frog_number", "hand"]
    places = {"x1_north_gap_mm": 20, "x1_south_gap_mm": 155, "x2_south_gap_mm": 400}
    assert sorted(_problems("scissors crossover", track_centres_mm=30, **places)) == sorted(
        places
    )


@pytest.mark.parametrize(
    ("kind", "params", "field"),
    [
        ("turnout", {"lead_mm": 40}, "lead_mm"),
        ("turnout", {"frog_dead_mm": 300}, "frog_dead_mm"),
        ("turnout", {"length_mm": -1}, "length_mm"),
        ("single crossover", {"track_centres_mm": 12}, "track_centres_mm"),
        ("single crossover", {"track_centres_mm": 30, "north_gap_mm": 120}, "north_gap_mm"),
        ("scissors crossover", {"track_centres_mm": 25}, "track_centres_mm"),
        ("scissors crossover", {"track_centres_mm": 30, "corner_mm": 12}, "corner_mm"),
        ("scissors crossover", {"track_centres_mm": 30, "corners": "fed"}, "corners"),
        ("insulated straight", {"length_mm": 80, "gap_mm": 80}, "gap_mm"),
        (
            "insulated straight",
            {"length_mm": 80, "gap_in": "north", "south_gap_mm": 9},
            "south_gap_mm",
        ),
        ("feeder length", {"terminal_mm": -3}, "terminal_mm"),
        ("curve", {"radius_mm": 4, "angle_deg": 30}, "radius_mm"),
        ("diamond crossing", {"length_mm": 50}, "length_mm"),
        ("straight", {}, "length_mm"),
    ],
)
def test_what_cannot_exist_is_refused(kind: str, params: dict[str, object], field: str) -> None:
    assert list(_problems(kind, **params)) == [field]


def test_an_unknown_kind_is_answered_with_the_known_ones() -> None:
    with pytest.raises(PieceError, match="single crossover") as caught:
        build("triangle", TWIN)
    assert caught.value.problems[0][0] == "kind"
    assert len(KINDS) == 10


@pytest.mark.parametrize("hand", ["left", "right"])
def test_diamond_crossing(hand: str) -> None:
    piece = build("diamond crossing", N_GAUGE | {"angle_deg": 30, "hand": hand})
    a_left, a_right = _rails(piece, "A-west-A-east")
    assert a_left == ["A-north", "-", "A-north", "-", "A-north"]
    assert a_right == ["A-south", "-", "A-south", "-", "A-south"]
    assert piece.crossings == (("A-west-A-east", "B-west-B-east"),)
    west, east = end_of(piece, "B-west"), end_of(piece, "B-east")
    assert (east.y_mm > 0.0) == (hand == "left")
    middle = end_of(piece, "A-east").x_mm / 2.0
    assert (west.x_mm + east.x_mm, west.y_mm + east.y_mm) == pytest.approx(
        (2 * middle, 0), abs=2e-3
    )
