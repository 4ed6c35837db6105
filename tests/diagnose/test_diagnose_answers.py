"""Whoever answers truthfully what is asked comes to an end, with the fault among what is left.

What would be seen comes from the slow twin; what a person says of it is written down here.
"""

from __future__ import annotations

import random
from collections.abc import Mapping

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from sim.bench.diagnosis.locate import Findings, Locator
from sim.bench.diagnosis.model import faults_of, layout_of
from sim.bench.diagnosis.next_reading import Reply
from sim.bench.readings.model import LAMP_WORDS, Probe, Reading, meter_outcomes
from sim.faults.possible import Fault
from sim.layout.assemble import assemble
from sim.layout.model import Layout
from sim.scenario.read import read_scenario
from tests.diagnose.reader import says
from tests.pieces.cases import turnout
from tests.run.lots import plans
from tests.run.plans import Plan

#: What people say of what there is, each truthfully.
PEOPLE: Mapping[str, Mapping[str, str | float]] = {
    "ohms": {
        "joined": 0.4, "tired": 35.0, "open": "open",
        "live": "lit", "weak": "dim", "dead": "dark", "short": "trips",
    },
    "buzzer": {
        "joined": "joined", "tired": "joined", "open": "open",
        "live": "lit", "weak": "dark", "dead": "dark", "short": "dark",
    },
    "lamp": {
        "joined": "lit", "tired": "dark", "open": "dark",
        "live": "lit", "weak": "dim", "dead": "dark", "short": "trips",
    },
}  # fmt: skip
#: More questions than this no one answers.
QUESTIONS = 60


def answered(number: int, probe: Probe, said: str | float) -> Reading:
    word = said if isinstance(said, str) else f"{said:g} ohm"
    allows = LAMP_WORDS[word] if probe.what == "lamp" else meter_outcomes(said)
    assert allows is not None
    return Reading(number, probe, word, allows)


def key(probe: Probe) -> tuple[object, ...]:
    return probe.what, frozenset((probe.a, probe.b)), probe.positions, probe.where


def promised(replies: tuple[Reply, ...], allows: frozenset[str]) -> int | None:
    """How many explanations were said to be left after an answer that allows these."""
    return next((r.left for r in replies if r.exact and r.allows == allows), None)


def follow(layout: Layout, faults: list[Fault], person: str, locator: Locator) -> Findings:
    """Answer until nothing more is asked, and hold every promise on the way."""
    taken: list[Reading] = []
    asked = set()
    expected: int | None = None
    for _ in range(QUESTIONS):
        found = locator.find(taken)
        assert expected in (None, len(found.explanations))
        suggestion = found.easy or found.opened
        if suggestion is None:
            return found
        probe = suggestion.ask.probe
        assert key(probe) not in asked, "the same reading again"
        asked.add(key(probe))
        said = PEOPLE[person][says(layout, faults, probe)]
        taken.append(answered(len(taken) + 1, probe, said))
        expected = promised(suggestion.replies, taken[-1].allows)
    raise AssertionError(f"asked more than {QUESTIONS} times")


def check(layout: Layout, fault: Fault, person: str, locator: Locator) -> None:
    found = follow(layout, [fault], person, locator)
    if found.sound:  # a fault that nobody who answers like this can notice
        assert (fault,) in [e.faults for e in found.explanations]
    else:
        assert (fault,) in [e.faults for e in found.explanations]
        assert found.may_hide_another


@pytest.mark.parametrize("person", PEOPLE)
def test_every_fault_of_two_boards_is_among_what_is_left(person: str) -> None:
    layout = assemble(read_scenario("tests/command/loops.toml")).layout
    faults = faults_of(layout)
    locator = Locator(layout, faults)
    for fault in faults[::9]:
        check(layout, fault, person, locator)


@pytest.mark.parametrize("person", PEOPLE)
def test_a_dead_supply_is_found(person: str) -> None:
    layout = assemble(read_scenario("scenarios/well-fed.toml")).layout
    faults = faults_of(layout)
    locator = Locator(layout, faults)
    for fault in faults:
        if fault.kind == "supply off":
            check(layout, fault, person, locator)


def test_a_meter_that_only_sounds_is_not_asked_for_ohms() -> None:
    """Twelve contacts that may be tired are not twelve questions to a buzzer."""
    layout = layout_of(turnout(family="live frog"))
    faults = faults_of(layout)
    tired = next(f for f in faults if f.kind == "contact tired")
    locator = Locator(layout, faults)
    found = follow(layout, [tired], "buzzer", locator)
    assert len(found.readings) <= 1 + len({f.part for f in faults})


@given(data=st.data())
@settings(max_examples=15, deadline=None, derandomize=True)
def test_any_fault_of_any_layout_is_among_what_is_left(data: st.DataObject) -> None:
    plan: Plan = data.draw(plans(most_trains=1))
    layout = plan.case().layout
    faults = faults_of(layout)
    fault = data.draw(st.sampled_from(faults))
    person = data.draw(st.sampled_from(sorted(PEOPLE)))
    check(layout, fault, person, Locator(layout, faults))


@pytest.mark.slow
@pytest.mark.parametrize("name", ["club-loops", "branch-terminus", "loose-gang", "well-fed"])
def test_faults_of_the_demos_are_among_what_is_left(name: str) -> None:
    """A dozen of them, spread evenly: all would take hours."""
    layout = assemble(read_scenario(f"scenarios/{name}.toml")).layout
    faults = faults_of(layout)
    locator = Locator(layout, faults)
    people = sorted(PEOPLE)
    for number, fault in enumerate(faults[:: max(1, len(faults) // 12)]):
        check(layout, fault, people[number % len(people)], locator)


@pytest.mark.parametrize("seed", range(4))
def test_what_two_faults_leave_is_promised_too(seed: int) -> None:
    """With two faults explanations grow at times; what was promised holds all the same."""
    layout = layout_of(turnout(family="insulated frog, power routing"))
    faults = faults_of(layout)
    rng = random.Random(seed)
    one, other = rng.sample(faults, 2)
    while one.part == other.part:
        one, other = rng.sample(faults, 2)
    follow(layout, [one, other], rng.choice(sorted(PEOPLE)), Locator(layout, faults))
