"""What a user is told of a scissors crossover of every family and gang, state by state.

From a scenario's text to the JSON document.  The wiring of the families is common
practice, no source; other sources are named where they are used.
"""

from __future__ import annotations

from itertools import product

import pytest

from tests.pieces.cases import FAMILIES
from tests.power.test_power_crossovers import (
    A_EAST,
    A_WEST,
    AN,
    AS,
    B_EAST,
    B_WEST,
    BN,
    BS,
    POLES,
    TWIN,
)
from tests.power.whole import (
    fed,
    feeders,
    fix_of_jumpers,
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
OPPOSITE = {f"x{n}_{rail}_gap_mm": 186.0 for n in (1, 2) for rail in ("north", "south")}
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


@pytest.mark.parametrize("family", [ROUTING, ALL_LIVE, POWERED, SLIDE])
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


def test_every_combination_is_charted_once() -> None:
    text = scissors(LIVE, True, "single", LOOPS)
    at = [tuple(s["levers"].values()) for s in states(text)["settings"]]
    assert at == list(product((T, D), repeat=4))
