"""A double slip: what is set by which levers, and which pole every rail has then.

Worked out by hand for a left-hand piece, B crossing A from the south-west to the
north-east, before there was one to build.  A train that goes east always has the north pole
on its left, whichever of the four ways it takes; so a frog, in which a left and a right rail
cross, asks for the pole of the track that is used at its end.  That the lever of one end
sets the way at the other, and that the frog of an end therefore hangs on the lever of the
other end, is common practice, no source.  So is the wiring of both families.
"""

from __future__ import annotations

from itertools import product
from math import cos, hypot, radians, tan

import pytest

from sim.pieces.model import Lever, Piece
from sim.pieces.parameters import PieceError
from tests.pieces.cases import double_slip, end_of, rail_place, rail_runs, route_of
from tests.twin import poles

LIVE, ALL_LIVE = "live frog", "insulated frog, all live"
#: route -> what the lever with the western blades, and that with the eastern, must be at
ROUTES = {
    "A-west-A-east": ("A-east", "A-west"),
    "A-west-B-east": ("B-east", "A-west"),
    "B-west-A-east": ("A-east", "B-west"),
    "B-west-B-east": ("B-east", "B-west"),
}
#: live frogs, the outer rails fed: west and east frog, rails inside the slips A-B and B-A
LIVE_POLES = {
    "A-west-A-east": ("S", "N", "N", "S"),  # the slips' rails: by the blades not in use
    "A-west-B-east": ("S", "S", "S", "floating"),
    "B-west-A-east": ("N", "N", "floating", "N"),
    "B-west-B-east": ("N", "S", "N", "S"),
}
#: one lever at rest in each position, the other under way: what hangs on it floats
MOVING = {
    ("moving", "A-west"): ("S", "floating", "floating", "floating"),
    ("moving", "B-west"): ("N", "floating", "floating", "floating"),
    ("A-east", "moving"): ("floating", "N", "floating", "floating"),
    ("B-east", "moving"): ("floating", "S", "floating", "floating"),
    ("moving", "moving"): ("floating", "floating", "floating", "floating"),
}
#: fed from one end alone, without gaps past the frogs: the lever position that shorts it
SHORTED_BY = {
    "A-west": ("east", "B-west"),
    "B-west": ("east", "A-west"),
    "A-east": ("west", "B-east"),
    "B-east": ("west", "A-east"),
}
#: insulated frogs: rails that must be north on the left, and south on the right
NORTH = {
    *("outer-A-B", "A-east-leg", "A-east-closure", "A-east-blade", "B-west-leg"),
    *("B-west-closure", "B-west-blade"),
    *("slip-B-A", "slip-B-A-west-blade", "slip-B-A-east-blade"),
}
SOUTH = {
    *("outer-B-A", "A-west-leg", "A-west-closure", "A-west-blade", "B-east-leg"),
    *("B-east-closure", "B-east-blade"),
    *("slip-A-B", "slip-A-B-west-blade", "slip-A-B-east-blade"),
}
#: rails as a train going east meets them, left and right; - is plastic
RAILS = {
    (ALL_LIVE, "A-west-A-east"): (
        [
            "outer-A-B",
            "A-east-blade",
            "A-east-closure",
            "-",
            "A-east-closure",
            "-",
            "A-east-leg",
        ],
        [
            "A-west-leg",
            "-",
            "A-west-closure",
            "-",
            "A-west-closure",
            "A-west-blade",
            "outer-B-A",
        ],
    ),
    (ALL_LIVE, "B-west-B-east"): (
        [
            "B-west-leg",
            "-",
            "B-west-closure",
            "-",
            "B-west-closure",
            "B-west-blade",
            "outer-A-B",
        ],
        [
            "outer-B-A",
            "B-east-blade",
            "B-east-closure",
            "-",
            "B-east-closure",
            "-",
            "B-east-leg",
        ],
    ),
    (ALL_LIVE, "A-west-B-east"): (
        ["outer-A-B"],
        [
            *("A-west-leg", "-", "A-west-closure", "slip-A-B-west-blade", "slip-A-B"),
            *("slip-A-B-east-blade", "B-east-closure", "-", "B-east-leg"),
        ],
    ),
    (ALL_LIVE, "B-west-A-east"): (
        [
            *("B-west-leg", "-", "B-west-closure", "slip-B-A-west-blade", "slip-B-A"),
            *("slip-B-A-east-blade", "A-east-closure", "-", "A-east-leg"),
        ],
        ["outer-B-A"],
    ),
    (LIVE, "A-west-A-east"): (
        ["outer-A-B", "east-frog", "-", "east-frog"],
        ["west-frog", "-", "west-frog", "outer-B-A"],
    ),
    (LIVE, "B-west-B-east"): (
        ["west-frog", "-", "west-frog", "outer-A-B"],
        ["outer-B-A", "east-frog", "-", "east-frog"],
    ),
    (LIVE, "A-west-B-east"): (["outer-A-B"], ["west-frog", "slip-A-B", "east-frog"]),
    (LIVE, "B-west-A-east"): (["west-frog", "slip-B-A", "east-frog"], ["outer-B-A"]),
}
OUTER = {"outer-A-B": "N", "outer-B-A": "S"}


def rails(piece: Piece, route: str) -> tuple[list[str], list[str]]:
    found = []
    for side in ("left", "right"):
        names: list[str] = []
        for span in route_of(piece, route).spans:
            name = getattr(span, side) or "-"
            if names[-1:] != [name]:
                names.append(name)
        found.append(names)
    return found[0], found[1]


def at(west: str, east: str) -> dict[str, str]:
    return {"west": west, "east": east}


def set_routes(piece: Piece, west: str, east: str) -> list[str]:
    levers = at(west, east)
    return [r.name for r in piece.routes if all(levers[x] == to for x, to in r.needs)]


@pytest.mark.parametrize("hand", ["left", "right"])
@pytest.mark.parametrize("family", [LIVE, ALL_LIVE])
def test_the_four_ways_and_their_levers(family: str, hand: str) -> None:
    piece = double_slip(family=family, hand=hand)
    assert [route.name for route in piece.routes] == list(ROUTES)
    assert piece.levers == (
        Lever("west", ("A-east", "B-east"), "A-east"),
        Lever("east", ("A-west", "B-west"), "A-west"),
    )
    assert piece.gangs == ()
    for route, levers in ROUTES.items():
        assert set_routes(piece, *levers) == [route]
        for points in route_of(piece, route).points:
            assert points.facing_from_start == (points.lever == "west")
    assert piece.crossings == (
        ("A-west-A-east", "B-west-B-east"),
        ("A-west-B-east", "B-west-A-east"),
    )


@pytest.mark.parametrize(("family", "route"), RAILS)
@pytest.mark.parametrize("hand", ["left", "right"])
def test_the_rails_of_every_way(hand: str, family: str, route: str) -> None:
    """To the right B comes from the north: every rail lies on the other side."""
    left, right = RAILS[family, route]
    piece = double_slip(family=family, hand=hand)
    assert rails(piece, route) == ((left, right) if hand == "left" else (right, left))


def test_sections_gaps_bonds_and_contacts_of_live_frogs() -> None:
    """Blades, closure rails, frog and legs of an end are one metal, as in a turnout."""
    piece = double_slip(family=LIVE)
    assert {s.name for s in piece.sections} == {
        *("outer-A-B", "outer-B-A", "west-frog", "east-frog", "slip-A-B", "slip-B-A"),
    }
    assert piece.gaps == piece.bonds == ()
    assert {(c.a, c.b, c.when) for c in piece.contacts} == {
        ("west-frog", "outer-B-A", ((("east", "A-west"),),)),
        ("west-frog", "outer-A-B", ((("east", "B-west"),),)),
        ("east-frog", "outer-A-B", ((("west", "A-east"),),)),
        ("east-frog", "outer-B-A", ((("west", "B-east"),),)),
        ("slip-A-B", "west-frog", ((("west", "B-east"),),)),
        ("slip-A-B", "east-frog", ((("east", "A-west"),),)),
        ("slip-B-A", "west-frog", ((("west", "A-east"),),)),
        ("slip-B-A", "east-frog", ((("east", "B-west"),),)),
    }
    apart = double_slip(family=LIVE, frog_gaps=True)
    assert {(g.a, g.b) for g in apart.gaps} == {
        *(("west-frog", "A-west-leg"), ("west-frog", "B-west-leg")),
        *(("east-frog", "A-east-leg"), ("east-frog", "B-east-leg")),
    }
    assert len(apart.sections) == 10
    assert apart.contacts == piece.contacts


def test_sections_gaps_bonds_and_contacts_of_insulated_frogs() -> None:
    """Twenty rails, each bonded to the outer rail whose pole it must have."""
    piece = double_slip(family=ALL_LIVE)
    assert {s.name for s in piece.sections} == NORTH | SOUTH
    assert len(NORTH | SOUTH) == 20
    ends = ("A-west", "A-east", "B-west", "B-east")
    legs = {(f"{end}-closure", f"{end}-leg") for end in ends}
    assert {(g.a, g.b) for g in piece.gaps} == legs
    hinges = {(f"{end}-blade", f"{end}-closure") for end in ends}
    ways = product(("slip-A-B", "slip-B-A"), ("west", "east"))
    hinges |= {(f"{way}-{end}-blade", way) for way, end in ways}
    north = {("A-east-closure", "outer-A-B"), ("B-west-closure", "outer-A-B")}
    south = {("A-west-closure", "outer-B-A"), ("B-east-closure", "outer-B-A")}
    slips = {("slip-B-A", "outer-A-B"), ("slip-A-B", "outer-B-A")}
    assert {(b.a, b.b) for b in piece.bonds} == legs | hinges | north | south | slips
    assert piece.contacts == ()


@pytest.mark.parametrize("route", ROUTES)
@pytest.mark.parametrize("frog_gaps", [False, True])
def test_poles_of_live_frogs(frog_gaps: bool, route: str) -> None:
    piece = double_slip(family=LIVE, frog_gaps=frog_gaps)
    found = poles(piece, at(*ROUTES[route]), OUTER)
    names = ("west-frog", "east-frog", "slip-A-B", "slip-B-A")
    assert tuple(found[name] for name in names) == LIVE_POLES[route]
    assert (found["outer-A-B"], found["outer-B-A"]) == ("N", "S")
    for span in route_of(piece, route).spans:
        sides = (span.left, "N"), (span.right, "S")
        for section, pole in sides:
            leg = section is not None and section.endswith("-leg")
            assert section is None or found[section] == ("floating" if leg else pole)


@pytest.mark.parametrize("levers", MOVING)
def test_while_a_lever_moves_what_hangs_on_it_floats(levers: tuple[str, str]) -> None:
    found = poles(double_slip(family=LIVE), at(*levers), OUTER)
    names = ("west-frog", "east-frog", "slip-A-B", "slip-B-A")
    assert tuple(found[name] for name in names) == MOVING[levers]


@pytest.mark.parametrize("levers", [*ROUTES.values(), ("moving", "moving")])
@pytest.mark.parametrize("end", ["A-west", "A-east", "B-west", "B-east"])
def test_insulated_frogs_are_live_from_any_end_in_every_setting(
    end: str, levers: tuple[str, str]
) -> None:
    piece = double_slip(family=ALL_LIVE)
    fed = end_of(piece, end)
    found = poles(piece, at(*levers), {fed.north: "N", fed.south: "S"})
    assert {name for name, pole in found.items() if pole == "N"} == NORTH
    assert {name for name, pole in found.items() if pole == "S"} == SOUTH


@pytest.mark.parametrize("end", SHORTED_BY)
@pytest.mark.parametrize("frog_gaps", [False, True])
def test_live_frogs_fed_from_an_end(frog_gaps: bool, end: str) -> None:
    """Every end is past a frog: without gaps the other lever decides whether it shorts."""
    piece = double_slip(family=LIVE, frog_gaps=frog_gaps)
    fed = end_of(piece, end)
    lever, position = SHORTED_BY[end]
    for levers in ROUTES.values():
        found = poles(piece, at(*levers), {fed.north: "N", fed.south: "S"})
        short = not frog_gaps and at(*levers)[lever] == position
        assert ("short" in found.values()) == short
        if frog_gaps:  # one outer rail of two: the other wants a feeder of its own
            assert sorted(found[name] for name in OUTER) in (
                ["N", "floating"],
                ["S", "floating"],
            )


def test_crossing_rails_have_one_pole_only_where_their_frogs_may_be_metal() -> None:
    """The two obtuse corners: alike with insulated frogs, opposite with live ones."""
    for family in (LIVE, ALL_LIVE):
        piece = double_slip(family=family)
        found = poles(piece, at(*ROUTES["A-west-A-east"]), OUTER)
        for side in (0, 1):
            middle = []
            for route in ("A-west-A-east", "B-west-B-east"):
                names = rails(piece, route)[side]
                (corner,) = (
                    before
                    for before, plastic, after in zip(names, names[1:], names[2:], strict=False)
                    if plastic == "-" and before == after
                )
                middle.append(found[corner])
            assert (middle[0] == middle[1]) == (family == ALL_LIVE)


@pytest.mark.parametrize("number", [4.0, 6.0, 8.0])
@pytest.mark.parametrize("hand", ["left", "right"])
def test_shape(hand: str, number: float) -> None:
    """Frogs (g/2)/tan(F/2) from the middle on every way; slips of one arc between the tips.

    Geometry: two tangents of length T that meet at the angle F hold an arc of radius
    T / tan(F/2), as long as R times F.
    """
    piece = double_slip(frog_number=number, hand=hand)
    a, b = route_of(piece, "A-west-A-east"), route_of(piece, "B-west-B-east")
    angle = abs(end_of(piece, "B-east").heading_deg)
    assert 2.0 * tan(radians(angle) / 2.0) == pytest.approx(1.0 / number, abs=1e-6)
    assert (end_of(piece, "B-east").y_mm > 0) == (hand == "left")
    assert a.length_mm == b.length_mm
    west, east = a.points
    tip = a.length_mm / 2.0 - west.tip_mm
    assert east.tip_mm == pytest.approx(a.length_mm / 2.0 + tip)
    for name in ("A-west-B-east", "B-west-A-east"):
        (way, arc, out) = route_of(piece, name).course
        assert abs(arc.turn_deg) == pytest.approx(angle)
        assert (arc.turn_deg > 0) == ((name == "A-west-B-east") == (hand == "left"))
        radius = arc.length_mm / radians(angle)
        assert radius == pytest.approx(tip / tan(radians(angle) / 2.0), rel=1e-4)
        assert way.length_mm == out.length_mm == west.tip_mm
    # where A's and B's rails cross, measured on the drawing: the west frog of both ways
    far = 4.5 / tan(radians(angle) / 2.0)
    inner = ("right", "left") if hand == "left" else ("left", "right")
    one = rail_place(piece, a, inner[0], a.length_mm / 2.0 - far)
    other = rail_place(piece, b, inner[1], b.length_mm / 2.0 - far)
    assert hypot(one[0] - other[0], one[1] - other[1]) < 0.02
    # the inside rail of a slip passes the obtuse corner, (g/2)/cos(F/2) from the middle
    half = radians(angle) / 2.0
    way = route_of(piece, "A-west-B-east")
    x, y = rail_place(piece, way, inner[0], way.length_mm / 2.0)
    passed = 4.5 / cos(half) - hypot(x - a.length_mm / 2.0, y)
    assert passed == pytest.approx(4.5 / cos(half) - 4.5 + tip * tan(half / 2.0), abs=0.02)


@pytest.mark.parametrize("family", [LIVE, ALL_LIVE])
def test_nothing_is_drilled_at_between_the_frogs(family: str) -> None:
    """Blades, tie bars and strips lie there: only near an end may a hole go down."""
    piece = double_slip(family=family)
    holes = [pad for pad in piece.pads if pad.drill]
    assert holes
    for pad in holes:
        ends = [hypot(pad.x_mm - end.x_mm, pad.y_mm - end.y_mm) for end in piece.ends]
        assert min(ends) < 12.0, pad


def test_frogs_blades_and_tips_lie_apart() -> None:
    piece = double_slip(family=ALL_LIVE)
    right = [s.right for s in route_of(piece, "A-west-B-east").spans]
    assert len(set(right)) == len(right) - 1  # plastic twice: one frog at either end
    for route in piece.routes:
        for side, low, high in rail_runs(route, None):
            assert high - low > 5.0, (route.name, side)


@pytest.mark.parametrize(
    ("params", "field"),
    [
        ({"lead_mm": 99.0}, "lead_mm"),  # the tips would lie in the near frog
        ({"lead_mm": 80.0}, "lead_mm"),  # the heels would lie in the obtuse corner
        ({"length_mm": 140.0, "frog_number": 6.0}, "length_mm"),
        ({"corner_mm": 40.0}, "corner_mm"),
        ({"frog_dead_mm": 400.0}, "frog_dead_mm"),
        ({"family": "powered frog"}, "family"),
        ({"family": ALL_LIVE, "frog_gaps": True}, "frog_gaps"),
        ({"frog_number": 2.0}, "corner_mm"),
    ],
)
def test_what_cannot_exist_is_refused_with_what_would_do(
    params: dict[str, object], field: str
) -> None:
    with pytest.raises(PieceError) as caught:
        double_slip(**params)
    ((told, expected, found),) = caught.value.problems
    assert told == field
    assert expected and found
    if field.endswith("_mm"):
        word = "at most " if "at most " in expected else "at least "
        value = float(expected.partition(word)[2].partition(" mm")[0])
        double_slip(**params | {field: value})
