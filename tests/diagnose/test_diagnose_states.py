"""Readings under candidates, side by side as bits, against the slow twin one by one."""

from __future__ import annotations

import random

import pytest

from sim.bench.diagnosis.conflicts import every_set
from sim.bench.diagnosis.model import Fault, faults_of, layout_of
from sim.bench.diagnosis.next_reading import settings_near
from sim.bench.diagnosis.states import Columns, States
from sim.bench.readings.model import Probe
from sim.layout.assemble import assemble
from sim.layout.model import PLASTIC, Layout
from sim.power.settings import rest_positions
from tests.checked import read_scenario
from tests.diagnose.reader import says
from tests.pieces.cases import FAMILIES, crossover, double_slip, scissors, turnout

LOOPS = assemble(read_scenario("tests/command/loops.toml")).layout


def probes(layout: Layout, rng: random.Random, count: int) -> list[Probe]:
    rest = tuple(rest_positions(layout))
    settings = settings_near(layout, range(len(layout.levers)), rest, each=True)
    made = []
    homes = ["layout", *(p.id for p in layout.pieces), *(m.name for m in layout.modules)]
    for _ in range(count):
        where = rng.choice(homes)
        inside = [
            k for k, n in enumerate(layout.nodes)
            if where == "layout" or n.startswith(where + "/")
        ]  # fmt: skip
        a, b = rng.choice(inside), rng.choice(inside)
        made.append(Probe("meter", a, b, rng.choice(settings), where))
        if layout.supplies:
            made.append(Probe("lamp", a, b, rng.choice(settings)))
            route = rng.choice(layout.routes)
            pairs = tuple(
                (s.left, s.right) for s in route.spans if PLASTIC not in (s.left, s.right)
            )
            made.append(Probe("train", *pairs[0], rng.choice(settings), "layout", pairs))
    return made


def check(layout: Layout, faults: tuple[Fault, ...], count: int, seed: int) -> None:
    rng = random.Random(seed)
    sets = [(), *rng.sample(every_set(faults, 1), min(20, len(faults)))]
    sets += rng.sample(every_set(faults, 2), min(20, len(every_set(faults, 2))))
    columns = Columns(faults, sets)
    states = States(layout, faults)
    for probe in probes(layout, rng, count):
        answers = states.answers(columns, probe)
        assert sum(answers.values()) == columns.every  # disjoint, and none left out
        for k, chosen in enumerate(sets):
            said = says(layout, [faults[f] for f in chosen], probe)
            assert answers[said] >> k & 1, (probe, [faults[f].words for f in chosen], said)


@pytest.mark.parametrize("family", FAMILIES)
def test_a_turnout_reads_as_the_twin_says(family: str) -> None:
    layout = layout_of(turnout(family=family))
    check(layout, faults_of(layout), 12, 1)


@pytest.mark.parametrize(
    "piece",
    [
        crossover(family="powered frog"),
        scissors(family="live frog", gangs="per diagonal"),
        double_slip(),
    ],
    ids=["crossover", "scissors", "double slip"],
)
def test_a_crossover_reads_as_the_twin_says(piece: object) -> None:
    layout = layout_of(piece)  # type: ignore[arg-type]
    check(layout, faults_of(layout), 8, 2)


def test_a_layout_with_supplies_reads_as_the_twin_says() -> None:
    check(LOOPS, faults_of(LOOPS), 8, 3)
