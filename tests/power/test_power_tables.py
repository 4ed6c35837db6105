"""What a user is told of every family and crossover, state by state.

From a scenario's text to the JSON document.  The wiring of the families is common
practice, no source; other sources are named where they are used.
"""

from __future__ import annotations

from itertools import product

import pytest

from tests.pieces.cases import FAMILIES
from tests.power.whole import (
    Document,
    fed,
    feeders,
    fix_of_jumpers,
    kinds,
    piece,
    route,
    setting,
    states,
    supplies,
)

LIVE, ROUTING, ALL_LIVE, POWERED, SWITCHED = FAMILIES
T, D = "through", "diverging"
KINDS = {"floating", "same pole", "no return", "wrong voltage", "insulated", "tripped",
         "starved"}  # fmt: skip
HOWS = {"one pole", "common return", "paralleled", "opposed"}


def holds_to_the_contract(document: Document, poles: set[str]) -> None:
    """Closed lists, ids, and what makes a setting dead or shorted."""
    assert isinstance(document["groups"], int)
    for found in document["settings"]:
        for section in found["sections"].values():
            assert set(section["fed_by"]) <= poles
        bad = False
        for name, state in found["routes"].items():
            assert name.count("/") == 2
            assert state["state"] in ("live", "dead", "short")
            assert bool(state["dead"]) or state["state"] != "dead"
            for d in state["dead"]:
                assert d["kind"] in KINDS
                assert d["from_mm"] < d["to_mm"]
                assert {d["left"], d["right"]} <= {*found["sections"], None}
            for span in state["insulated_spans"]:
                assert span["side"] in ("left", "right", "both")
            bad = bad or (state["set"] and state["state"] != "live")
        assert found["dead"] == bad
        assert found["short"] == bool(found["shorts"])
        for short in found["shorts"]:
            assert set(short["poles"]) <= poles
            assert short["elements"]
        for joined in found["joined_supplies"]:
            assert joined["how"] in HOWS
            assert set(joined["poles"]) <= poles


# -- turnouts (fed at the points: N is plus, S is minus) ---------------------------

N, S = ["cab+"], ["cab-"]
#: family -> poles of HT and HD, and kinds of dead on the leg that is not set, when
#: the lever is through; diverging is the same with the sides changed.
TURNOUT: dict[str, tuple[list[str], list[str], set[str]]] = {
    LIVE: (S, S, {"same pole"}),
    ROUTING: (S, [], {"floating"}),
    ALL_LIVE: (S, N, set()),
    POWERED: (S, N, {"same pole"}),  # the frog alone, until the lever moves
    SWITCHED: (S, S, {"same pole"}),
}


def turnout(family: str, wires: str = "", **params: object) -> str:
    fed_at_points = wires or feeders(("cab", "SN", "SS"))
    return piece("turnout", family=family, **params) + supplies("cab") + fed_at_points


def leg(document: Document, name: str) -> list[str]:
    """Poles of a leg's own rail, whatever its section is called in this family."""
    sections = document["sections"]
    for section in {"HT": ("HT", "F", "BN"), "HD": ("HD", "F", "BN")}[name]:
        if f"b/p/{section}" in sections:
            return fed(document, section)
    raise AssertionError(name)


@pytest.mark.parametrize("family", FAMILIES)
def test_a_turnout_fed_from_its_points(family: str) -> None:
    document = states(turnout(family))
    holds_to_the_contract(document, {"cab+", "cab-"})
    assert (document["groups"], document["skipped"]) == (1, None)
    assert [s["levers"] for s in document["settings"]] == [{"b/p/lever": T}, {"b/p/lever": D}]
    ht, hd, unset = TURNOUT[family]
    through = setting(document, lever=T)
    assert (leg(through, "HT"), leg(through, "HD")) == (ht, hd)
    turned = {"cab+": "cab-", "cab-": "cab+"}
    diverging = setting(document, lever=D)
    assert leg(diverging, "HD") == [turned[p] for p in ht]
    assert leg(diverging, "HT") == [turned[p] for p in hd]
    for found, made, other in ((through, T, D), (diverging, D, T)):
        assert (fed(found, "SN"), fed(found, "SS")) == (N, S)  # the outer rails never change
        assert route(found, f"points-{made}")["set"]
        assert route(found, f"points-{made}")["state"] == "live"
        assert not route(found, f"points-{other}")["set"]
        assert route(found, f"points-{other}")["state"] == ("dead" if unset else "live")
        assert kinds(found, f"points-{other}") == unset
        assert not found["shorts"]
        assert not found["dead"]  # the leg that is not set does not count
        assert not found["joined_supplies"]
        plastic = family in (ROUTING, ALL_LIVE)
        side = "right" if made == T else "left"
        spans = route(found, f"points-{made}")["insulated_spans"]
        assert [s["side"] for s in spans] == ([side] if plastic else [])


@pytest.mark.parametrize("family", FAMILIES)
def test_only_the_frog_of_a_powered_frog_turnout_changes(family: str) -> None:
    document = states(turnout(family))
    through, diverging = (setting(document, lever=p) for p in (T, D))
    changed = {
        name.rpartition("/")[2]
        for name in through["sections"]
        if through["sections"][name] != diverging["sections"][name]
    }
    assert (
        changed
        == {
            LIVE: {"BN"},  # blades, closures, frog and legs are one section
            ROUTING: {"BN", "CN", "BS", "CS", "HT", "HD"},
            ALL_LIVE: set(),
            POWERED: {"F"},
            SWITCHED: {"F"},
        }[family]
    )


@pytest.mark.parametrize("family", FAMILIES)
@pytest.mark.parametrize("own", [T, D])
def test_a_turnout_fed_from_a_leg_too(family: str, own: str) -> None:
    """Without a gap: a dead short in the other position, or none at all."""
    rail = {LIVE: "BN", SWITCHED: "F"}.get(family, "HT" if own == T else "HD")
    pair = ("cab", "SN", rail) if own == T else ("cab", rail, "SS")
    document = states(turnout(family, feeders(("cab", "SN", "SS"), pair)))
    other = D if own == T else T
    assert not setting(document, lever=own)["short"]
    assert setting(document, lever=own)["routes"][f"b/p/points-{own}"]["state"] == "live"
    shorted = setting(document, lever=other)
    assert shorted["short"] == (family in (LIVE, SWITCHED))
    if family in (LIVE, SWITCHED):
        (short,) = shorted["shorts"]
        assert short["poles"] == ["cab+", "cab-"]
        assert f"b/p/{other}" in short["elements"]  # the contact that does it
        assert route(shorted, f"points-{other}")["state"] == "short"
        assert shorted["dead"]
    if family == ROUTING:  # the feed just runs backwards into the closure rail
        closure, pole = ("CS", S) if own == T else ("CN", N)
        assert fed(shorted, closure) == pole


@pytest.mark.parametrize("family", [LIVE, SWITCHED])
def test_a_leg_beyond_a_gap_needs_a_feeder_of_its_own(family: str) -> None:
    bare = states(turnout(family, frog_gaps=True))
    for found in bare["settings"]:
        assert fed(found, "HT") == fed(found, "HD") == []
        assert found["dead"]
        assert kinds(found, f"points-{found['levers']['b/p/lever']}") == {"floating"}
    own = feeders(("cab", "SN", "SS"), ("cab", "SN", "HT"), ("cab", "HD", "SS"))
    cured = states(turnout(family, own, frog_gaps=True))
    for found in cured["settings"]:
        assert not found["short"]
        assert not found["dead"]


@pytest.mark.parametrize("family", FAMILIES)
@pytest.mark.parametrize("hand", ["left", "symmetrical"])
def test_left_hand_and_symmetrical_turnouts(family: str, hand: str) -> None:
    document = states(turnout(family, hand=hand))
    for found in document["settings"]:
        position = found["levers"]["b/p/lever"]
        assert route(found, f"points-{position}")["state"] == "live"
        assert not found["short"]


def test_two_live_frogs_frog_to_frog_need_gaps() -> None:
    """Two turnouts by their diverging legs: without gaps the frogs are one section."""
    base = piece("turnout", family=LIVE).replace('name = "p"', 'name = "a"')
    base += (
        '\n[[module.piece]]\nname = "z"\nkind = "turnout"\nfamily = "live frog"\n'
        + supplies("cab")
        + '[[feeder]]\nname = "f"\nsupply = "cab"\nplus = "b/a/SN"\nminus = "b/a/SS"\n'
        + '[[feeder]]\nname = "g"\nsupply = "cab"\nplus = "b/z/SS"\nminus = "b/z/SN"\n'
    )
    joined = base.replace(
        'name = "b"', 'name = "b"\njoins = [["a/diverging", "z/diverging"]]', 1
    )
    shorts = {}
    for text, name in ((joined, "joined"), (joined + GAPS, "gapped")):
        document = states(text, each=True)
        shorts[name] = {tuple(s["levers"].values()) for s in document["settings"] if s["short"]}
    # A frog of either is one with a stock rail of the other: each must be diverging.
    assert shorts["joined"] == {(T, T), (T, D), (D, T)}
    assert shorts["gapped"] == set()


GAPS = '\n[[gap]]\nat = "b/a/diverging"\n'

# -- single crossover: A fed at its west, B at its east --------------------------------

A_WEST = ("cab A", "A-outer", "A-inner-west")
A_EAST = ("cab A", "A-outer", "A-inner-east")
B_EAST = ("cab B", "B-inner-east", "B-outer")
B_WEST = ("cab B", "B-inner-west", "B-outer")
AN, AS, BN, BS = ["cab A+"], ["cab A-"], ["cab B+"], ["cab B-"]
POLES = {"cab A+", "cab A-", "cab B+", "cab B-"}
TWIN = {"track_centres_mm": 33.0, "length_mm": 310.0}


def crossover(family: str, *wires: tuple[str, str, str], **params: object) -> str:
    made = piece("single crossover", family=family, gangs="both", **TWIN, **params)
    return made + supplies("cab A", "cab B") + feeders(*wires)


@pytest.mark.parametrize(
    ("family", "a_east", "b_west", "kind"),
    [
        (LIVE, AN, BS, {"same pole"}),
        (ROUTING, [], [], {"floating"}),
        (ALL_LIVE, AS, BN, set()),
        (POWERED, AS, BN, {"same pole"}),
        (SWITCHED, AN, BS, {"same pole"}),
    ],
)
def test_single_crossover(
    family: str, a_east: list[str], b_west: list[str], kind: set[str]
) -> None:
    document = states(crossover(family, A_WEST, B_EAST))
    holds_to_the_contract(document, POLES)
    assert len(document["settings"]) == 2
    through, crossing = setting(document, AW=T, BE=T), setting(document, AW=D, BE=D)
    for found in (through, crossing):
        outer = [fed(found, n) for n in ("A-outer", "B-outer", "A-inner-west", "B-inner-east")]
        assert outer == [AN, BS, AS, BN]
        assert not found["shorts"]
        assert not found["joined_supplies"]
    assert (fed(through, "A-inner-east"), fed(through, "B-inner-west")) == (AS, BN)
    assert (fed(crossing, "A-inner-east"), fed(crossing, "B-inner-west")) == (a_east, b_west)
    for name in ("A-west-A-east", "B-west-B-east"):
        assert route(through, name)["state"] == "live"
        assert kinds(crossing, name) == kind
    if family not in (LIVE, SWITCHED):
        # crossover north, west part: HD of TA; crossover south, east part: HD of TB
        assert fed(crossing, "X1-north-west") == AN
        assert fed(crossing, "X1-south-east") == BS


@pytest.mark.parametrize("family", FAMILIES)
def test_gaps_of_a_crossover_that_are_not_opposite(family: str) -> None:
    """Between them stands one rail of A and one of B: no return, for isolated supplies."""
    places = {"north_gap_mm": 150.0, "south_gap_mm": 162.0}
    text = crossover(family, A_WEST, B_EAST, **places)
    crossing = setting(states(text), AW=D, BE=D)
    state = route(crossing, "A-west-B-east")
    told = [(d["kind"], d["from_mm"], d["to_mm"]) for d in state["dead"]]
    assert told == [("no return", 150.0, 162.0)]
    assert state["set"]
    assert crossing["dead"]
    opposite = crossover(family, A_WEST, B_EAST, north_gap_mm=156.0, south_gap_mm=156.0)
    crossing = setting(states(opposite), AW=D, BE=D)
    assert route(crossing, "A-west-B-east")["state"] == "live"
    common = text.replace('name = "cab A"\n', 'name = "cab A"\ncommon = "earth"\n', 1)
    common = common.replace('name = "cab B"\n', 'name = "cab B"\ncommon = "earth"\n', 1)
    crossing = setting(states(common), AW=D, BE=D)
    assert route(crossing, "A-west-B-east")["state"] == "live"  # the common is the way back
    assert crossing["joined_supplies"] == []
    reversed_b = common.replace('name = "cab B"\n', 'name = "cab B"\nreversed = true\n', 1)
    crossing = setting(states(reversed_b), AW=D, BE=D)
    # B+ against the common is B's own voltage: live, though the other way round
    assert route(crossing, "A-west-B-east")["state"] == "live"


@pytest.mark.parametrize("family", FAMILIES)
def test_both_rails_of_a_crossover_are_gapped(family: str) -> None:
    """Source: NMRA MRP-1.3, each loop by itself, no shared rail. Every lever alone."""
    for kind, more in (("single crossover", {}), ("scissors crossover", {"centre_gap": False})):
        made = piece(kind, family=family, **TWIN, **more)
        text = made + supplies("cab A", "cab B") + feeders(A_WEST, B_EAST)
        document = states(text, each=True)
        assert len(document["settings"]) == (4 if kind == "single crossover" else 16)
        for found in document["settings"]:
            assert found["joined_supplies"] == []
            for section in found["sections"].values():
                assert len({pole[:-1] for pole in section["fed_by"]}) <= 1


@pytest.mark.parametrize("family", [LIVE, SWITCHED])
def test_through_tracks_of_a_live_frog_crossover_in_a_loop_need_gaps(family: str) -> None:
    loops = (A_WEST, A_EAST, B_WEST, B_EAST)
    document = states(crossover(family, *loops))
    assert not setting(document, AW=T, BE=T)["short"]
    crossing = setting(document, AW=D, BE=D)
    assert [s["poles"] for s in crossing["shorts"]] == [
        ["cab A+", "cab A-"],
        ["cab B+", "cab B-"],
    ]
    assert route(crossing, "A-west-B-east")["state"] == "short"
    gapped = states(crossover(family, *loops, frog_gaps=True))
    assert not any(s["short"] for s in gapped["settings"])
    crossing = setting(gapped, AW=D, BE=D)
    assert (fed(crossing, "A-inner-east"), fed(crossing, "B-inner-west")) == (AS, BN)


# -- scissors: X1 runs from AW to BE, X2 from BW to AE ---------------------------------

NAMED = {
    "all through": {"AW": T, "AE": T, "BW": T, "BE": T},
    "X1": {"AW": D, "AE": T, "BW": T, "BE": D},
    "X2": {"AW": T, "AE": D, "BW": D, "BE": T},
    "all diverging": {"AW": D, "AE": D, "BW": D, "BE": D},
}
SET_IN = {
    "all through": {"A-west-A-east", "B-west-B-east"},
    "X1": {"A-west-B-east"},
    "X2": {"B-west-A-east"},
    "all diverging": {"A-west-B-east", "B-west-A-east"},
}
CHARTED = {
    "all": ["all through", "all diverging"],
    "per diagonal": ["all through", "X1", "X2", "all diverging"],
    "single": ["all through", "X1", "X2", "all diverging"],
}
TWO = [("A-inner-west", "A-inner-east"), ("B-inner-west", "B-inner-east")]
FROGS = [("A-mid-west", "A-mid-east"), ("B-mid-west", "B-mid-east")]
LOOPS = (A_WEST, A_EAST, B_WEST, B_EAST)
FROM_WEST = (A_WEST, B_WEST)
#: Both gaps of a diagonal opposite each other, so that nothing lies between them.
OPPOSITE = {f"x{n}_{rail}_gap_mm": 140.0 for n in (1, 2) for rail in ("north", "south")}
#: (centre gap, jumpers) -> where a live-frog piece shorts
SHORTS = {
    (True, 0): set(),
    (True, 2): set(),
    (True, 4): {"X1", "X2"},
    (False, 0): {"X1", "X2"},
    (False, 2): {"X1", "X2"},
    (False, 4): {"X1", "X2"},
}
#: Fed from the west alone: (centre gap, jumpers) -> settings whose set routes are live.
#: With four jumpers, or no centre gap, X1 and X2 are shorted.
FED_FROM_THE_WEST = {
    (True, 0): set(),
    (True, 2): {"all through", "X1", "X2", "all diverging"},
    (True, 4): {"all through", "all diverging"},
    (False, 0): {"all through"},
    (False, 2): {"all through", "all diverging"},
    (False, 4): {"all through", "all diverging"},
}


def scissors(
    family: str, centre_gap: bool, gangs: str, wires: tuple[tuple[str, str, str], ...]
) -> str:
    params = {"family": family, "centre_gap": centre_gap, "gangs": gangs, **TWIN, **OPPOSITE}
    text = piece("scissors crossover", **params) + supplies("cab A", "cab B")
    text += feeders(*wires) + fix_of_jumpers("two", TWO)
    return text + fix_of_jumpers("four", TWO + (FROGS if centre_gap else []))


FIX = {0: None, 2: "two", 4: "four"}


@pytest.mark.parametrize("gangs", ["all", "per diagonal", "single"])
@pytest.mark.parametrize(("centre_gap", "jumpers"), SHORTS)
def test_live_frog_scissors_in_two_loops(gangs: str, centre_gap: bool, jumpers: int) -> None:
    document = states(scissors(LIVE, centre_gap, gangs, LOOPS), FIX[jumpers])
    holds_to_the_contract(document, POLES)
    number = {"all": 2, "per diagonal": 4, "single": 16}[gangs]
    assert len(document["settings"]) == number
    shorted = SHORTS[centre_gap, jumpers]
    for name in CHARTED[gangs]:
        found = setting(document, **NAMED[name])
        set_routes = {r.rpartition("/")[2] for r, x in found["routes"].items() if x["set"]}
        assert set_routes == SET_IN[name]
        assert found["short"] == (name in shorted), name
        assert not found["joined_supplies"]
        if name not in shorted:
            assert all(route(found, r)["state"] == "live" for r in SET_IN[name]), name
    # Gangs decide what is ordinary: of 16 single levers, 12 have a track at odds.
    bad = sum(s["short"] for s in document["settings"])
    everything = {"all": 0, "per diagonal": 2, "single": 12}[gangs]
    assert bad == (everything if shorted else 0)


@pytest.mark.parametrize(("centre_gap", "jumpers"), FED_FROM_THE_WEST)
def test_live_frog_scissors_fed_from_the_west_alone(centre_gap: bool, jumpers: int) -> None:
    text = scissors(LIVE, centre_gap, "per diagonal", FROM_WEST)
    document = states(text, FIX[jumpers])
    live = {name for name, levers in NAMED.items() if not setting(document, **levers)["dead"]}
    assert live == FED_FROM_THE_WEST[centre_gap, jumpers]
    through = setting(document, **NAMED["all through"])
    if (centre_gap, jumpers) == (True, 0):
        # what lies east of the centre gap hangs on nothing
        assert fed(through, "A-inner-east") == fed(through, "A-mid-east") == []
        assert kinds(through, "A-west-A-east") == {"floating"}
        names = {d["right"] for d in route(through, "A-west-A-east")["dead"]}
        assert names == {"b/p/A-mid-east", "b/p/A-inner-east"}


@pytest.mark.parametrize("family", FAMILIES)
@pytest.mark.parametrize("centre_gap", [True, False])
def test_what_a_scissors_passes_from_west_to_east(family: str, centre_gap: bool) -> None:
    """With a centre gap the outer rails alone; without, see what the turnouts make of it."""
    document = states(scissors(family, centre_gap, "single", FROM_WEST))
    for found in document["settings"]:
        at = {lever.rpartition("/")[2]: p for lever, p in found["levers"].items()}
        if found["short"]:
            continue
        assert (fed(found, "A-outer"), fed(found, "B-outer")) == (AN, BS)
        expected: list[str] = []
        if not centre_gap and (family in (ALL_LIVE, POWERED) or at["AW"] == at["AE"] == T):
            expected = AS  # live frogs: by two contacts in series
        elif not centre_gap and family in (LIVE, SWITCHED) and (at["AW"], at["AE"]) == (D, T):
            expected = AN  # the frog of the turnout that is set wrong, passed on
        assert fed(found, "A-inner-east") == expected


@pytest.mark.parametrize("family", [ROUTING, ALL_LIVE, POWERED])
@pytest.mark.parametrize("jumpers", [0, 2, 4])
def test_scissors_whose_frogs_are_apart_never_short(family: str, jumpers: int) -> None:
    for centre_gap in (True, False):
        text = scissors(family, centre_gap, "single", LOOPS)
        document = states(text, FIX[jumpers])
        assert not any(s["short"] for s in document["settings"])


@pytest.mark.parametrize("setting_name", NAMED)
def test_metal_corners_of_a_diamond(setting_name: str) -> None:
    """North and south have a fixed pole, west and east follow the route that is set."""
    params = {"family": LIVE, "corners": "fed", "gangs": "per diagonal", **TWIN, **OPPOSITE}
    text = piece("scissors crossover", **params) + supplies("cab A", "cab B") + feeders(*LOOPS)
    found = setting(states(text), **NAMED[setting_name])
    assert (fed(found, "D-north"), fed(found, "D-south")) == (AN, BS)
    west, east = {"X1": (AS, BN), "X2": (BN, AS)}.get(setting_name, ([], []))
    assert (fed(found, "D-west"), fed(found, "D-east")) == (west, east)
    assert not found["shorts"]


def test_supplies_in_opposite_phase_are_the_loops_own_matter() -> None:
    """Opposite phase short nothing by itself: that takes a train, or a wire."""
    base = scissors(ROUTING, True, "per diagonal", LOOPS)
    opposed = base.replace('name = "cab B"\n', 'name = "cab B"\nreversed = true\n', 1)
    wire = fix_of_jumpers("wrong", [("A-outer", "B-inner-west"), ("A-inner-west", "B-outer")])
    for text, how, short in ((base, "paralleled", False), (opposed, "opposed", True)):
        assert not any(s["joined_supplies"] for s in states(text)["settings"])
        for found in states(text + wire, "wrong")["settings"]:
            (joined,) = found["joined_supplies"]
            assert joined["how"] == how
            assert {"jumper 1", "jumper 2"} <= set(joined["elements"])
            assert found["short"] == short


# -- polarity ---------------------------------------------------------------------


@pytest.mark.parametrize(("plus", "minus"), [("south", "north"), ("north", "south")])
def test_which_rail_is_positive(plus: str, minus: str) -> None:
    """Right-hand rail positive, seen in the direction of travel, means forward.

    Source: NMRA S-9; NEM 631.  Going east the right-hand rail is the south one.
    """
    from sim.layout.assemble import assemble
    from sim.motion.traced import TracedSupply
    from sim.scenario.read import scenario_from_text

    text = piece("straight", length_mm=200.0) + supplies("cab") + feeders(("cab", plus, minus))
    layout = assemble(scenario_from_text(text)).layout
    (span,) = layout.routes[0].spans  # west to east
    supply = TracedSupply(layout, [1, 1], ())
    supply.move(0, 0, span.left)
    supply.move(1, 0, span.right)
    supply.solve()
    (step,) = supply.reading(0).steps
    right_above_left = -step[1] * layout.supplies[0].voltage_v
    assert (right_above_left > 0) == (plus == "south")


def test_every_combination_is_charted_once() -> None:
    text = scissors(LIVE, True, "single", LOOPS)
    at = [tuple(s["levers"].values()) for s in states(text)["settings"]]
    assert at == list(product((T, D), repeat=4))
