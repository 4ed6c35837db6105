"""Tracing faults: against brute force, by its own suggestions, and with bad readings."""

from __future__ import annotations

import random
from itertools import combinations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from sim.bench.diagnosis.impossible import wrong_readings
from sim.bench.diagnosis.locate import Findings, Locator
from sim.bench.diagnosis.model import Fault, faults_of, layout_of
from sim.bench.readings.model import Probe, Reading
from sim.layout.assemble import assemble
from sim.layout.model import Layout
from tests.checked import scenario_from_text
from tests.diagnose.reader import says
from tests.pieces.cases import FAMILIES, scissors, turnout


def reading(number: int, probe: Probe, said: str) -> Reading:
    return Reading(number, probe, said, frozenset((said,)))


def follow(layout: Layout, locator: Locator, truth: list[Fault]) -> Findings:
    """Take the suggested readings until nothing more can be told."""
    taken: list[Reading] = []
    while True:
        found = locator.find(taken)
        suggestion = found.easy or found.opened
        if suggestion is None:
            return found
        probe = suggestion.ask.probe
        taken.append(reading(len(taken) + 1, probe, says(layout, truth, probe)))


@pytest.mark.parametrize("family", FAMILIES)
def test_suggested_readings_name_every_single_fault_of_a_turnout(family: str) -> None:
    layout = layout_of(turnout(family=family))
    faults = faults_of(layout)
    for fault in faults:
        found = follow(layout, Locator(layout, faults), [fault])
        assert (fault,) in [e.faults for e in found.explanations]
        assert found.groups == 1


def test_two_faults_are_found_one_after_the_other() -> None:
    layout = layout_of(scissors(family="live frog", gangs="single"))
    faults = faults_of(layout)
    words = {f.words: f for f in faults}
    left = [
        words["bench/piece/AW-through: contact open"],
        words["bench/piece/BE-diverging: contact never opens"],
    ]
    while left:
        found = follow(layout, Locator(layout, faults), left)
        assert not found.sound and found.groups == 1
        mended = found.explanations[0].faults
        assert set(mended) <= set(left)
        left = [f for f in left if f not in mended]
    found = follow(layout, Locator(layout, faults), left)
    assert found.sound and [e.faults for e in found.explanations] == [()]


def brute(
    layout: Layout, faults: tuple[Fault, ...], taken: list[Reading]
) -> set[frozenset[str]]:
    """Minimal sets of up to two faults that explain all, each set tried by the twin."""
    fit: list[frozenset[int]] = []
    for size in range(3):
        for chosen in combinations(range(len(faults)), size):
            if len({faults[f].part for f in chosen}) < size:
                continue
            if any(known <= set(chosen) for known in fit):
                continue
            those = [faults[f] for f in chosen]
            if all(says(layout, those, r.probe) in r.allows for r in taken):
                fit.append(frozenset(chosen))
    return {frozenset(faults[f].words for f in chosen) for chosen in fit}


@given(seed=st.integers(0, 10_000))
@settings(max_examples=25, deadline=None)
def test_explanations_are_those_of_brute_force(seed: int) -> None:
    rng = random.Random(seed)
    layout = layout_of(turnout(family=rng.choice(FAMILIES)))
    faults = faults_of(layout)
    truth = rng.sample(faults, rng.choice((1, 2)))
    taken = []
    for number in range(1, rng.randint(2, 6)):
        a, b = rng.sample(range(len(layout.nodes)), 2)
        probe = Probe("meter", a, b, (rng.randint(0, 1),))
        taken.append(reading(number, probe, says(layout, truth, probe)))
    found = Locator(layout, faults).find(taken)
    explained = {frozenset(f.words for f in e.faults) for e in found.explanations}
    minimal = brute(layout, faults, taken)
    if found.sound:  # then single faults are told that could hide
        assert minimal == {frozenset()}
    elif not found.retakes:
        assert explained == minimal
    shares = [e.share for e in found.explanations]
    assert shares == sorted(shares, reverse=True)


TURNOUT = layout_of(turnout(family="insulated frog, power routing"))
FAULTS = faults_of(TURNOUT)
AT = {name.rpartition("/")[2]: k for k, name in enumerate(TURNOUT.nodes)}


def meter(number: int, a: str, b: str, said: str, position: int = 0) -> Reading:
    return reading(number, Probe("meter", AT[a], AT[b], (position,)), said)


def test_readings_that_contradict_one_another_are_told_whatever_is_wrong() -> None:
    taken = [
        meter(1, "SN", "BN", "open"),
        meter(2, "SS", "CS", "joined"),
        meter(3, "CS", "HT", "joined"),
        meter(4, "SS", "HT", "open"),
    ]
    found = Locator(TURNOUT, FAULTS).find(taken)
    assert found.impossible and not found.explanations
    # Any one of the three, and never reading 1, which has nothing to do with it.
    assert {r.readings for r in found.retakes} == {(2,), (3,), (4,)}


def test_one_reading_in_two_contradictions_is_the_smallest_choice() -> None:
    taken = [
        meter(1, "SS", "HT", "open"),
        meter(2, "SS", "CS", "joined"),
        meter(3, "CS", "HT", "joined"),
        meter(4, "SS", "BS", "joined"),
        meter(5, "BS", "HT", "joined"),
    ]
    found = Locator(TURNOUT, FAULTS).find(taken)
    assert [r.readings for r in found.retakes] == [(1,)]


def test_readings_that_no_faults_explain_are_told_with_the_smallest_set_to_retake() -> None:
    # A live-frog turnout has no way to join the two stock rails but a bridged contact
    # each time; four strange readings at once are beyond three faults.
    layout = layout_of(turnout(family="live frog"))
    at = {name.rpartition("/")[2]: k for k, name in enumerate(layout.nodes)}
    faults = tuple(f for f in faults_of(layout) if f.kind == "contact open")
    taken = [
        reading(1, Probe("meter", at["SS"], at["BN"], (0,)), "open"),
        reading(2, Probe("meter", at["SN"], at["SS"], (0,)), "joined"),
    ]
    found = Locator(layout, faults).find(taken)
    assert not found.impossible and not found.explanations
    assert [r.readings for r in found.retakes] == [(2,)]
    assert found.retakes[0].faults is not None
    assert [f.words for f in found.retakes[0].faults] == ["bench/piece/through: contact open"]


def test_a_wrong_reading_is_offered_where_only_two_faults_would_do() -> None:
    layout = layout_of(turnout(family="live frog"))
    at = {name.rpartition("/")[2]: k for k, name in enumerate(layout.nodes)}
    taken = [
        reading(1, Probe("meter", at["SS"], at["BN"], (0,)), "open"),
        reading(2, Probe("meter", at["SN"], at["BN"], (1,)), "open"),
    ]
    odds = {"lever does not follow": 0.0}
    found = Locator(layout, faults_of(layout, odds)).find(taken)
    assert len(found.explanations[0].faults) == 2
    assert {r.readings for r in found.doubts} == {(1,), (2,)}


def test_odds_of_the_user_decide_the_order() -> None:
    layout = layout_of(turnout(family="live frog"))
    at = {name.rpartition("/")[2]: k for k, name in enumerate(layout.nodes)}
    taken = [reading(1, Probe("meter", at["SS"], at["BN"], (0,)), "open")]
    for odds, first in (
        ({"bench/piece/lever": 0.5}, "lever does not follow"),
        ({"contact open": 0.5, "bench/piece/lever": 0.1}, "contact open"),
    ):
        found = Locator(layout, faults_of(layout, odds)).find(taken)
        assert found.explanations[0].faults[0].kind == first


RING = """
format = 1
title = "ring"
scale_ratio = 160
gauge_mm = 9
[[supply]]
name = "cab"
[[feeder]]
name = "drop"
supply = "cab"
plus = "east/track/north"
minus = "east/track/south"
[[module]]
name = "east"
[[module.piece]]
name = "track"
kind = "curve"
radius_mm = 200
angle_deg = 180
hand = "right"
[[module]]
name = "west"
[[module.piece]]
name = "track"
kind = "curve"
radius_mm = 200
angle_deg = 180
hand = "right"
[[line]]
modules = ["east", "west"]
ring = true
"""


def test_in_a_ring_the_long_way_round_answers() -> None:
    """Common practice, no source: an oval must be opened to test."""
    layout = assemble(scenario_from_text(RING)).layout
    faults = faults_of(layout)
    a, b = (layout.nodes.index(f"{m}/track/north") for m in ("east", "west"))
    joiner = next(f for f in faults if f.kind == "joiner open" and "north" in f.part)
    probe = Probe("meter", a, b, ())
    assert says(layout, [joiner], probe) == "joined"
    found = Locator(layout, faults).find([reading(1, probe, "joined")])
    assert (joiner,) in [e.faults for e in found.explanations] and found.sound
    # Two joiners of one rail must be open before the meter finds out.
    found = Locator(layout, faults).find([reading(1, probe, "open")])
    best = found.explanations[0].faults
    assert len(best) == 2 and all(f.kind == "joiner open" for f in best)


def test_a_lamp_finds_a_lifted_feeder_and_a_meter_cannot() -> None:
    layout = assemble(scenario_from_text(RING)).layout
    faults = faults_of(layout)
    left, right = (layout.nodes.index(f"west/track/{x}") for x in ("north", "south"))
    dark = Reading(1, Probe("lamp", left, right, ()), "dark", frozenset(("dead",)))
    found = Locator(layout, faults).find([dark])
    kinds = [e.faults[0].kind for e in found.explanations if len(e.faults) == 1]
    assert set(kinds) == {"feeder off", "supply off"}


def test_many_wrong_readings_are_still_resolved() -> None:
    """Thirty places that are all joined, and readings that say otherwise."""
    pairs = [(a, b) for a in range(12) for b in range(a + 1, 12)]
    rng = random.Random(4)
    wrong = set(rng.sample(range(len(pairs)), 8))
    taken = [
        reading(n, Probe("meter", *pair, ()), "open" if n in wrong else "joined")
        for n, pair in enumerate(pairs)
    ]
    ways, complete = wrong_readings(taken)
    assert ways and not complete
    left = [r for r in taken if r.number not in ways[0]]
    assert wrong_readings(left) == ([], True)
    assert len(ways[0]) == 8


def big_ring(boards: int) -> Layout:
    """A ring of live-frog scissors, fed at every eighth board."""
    text = 'format = 1\ntitle = "big"\nscale_ratio = 160\ngauge_mm = 9\n'
    text += '[[supply]]\nname = "A"\n[[supply]]\nname = "B"\n'
    for k in range(boards):
        text += (
            f'[[module]]\nname = "m{k}"\n[[module.piece]]\nname = "P"\n'
            'kind = "scissors crossover"\nlength_mm = 310\ntrack_centres_mm = 33\n'
            "centre_gap = false\n"
        )
        for track, plus, minus in (("A", "outer", "inner-west"), ("B", "inner-west", "outer")):
            if k % 8 == 0:
                text += (
                    f'[[feeder]]\nname = "{track}{k}"\nsupply = "{track}"\n'
                    f'plus = "m{k}/P/{track}-{plus}"\nminus = "m{k}/P/{track}-{minus}"\n'
                )
    names = [f"m{k}" for k in range(boards)]
    return assemble(
        scenario_from_text(f"{text}[[line]]\nmodules = {names}\nring = true\n")
    ).layout


@pytest.mark.slow
def test_a_fault_is_located_in_a_layout_of_hundreds_of_boards() -> None:
    """A meter across one contact, in a ring in which all boards join all others."""
    layout = big_ring(400)
    faults = faults_of(layout)
    rest = tuple(x.rest for x in layout.levers)
    a, b = (layout.nodes.index(f"m203/P/{name}") for name in ("A-inner-west", "A-mid"))
    tired = next(f for f in faults if f.words == "m203/P/AW-through: contact tired")
    probe = Probe("meter", a, b, rest, "m203/P")
    found = Locator(layout, faults).find([reading(1, probe, says(layout, [tired], probe))])
    assert found.explanations[0].faults == (tired,)
