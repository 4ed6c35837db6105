"""Which pole every rail has, by the twin: families, crossovers, scissors.

Common practice of turnout wiring, no source; that both rails of a crossover
between two loops are gapped is asked for by NMRA MRP-1.3.
"""

from __future__ import annotations

from itertools import product

import pytest

from sim.pieces.model import Piece
from tests.pieces.cases import FAMILIES, crossover, scissors, turnout
from tests.twin import nets, poles

LIVE, ROUTING, ALL_LIVE, POWERED, SWITCHED, SLIDE = FAMILIES
FROM_POINTS = {"SN": "N", "SS": "S"}
#: what power past the frog looks like, fed from the points: family, position -> HT, HD
PAST_FROG = {
    (LIVE, "through"): ("S", "S"),
    (LIVE, "diverging"): ("N", "N"),
    (ROUTING, "through"): ("S", "floating"),
    (ROUTING, "diverging"): ("floating", "N"),
    (ALL_LIVE, "through"): ("S", "N"),
    (ALL_LIVE, "diverging"): ("S", "N"),
    (POWERED, "through"): ("S", "N"),
    (POWERED, "diverging"): ("S", "N"),
    (SWITCHED, "through"): ("S", "S"),
    (SWITCHED, "diverging"): ("N", "N"),
    (SLIDE, "through"): ("S", "floating"),
    (SLIDE, "diverging"): ("floating", "N"),
}
#: metal frogs follow the lever
FROG = {"through": "S", "diverging": "N", "moving": "floating"}


def _end_rails(piece: Piece, name: str) -> tuple[str, str]:
    """The rails of an end: (the one that must be N, the one that must be S)."""
    end = next(e for e in piece.ends if e.name == name)
    north_pole = next(e for e in piece.ends if e.name == "points").north == "SN"
    return (end.north, end.south) if north_pole else (end.south, end.north)


@pytest.mark.parametrize("hand", ["left", "right", "symmetrical"])
@pytest.mark.parametrize(("family", "position"), PAST_FROG)
def test_legs_of_a_turnout_fed_from_its_points(family: str, position: str, hand: str) -> None:
    piece = turnout(family=family, hand=hand)
    found = poles(piece, {"lever": position}, FROM_POINTS)
    ht, hd = PAST_FROG[family, position]
    n_rail, s_rail = _end_rails(piece, "through")
    assert (found[n_rail], found[s_rail]) == ("N", ht)
    n_rail, s_rail = _end_rails(piece, "diverging")
    assert (found[n_rail], found[s_rail]) == (hd, "S")


@pytest.mark.parametrize("position", ["through", "diverging", "moving"])
def test_the_outer_rails_never_change_and_metal_frogs_follow_the_lever(position: str) -> None:
    for family in FAMILIES:
        piece = turnout(family=family)
        found = poles(piece, {"lever": position}, FROM_POINTS)
        assert (found["SN"], found["SS"]) == ("N", "S")
        frog = {LIVE: "BN", POWERED: "F", SWITCHED: "F", SLIDE: "F"}.get(family)
        if frog is not None:
            assert found[frog] == FROG[position]
        if family in (ALL_LIVE, POWERED, SWITCHED, SLIDE):
            assert (found["CN"], found["BN"]) == ("N", "N")
            assert (found["CS"], found["BS"]) == ("S", "S")


@pytest.mark.parametrize(
    ("family", "gaps"),
    [*((family, False) for family in FAMILIES), (LIVE, True), (SWITCHED, True)],
)
@pytest.mark.parametrize("leg", ["through", "diverging"])
def test_fed_from_a_leg(family: str, leg: str, gaps: bool) -> None:
    """A leg fed without a gap shorts a turnout whose frog is one with it, set the other way."""
    piece = turnout(family=family, frog_gaps=gaps)
    n_rail, s_rail = _end_rails(piece, leg)
    other = "diverging" if leg == "through" else "through"
    feeders = {n_rail: "N", s_rail: "S"}
    for position in (leg, other):
        found = poles(piece, {"lever": position}, feeders | FROM_POINTS)
        shorted = family in (LIVE, SWITCHED) and position == other and not gaps
        assert ("short" in found.values()) == shorted
        beyond = poles(piece, {"lever": position}, feeders)
        assert beyond[n_rail] != "floating"
    if family == ROUTING:  # no short; the feed runs backwards into the closure rail
        closure = "CS" if leg == "through" else "CN"
        pole = "S" if leg == "through" else "N"
        assert poles(piece, {"lever": other}, feeders)[closure] == pole


def test_a_leg_beyond_a_gap_needs_a_feeder_of_its_own() -> None:
    piece = turnout(frog_gaps=True)
    for position in ("through", "diverging"):
        found = poles(piece, {"lever": position}, FROM_POINTS)
        assert (found["HT"], found["HD"]) == ("floating", "floating")


@pytest.mark.parametrize("leg_rail", ["HT", "CS"])
@pytest.mark.parametrize("family", [POWERED, SLIDE])
def test_a_wheel_on_a_frog_set_wrong_joins_both_poles(family: str, leg_rail: str) -> None:
    """Slides leave HT floating there; a leg that is fed from beyond is not."""
    piece = turnout(family=family)
    wheel = [("F", leg_rail)]  # a pickup or a plain wheel across a gap on the through leg
    if family == SLIDE:
        wheel += [("HT", "SS")]  # the feed of the leg
    right, wrong = {"lever": "through"}, {"lever": "diverging"}
    assert "short" not in poles(piece, right, FROM_POINTS, wheel).values()
    assert "short" in poles(piece, wrong, FROM_POINTS, wheel).values()


@pytest.mark.parametrize("family", FAMILIES)
def test_make_before_break_joins_the_stock_rails_where_one_rail_has_both(family: str) -> None:
    piece = turnout(family=family, makes_at=0.4, breaks_at=0.6)
    assert all(c.makes_at < c.breaks_at for c in piece.contacts)
    both = [(contact.a, contact.b) for contact in piece.contacts]
    joined = any({"SN", "SS"} <= net for net in nets(piece, {"lever": "moving"}, both))
    assert joined == (family in (LIVE, POWERED, SWITCHED, SLIDE))


def test_a_failed_contact_leaves_the_frog_floating() -> None:
    found = poles(turnout(), {"lever": "through"}, FROM_POINTS, open_contacts=["through"])
    assert found["BN"] == "floating"


# Single crossover: A is fed at its west, where AW's points are, B at its east.
A_WEST = {"A-outer": "A north", "A-inner-west": "A south"}
B_EAST = {"B-outer": "B south", "B-inner-east": "B north"}
A_EAST = {"A-outer": "A north", "A-inner-east": "A south"}
B_WEST = {"B-outer": "B south", "B-inner-west": "B north"}
CROSSING = {"AW": "diverging", "BE": "diverging"}
STRAIGHT_ON = {"AW": "through", "BE": "through"}


@pytest.mark.parametrize(
    ("family", "a_east", "b_west"),
    [
        (LIVE, "A north", "B south"),
        (ROUTING, "floating", "floating"),
        (ALL_LIVE, "A south", "B north"),
        (POWERED, "A south", "B north"),
        (SWITCHED, "A north", "B south"),
        (SLIDE, "floating", "floating"),
    ],
)
def test_single_crossover_with_both_levers_crossing(
    family: str, a_east: str, b_west: str
) -> None:
    piece = crossover(family=family)
    found = poles(piece, CROSSING, A_WEST | B_EAST)
    expected = A_WEST | B_EAST | {"A-inner-east": a_east, "B-inner-west": b_west}
    if family in (ROUTING, ALL_LIVE, POWERED, SLIDE):  # elsewhere the stubs are the rails above
        expected |= {"X1-north-west": "A north", "X1-south-east": "B south"}
    assert {name: found[name] for name in expected} == expected
    # rails of the diagonal, from west to east: north of A then of B, south of A then of B
    route = next(r for r in piece.routes if r.name == "A-west-B-east")
    left = {found[span.left] for span in route.spans if span.left}
    right = {found[span.right] for span in route.spans if span.right}
    assert (left, right) == ({"A north", "B north"}, {"A south", "B south"})


@pytest.mark.parametrize("family", FAMILIES)
def test_single_crossover_with_both_levers_through(family: str) -> None:
    found = poles(crossover(family=family), STRAIGHT_ON, A_WEST | B_EAST)
    assert (found["A-inner-east"], found["B-inner-west"]) == ("A south", "B north")
    if family in (ROUTING, SLIDE):
        assert (found["X1-north-west"], found["X1-south-east"]) == ("floating", "floating")


@pytest.mark.parametrize("family", [LIVE, SWITCHED])
def test_live_frogs_fed_from_both_sides_need_gaps_past_the_frogs(family: str) -> None:
    loops = A_WEST | A_EAST | B_WEST | B_EAST
    assert "short" in poles(crossover(family=family), CROSSING, loops).values()
    piece = crossover(family=family, frog_gaps=True)
    found = poles(piece, CROSSING, loops)
    assert "short" not in found.values()
    assert (found["A-inner-east"], found["B-inner-west"]) == ("A south", "B north")
    unfed = poles(piece, CROSSING, A_WEST | B_EAST)
    assert (unfed["A-inner-east"], unfed["B-inner-west"]) == ("floating", "floating")


@pytest.mark.parametrize("family", FAMILIES)
def test_no_setting_joins_the_loops(family: str) -> None:
    made = [crossover(family=family), scissors(family=family, centre_gap=False)]
    made.append(scissors(family=family, corners="fed", gangs="single"))
    for piece in made:
        levers = [lever.name for lever in piece.levers]
        for positions in product(("through", "diverging", "moving"), repeat=len(levers)):
            for net in nets(piece, dict(zip(levers, positions, strict=True))):
                tracks = {name[0] for name in net if name[0] in "AB"}
                assert len(tracks) <= 1


# Scissors. Settings of AW, AE, BW, BE; X1 runs from AW to BE, X2 from BW to AE.
T, D = "through", "diverging"
SETTINGS = {
    "all through": {"AW": T, "AE": T, "BW": T, "BE": T},
    "X1": {"AW": D, "AE": T, "BW": T, "BE": D},
    "X2": {"AW": T, "AE": D, "BW": D, "BE": T},
    "all diverging": {"AW": D, "AE": D, "BW": D, "BE": D},
}
ORDINARY = {
    "all": {"all through", "all diverging"},
    "per diagonal": {"all through", "X1", "X2", "all diverging"},
}
LOOPS = A_WEST | A_EAST | B_WEST | B_EAST
FROM_WEST = A_WEST | B_WEST
TWO = [("A-inner-west", "A-inner-east"), ("B-inner-west", "B-inner-east")]
FROGS = [("A-mid-west", "A-mid-east"), ("B-mid-west", "B-mid-east")]


def _jumpers(count: int, centre_gap: bool) -> list[tuple[str, str]]:
    """None, the two between inner rails, or those and the two between frog sections."""
    frogs = FROGS if centre_gap else []  # without a centre gap the frogs are one already
    return {0: [], 2: TWO, 4: TWO + frogs}[count]


def _gang_settings(piece: Piece) -> list[dict[str, str]]:
    """Every setting in which each gang, and each lever without one, is of one mind."""
    groups = [gang.levers for gang in piece.gangs]
    groups += [(v.name,) for v in piece.levers if not any(v.name in g for g in groups)]
    return [
        {lever: p for group, p in zip(groups, picked, strict=True) for lever in group}
        for picked in product((T, D), repeat=len(groups))
    ]


# (centre gap, jumpers) -> settings in which a live-frog piece shorts, fed in two loops or
# from the west alone: wherever a frog section that is one, or made one, meets two turnouts
# of its track that disagree.
SHORTS = {
    (True, 0): set(),
    (True, 2): set(),
    (True, 4): {"X1", "X2"},
    (False, 0): {"X1", "X2"},
    (False, 2): {"X1", "X2"},
    (False, 4): {"X1", "X2"},
}


@pytest.mark.parametrize("feeders", [LOOPS, FROM_WEST], ids=["loops", "from the west"])
@pytest.mark.parametrize("setting", SETTINGS)
@pytest.mark.parametrize(("centre_gap", "jumpers"), SHORTS)
def test_where_a_live_frog_scissors_shorts(
    centre_gap: bool, jumpers: int, setting: str, feeders: dict[str, str]
) -> None:
    piece = scissors(centre_gap=centre_gap)
    found = poles(piece, SETTINGS[setting], feeders, _jumpers(jumpers, centre_gap))
    assert ("short" in found.values()) == (setting in SHORTS[centre_gap, jumpers])


@pytest.mark.parametrize(("centre_gap", "jumpers"), SHORTS)
@pytest.mark.parametrize("gangs", ["all", "per diagonal", "single"])
def test_gangs_decide_which_shorts_are_ordinary(
    gangs: str, centre_gap: bool, jumpers: int
) -> None:
    piece = scissors(centre_gap=centre_gap, gangs=gangs)
    joins = _jumpers(jumpers, centre_gap)
    reachable = _gang_settings(piece)
    shorted = [s for s in reachable if "short" in poles(piece, s, LOOPS, joins).values()]
    named = {name for name, s in SETTINGS.items() if s in reachable}
    risky = bool(SHORTS[centre_gap, jumpers])
    if gangs == "single":  # of 16, the 12 in which two turnouts of a track disagree
        assert (len(reachable), len(shorted)) == (16, 12 if risky else 0)
        return
    assert named == ORDINARY[gangs]
    assert len(reachable) == len(named)
    expected = SHORTS[centre_gap, jumpers] & named
    assert {name for name, s in SETTINGS.items() if s in shorted} == expected


# Fed from the west alone: what the eastern inner rail and the frog sections of A have.
WEST_FED = {
    # centre gap, jumpers, setting: A-inner-east, frog of AW, frog of AE
    (True, 0, "all through"): ("floating", "A south", "floating"),
    (True, 0, "X1"): ("floating", "A north", "floating"),
    (True, 0, "X2"): ("floating", "A south", "A north"),
    (True, 0, "all diverging"): ("floating", "A north", "A north"),
    (True, 2, "all through"): ("A south", "A south", "A south"),
    (True, 2, "X1"): ("A south", "A north", "A south"),
    (True, 2, "X2"): ("A south", "A south", "A north"),
    (True, 2, "all diverging"): ("A south", "A north", "A north"),
    (True, 4, "all through"): ("A south", "A south", "A south"),
    (True, 4, "all diverging"): ("A south", "A north", "A north"),
    (False, 0, "all through"): ("A south", "A south", "A south"),
    (False, 0, "all diverging"): ("floating", "A north", "A north"),
    (False, 2, "all diverging"): ("A south", "A north", "A north"),
}


@pytest.mark.parametrize(("centre_gap", "jumpers", "setting"), WEST_FED)
def test_what_a_live_frog_scissors_passes_on(
    centre_gap: bool, jumpers: int, setting: str
) -> None:
    piece = scissors(centre_gap=centre_gap)
    found = poles(piece, SETTINGS[setting], FROM_WEST, _jumpers(jumpers, centre_gap))
    west, east = ("A-mid-west", "A-mid-east") if centre_gap else ("A-mid", "A-mid")
    names = ("A-inner-east", west, east)
    expected = WEST_FED[centre_gap, jumpers, setting]
    assert tuple(found[name] for name in names) == expected


@pytest.mark.parametrize("family", FAMILIES)
def test_only_outer_rails_pass_where_there_is_a_centre_gap(family: str) -> None:
    piece = scissors(family=family)
    for positions in product((T, D), repeat=4):
        setting = dict(zip(("AW", "AE", "BW", "BE"), positions, strict=True))
        for net in nets(piece, setting):
            assert not {"A-inner-west", "A-inner-east"} <= net
            assert not {"B-inner-west", "B-inner-east"} <= net


@pytest.mark.parametrize("family", FAMILIES)
def test_what_passes_without_a_centre_gap(family: str) -> None:
    piece = scissors(family=family, centre_gap=False)
    always = family in (ALL_LIVE, POWERED)
    for positions in product((T, D), repeat=4):
        setting = dict(zip(("AW", "AE", "BW", "BE"), positions, strict=True))
        both_through = setting["AW"] == setting["AE"] == T
        passed = any({"A-inner-west", "A-inner-east"} <= net for net in nets(piece, setting))
        assert passed == (always or both_through)


@pytest.mark.parametrize("family", [ROUTING, ALL_LIVE, POWERED, SLIDE])
@pytest.mark.parametrize("centre_gap", [True, False])
def test_frogs_apart_from_their_legs_never_short(family: str, centre_gap: bool) -> None:
    piece = scissors(family=family, centre_gap=centre_gap)
    for positions in product((T, D), repeat=4):
        setting = dict(zip(("AW", "AE", "BW", "BE"), positions, strict=True))
        for count in (0, 2, 4):
            found = poles(piece, setting, LOOPS, _jumpers(count, centre_gap))
            assert "short" not in found.values()


def test_two_jumpers_make_a_diagonal_live_that_is_fed_from_the_west_alone() -> None:
    piece = scissors()
    route = next(r for r in piece.routes if r.name == "A-west-B-east")

    def dead(joins: list[tuple[str, str]]) -> set[str | None]:
        found = poles(piece, SETTINGS["X1"], FROM_WEST, joins)
        rails = {rail for span in route.spans for rail in (span.left, span.right)}
        return {rail for rail in rails - {None} if found[str(rail)] == "floating"}

    assert dead([]) == {"B-inner-east"}
    assert dead(TWO) == set()


CORNERS = {
    # setting: north, south, west, east
    "X1": ("A north", "B south", "A south", "B north"),
    "X2": ("A north", "B south", "B north", "A south"),
    "all through": ("A north", "B south", "floating", "floating"),
    "all diverging": ("A north", "B south", "floating", "floating"),
}


@pytest.mark.parametrize("setting", CORNERS)
@pytest.mark.parametrize("gangs", ["per diagonal", "single"])
def test_fed_diamond_corners(setting: str, gangs: str) -> None:
    piece = scissors(corners="fed", gangs=gangs)
    found = poles(piece, SETTINGS[setting], LOOPS)
    corners = tuple(found[f"D-{name}"] for name in ("north", "south", "west", "east"))
    assert corners == CORNERS[setting]
    assert "short" not in found.values()
    route = {"X1": "A-west-B-east", "X2": "B-west-A-east"}.get(setting)
    for span in next((r.spans for r in piece.routes if r.name == route), ()):
        assert found[str(span.left)].endswith("north")
        assert found[str(span.right)].endswith("south")
    assert any("in phase" in note for note in piece.notes)


def test_corner_contacts_never_close_against_each_other() -> None:
    piece = scissors(corners="fed", gangs="single")
    for positions in product((T, D), repeat=4):
        setting = dict(zip(("AW", "AE", "BW", "BE"), positions, strict=True))
        assert "short" not in poles(piece, setting, LOOPS).values()
