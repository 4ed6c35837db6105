"""What a user is told of a single crossover of every family, state by state.

From a scenario's text to the JSON document.  The wiring of the families is common
practice, no source; other sources are named where they are used.
"""

from __future__ import annotations

import pytest

from tests.pieces.cases import FAMILIES
from tests.power.whole import (
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

# -- single crossover: A fed at its west, B at its east --------------------------------

A_WEST = ("cab A", "A-outer", "A-inner-west")
A_EAST = ("cab A", "A-outer", "A-inner-east")
B_EAST = ("cab B", "B-inner-east", "B-outer")
B_WEST = ("cab B", "B-inner-west", "B-outer")
AN, AS, BN, BS = ["cab A+"], ["cab A-"], ["cab B+"], ["cab B-"]
POLES = {"cab A+", "cab A-", "cab B+", "cab B-"}
TWIN = {"track_centres_mm": 30.0, "length_mm": 400.0}


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
        (SLIDE, [], [], {"same pole", "floating"}),  # the frog, and the rail past it
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
    places = {"north_gap_mm": 190.0, "south_gap_mm": 202.0}
    text = crossover(family, A_WEST, B_EAST, **places)
    crossing = setting(states(text), AW=D, BE=D)
    state = route(crossing, "A-west-B-east")
    told = [(d["kind"], d["from_mm"], d["to_mm"]) for d in state["dead"]]
    assert told == [("no return", 190.0, 202.0)]
    assert state["set"]
    assert crossing["dead"]
    opposite = crossover(family, A_WEST, B_EAST, north_gap_mm=196.0, south_gap_mm=196.0)
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
