"""A scissors crossover whose frogs and the rails past them hang on slides: all 16 settings.

Worked out by hand from the wiring of one turnout, then compared with what a user is told:
set through, a slide joins the frog and the rail past it on the through leg to the inner
stock rail; set diverging, the frog and the rail past it on the diagonal to the outer one.
That such pieces are wired so is common practice, no source.
"""

from __future__ import annotations

from itertools import product

import pytest

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
from tests.power.test_power_scissors import NAMED, OPPOSITE, SET_IN, TWO
from tests.power.whole import (
    Document,
    fed,
    feeders,
    fix_of_jumpers,
    holds_to_the_contract,
    piece,
    route,
    setting,
    states,
    supplies,
)

T, D = "through", "diverging"
LOOPS = (A_WEST, A_EAST, B_WEST, B_EAST)
FROM_WEST = (A_WEST, B_WEST)

# One track between its two turnouts, west and east.  Column by column: the inner rail in the
# east; frog of the western turnout, mid rail west and east (one rail without a centre gap),
# frog of the eastern turnout; then what is past the frogs on the diagonals, west and east.
# o has the outer rail's pole, i the inner rail's, - floats, ! is shorted.
FED = {  # the inner rail in the east has its pole from a feeder or a jumper
    (T, T): "i  i ii i  - -",
    (D, T): "i  o -i i  o -",
    (T, D): "i  i i- o  - o",
    (D, D): "i  o -- o  o o",
}
FED_MID = {  # the two mids are one: no centre gap, or a jumper over it
    (T, T): "i  i ii i  - -",
    (D, T): "i  o ii i  o -",
    (T, D): "i  i ii o  - o",
    (D, D): "i  o -- o  o o",
}
FED_FROGS = {  # F joined to F: at odds, one frog asks for the outer pole, one for the inner
    (T, T): "i  i ii i  - -",
    (D, T): "!  ! -! !  ! -",
    (T, D): "!  ! !- !  - !",
    (D, D): "i  o -- o  o o",
}
FED_FROGS_MID = {
    (T, T): "i  i ii i  - -",
    (D, T): "!  ! !! !  ! -",
    (T, D): "!  ! !! !  - !",
    (D, D): "i  o -- o  o o",
}
WEST = {  # nothing comes past the centre gap
    (T, T): "-  i i- -  - -",
    (D, T): "-  o -- -  o -",
    (T, D): "-  i i- o  - o",
    (D, D): "-  o -- o  o o",
}
WEST_MID = {  # two slides in series pass it on, when both turnouts are through
    (T, T): "i  i ii i  - -",
    (D, T): "-  o -- -  o -",
    (T, D): "-  i ii o  - o",
    (D, D): "-  o -- o  o o",
}
#: (centre gap, jumpers) -> the table of a track fed in a loop, and fed from the west alone.
#: The two jumpers bring the inner rail's pole to the east; from then on both are alike.
TABLES = {
    (True, "none"): (FED, WEST),
    (True, "two"): (FED, FED),
    (True, "four, F to F"): (FED_FROGS, FED_FROGS),
    (True, "four, HT to HT"): (FED_MID, FED_MID),
    (False, "none"): (FED_MID, WEST_MID),
    (False, "two"): (FED_MID, FED_MID),
    (False, "four, F to F"): (FED_FROGS_MID, FED_FROGS_MID),
    (False, "four, HT to HT"): (FED_MID, FED_MID),  # one rail: there is nothing to join
}
#: Fed from the west alone: settings in which every set route is live.
LIVE_FROM_WEST = {
    (True, "none"): set(),
    (True, "two"): set(NAMED),
    (True, "four, F to F"): {"all through", "all diverging"},
    (True, "four, HT to HT"): set(NAMED),
    (False, "none"): {"all through"},
    (False, "two"): set(NAMED),
    (False, "four, F to F"): {"all through", "all diverging"},
    (False, "four, HT to HT"): set(NAMED),
}
#: What is shorted of 16 lever settings, of X1 and X2 when each diagonal has its own lever,
#: and of two when all four are one.
SHORTED = {"four, F to F": {"single": 12, "per diagonal": 2, "all": 0}}


def jumpers(centre_gap: bool) -> dict[str, list[tuple[str, str]]]:
    mids = [(f"{t}-mid-west", f"{t}-mid-east") for t in "AB"] if centre_gap else []
    return {
        "none": [],
        "two": TWO,
        "four, F to F": TWO + [(f"{t}W-frog", f"{t}E-frog") for t in "AB"],
        "four, HT to HT": TWO + mids,
    }


def told(
    centre_gap: bool, joined: str, gangs: str, wires: tuple[tuple[str, str, str], ...]
) -> Document:
    family = {"family": "metal frog, slide-routed", "centre_gap": centre_gap, "gangs": gangs}
    text = piece("scissors crossover", **family, **TWIN, **OPPOSITE)
    text += supplies("cab A", "cab B") + feeders(*wires)
    text += fix_of_jumpers("wires", jumpers(centre_gap)[joined])
    return states(text, None if joined == "none" else "wires")


def track_is(found: Document, track: str, centre_gap: bool) -> str:
    """The row of the table that a user is told of a track."""
    outer, inner = (AN, AS) if track == "A" else (BS, BN)
    both = sorted([*outer, *inner])
    marks = {tuple(outer): "o", tuple(inner): "i", (): "-", tuple(both): "!"}
    mids = [f"{track}-mid-west", f"{track}-mid-east"] if centre_gap else [f"{track}-mid"] * 2
    names = [f"{track}-inner-east", f"{track}W-frog", *mids, f"{track}E-frog"]
    names += [f"{track}W-leg", f"{track}E-leg"]
    i, w, m, n, e, x, y = (marks[tuple(fed(found, name))] for name in names)
    assert marks[tuple(fed(found, f"{track}-outer"))] in "o!"
    return f"{i}  {w} {m}{n} {e}  {x} {y}"


@pytest.mark.parametrize(("centre_gap", "joined"), TABLES)
@pytest.mark.parametrize("wires", [LOOPS, FROM_WEST], ids=["loops", "from the west"])
def test_every_setting(
    wires: tuple[tuple[str, str, str], ...], centre_gap: bool, joined: str
) -> None:
    document = told(centre_gap, joined, "single", wires)
    holds_to_the_contract(document, POLES)
    table = TABLES[centre_gap, joined][wires is FROM_WEST]
    assert len(document["settings"]) == 16
    for aw, ae, bw, be in product((T, D), repeat=4):
        found = setting(document, AW=aw, AE=ae, BW=bw, BE=be)
        assert track_is(found, "A", centre_gap) == table[aw, ae]
        assert track_is(found, "B", centre_gap) == table[bw, be]
        assert found["short"] == ("!" in table[aw, ae] + table[bw, be])
        assert not found["joined_supplies"]


@pytest.mark.parametrize(("centre_gap", "joined"), TABLES)
@pytest.mark.parametrize("gangs", ["all", "per diagonal", "single"])
def test_gangs_decide_what_is_ordinary(gangs: str, centre_gap: bool, joined: str) -> None:
    document = told(centre_gap, joined, gangs, LOOPS)
    assert len(document["settings"]) == {"all": 2, "per diagonal": 4, "single": 16}[gangs]
    shorted = [s for s in document["settings"] if s["short"]]
    assert len(shorted) == SHORTED.get(joined, {}).get(gangs, 0)
    for s in document["settings"]:
        if not s["short"]:
            assert not s["dead"]  # fed in loops, whatever is set is live


@pytest.mark.parametrize(("centre_gap", "joined"), TABLES)
def test_fed_from_the_west_alone(centre_gap: bool, joined: str) -> None:
    document = told(centre_gap, joined, "per diagonal", FROM_WEST)
    live = set()
    for name, levers in NAMED.items():
        found = setting(document, **levers)
        routes = {r.rpartition("/")[2] for r, x in found["routes"].items() if x["set"]}
        assert routes == SET_IN[name]
        if all(route(found, r)["state"] == "live" for r in routes):
            live.add(name)
    assert live == LIVE_FROM_WEST[centre_gap, joined]
