"""What a user is told of every family of turnout, state by state.

From a scenario's text to the JSON document.  The wiring of the families is common
practice, no source; other sources are named where they are used.
"""

from __future__ import annotations

import pytest

from sim.layout.assemble import assemble
from sim.run.traced_supply import TracedSupply
from tests.checked import scenario_from_text
from tests.pieces.cases import FAMILIES
from tests.power.whole import (
    Document,
    fed,
    feeders,
    holds_to_the_contract,
    kinds,
    piece,
    route,
    setting,
    states,
    supplies,
)

LIVE, ROUTING, ALL_LIVE, POWERED, SWITCHED, SLIDE = FAMILIES
T, D = "through", "diverging"

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
    SLIDE: (S, [], {"same pole", "floating"}),  # the frog, and the rail past it
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
            SLIDE: {"F", "HT", "HD"},
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

# -- polarity ---------------------------------------------------------------------


@pytest.mark.parametrize(("plus", "minus"), [("south", "north"), ("north", "south")])
def test_which_rail_is_positive(plus: str, minus: str) -> None:
    """Right-hand rail positive, seen in the direction of travel, means forward.

    Source: NMRA S-9; NEM 631.  Going east the right-hand rail is the south one.
    """
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
