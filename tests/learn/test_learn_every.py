"""Every wiring that agrees with the readings is told, none twice, the simplest first."""

from __future__ import annotations

import random
from collections.abc import Iterator
from itertools import product

import pytest

from sim.bench.learning.infer import Relation
from sim.bench.learning.study import study
from sim.bench.learning.subject import subject_of_kind
from sim.bench.learning.wirings import Chart, every_wiring, relations_in
from tests.learn.simulated import read
from tests.pieces.cases import N_GAUGE, TWIN

PLACES = 4
LEVER = ((0,), (1,))  # one lever, two positions


def partitions(places: int) -> Iterator[tuple[int, ...]]:
    """Every way to divide places into nets, each named by its lowest place.

    Their numbers are the Bell numbers 1, 2, 5, 15, 52 (OEIS A000110, from memory).
    """
    if places == 0:
        yield ()
        return
    for rest in partitions(places - 1):
        for net in sorted({*rest, places - 1}):
            yield (*rest, net)


def allows(relations: list[Relation], chart: Chart) -> bool:
    """Whether no relation is known to be otherwise, asked pair by pair."""
    return all(
        relation.known(a, b) in (None, nets[a] == nets[b])
        for relation, nets in zip(relations, chart, strict=True)
        for a, b in product(range(PLACES), repeat=2)
        if a != b
    )


def some_known(seed: int) -> list[Relation]:
    """A few relations of a chart drawn by luck."""
    rng = random.Random(seed)
    every = list(partitions(PLACES))
    found = [Relation(PLACES) for _ in LEVER]
    for relation in found:
        nets = rng.choice(every)
        for a in range(PLACES):
            for b in range(a + 1, PLACES):
                if rng.random() < 0.6:
                    _ = relation.join(a, b) if nets[a] == nets[b] else relation.part(a, b)
    return found


def test_partitions_are_bell_numbers() -> None:
    assert [len(list(partitions(n))) for n in range(5)] == [1, 1, 2, 5, 15]


@pytest.mark.parametrize("seed", range(40))
def test_wirings_are_those_of_brute_force(seed: int) -> None:
    known = some_known(seed)
    expected = {c for c in product(partitions(PLACES), repeat=2) if allows(known, c)}
    found = every_wiring(known, LEVER, PLACES, 1000)
    charts = [chart for _, chart in found.wirings]
    assert found.complete
    assert found.count == len(charts) == len(expected)
    assert set(charts) == expected
    costs = [learned.cost for learned, _ in found.wirings]
    assert costs == sorted(costs)
    for learned, chart in found.wirings:
        assert tuple(learned.nets(positions) for positions in LEVER) == chart
    # Fewer asked for: the same first ones, and still the number of all.
    some = every_wiring(known, LEVER, PLACES, 2)
    assert some.wirings == found.wirings[:2]
    assert (some.count, some.complete) == (found.count, True)


def test_a_chart_read_in_full_leaves_one_wiring() -> None:
    chart = ((0, 0, 2, 3), (0, 1, 0, 3))
    found = every_wiring(relations_in(chart), LEVER, PLACES, 12)
    assert [c for _, c in found.wirings] == [chart]


def test_where_work_runs_out_it_is_said() -> None:
    """Seven places of which nothing is read: 877 wirings a setting, 769129 in two."""
    found = every_wiring([Relation(7), Relation(7)], LEVER, 7, 12)
    assert not found.complete
    assert len(found.wirings) == 12
    assert found.count >= 1000
    assert found.wirings[0][0].cost == 0  # nothing joined: nothing asserted


def test_three_nets_of_a_crossover_never_read_are_five_wirings() -> None:
    """Three nets in one setting can be divided in 5 ways (Bell number), by hand."""
    subject = subject_of_kind("single crossover", TWIN)
    variant = subject.variants[0]
    readings, _ = read(subject, variant.piece)
    known = relations_in(study(subject, readings).models[0].chart)
    nets = sorted({known[0].net(p) for p in range(len(subject.places))})[:3]
    left = [
        r for r in readings
        if r.probe.positions != subject.settings[0]
        or not {known[0].net(r.probe.a), known[0].net(r.probe.b)} <= set(nets)
        or known[0].net(r.probe.a) == known[0].net(r.probe.b)
    ]  # fmt: skip
    found = study(subject, left)
    assert found.counted
    assert found.agree == len(found.models) == 5
    assert not found.settled
    first = found.models[0]
    library = [m for m in map(found.matching, found.models) if m is not None]
    assert any(variant in match.variants for match in library)
    assert found.telling(first) is None
    for model in found.models[1:]:
        told = found.telling(model)
        assert told is not None
        k = subject.settings.index(told.positions)
        assert (model.chart[k][told.a] == model.chart[k][told.b]) == told.joined
        assert (first.chart[k][told.a] == first.chart[k][told.b]) != told.joined
        assert {known[0].net(told.a), known[0].net(told.b)} <= set(nets)


def test_plastic_need_not_be_read() -> None:
    subject = subject_of_kind("turnout", N_GAUGE)
    variant = next(v for v in subject.variants if v.words.startswith("powered"))
    readings, _ = read(subject, variant.piece)
    frog = next(p.number - 1 for p in subject.places if p.name == "F")
    left = [r for r in readings if frog not in (r.probe.a, r.probe.b)]
    assert study(subject, left).agree > 1
    assert study(subject, left, [frog]).agree == 1
