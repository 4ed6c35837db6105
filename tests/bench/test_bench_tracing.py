"""Speed of tracing, as ratios measured in one run.

Ten thousand states of one scissors, each a setting of its four levers with some
contacts failed, are traced by :func:`sim.power.trace.trace_closed` all at once,
and by one pass of array union-find for each.  Both get the metal that never
changes contracted beforehand, their failures in the form that suits them, and
must say which poles reach every rail in every state.
"""

from __future__ import annotations

import random
import time
from collections.abc import Callable, Sequence
from itertools import product

import pytest
from pytest_benchmark.fixture import BenchmarkFixture

from sim.layout.assemble import assemble
from sim.layout.model import Layout
from sim.power.bit_reach import each_bit
from sim.power.chart import chart, count
from sim.power.trace import Positions, Traced, closed_bits, literal_bits, trace_closed
from sim.power.wiring import Wiring, wire
from tests.checked import scenario_from_text
from tests.power.whole import feeders, piece, supplies
from tests.scenario.texts import HEAD

pytestmark = pytest.mark.bench

STATES = 10_000
#: What the batch has to be faster than one pass per state, at least.
FLOOR = 20.0
#: Time per board of ten times the boards, at most; a chart in squares would need 10.
GROWTH = 2.5


def scissors() -> Layout:
    made = piece(
        "scissors crossover",
        family="insulated frog, power routing",
        corners="fed",
        gangs="single",
        track_centres_mm=33.0,
        length_mm=310.0,
    )
    wires = [("A", "A-outer", "A-inner-west"), ("A", "A-outer", "A-inner-east"),
             ("B", "B-inner-west", "B-outer"), ("B", "B-inner-east", "B-outer")]  # fmt: skip
    text = made + supplies("A", "B") + feeders(*wires)
    return assemble(scenario_from_text(text)).layout


class OnePassPerState:
    """Array union-find with path halving: parents preallocated, contracted once."""

    def __init__(self, layout: Layout, wiring: Wiring) -> None:
        cluster = wiring.cluster_of
        self.whole = list(range(len(layout.nodes)))
        self.parent = list(self.whole)
        self.contacts = [
            (i, cluster[e.a], cluster[e.b], e.when)
            for i, e in enumerate(layout.elements)
            if e.kind == "contact"
        ]
        poles = [n for s in layout.supplies for n in (s.plus, s.minus)]
        self.poles = [(1 << p, cluster[n]) for p, n in enumerate(poles)]
        self.clusters = sorted(set(cluster))
        self.mask = [0] * len(layout.nodes)

    def find(self, x: int) -> int:
        parent = self.parent
        while parent[x] != x:
            parent[x] = parent[parent[x]]
            x = parent[x]
        return x

    def reached(self, positions: Positions, failed: frozenset[int]) -> list[int]:
        """For every cluster, a bit for each pole that reaches it."""
        parent, find, mask = self.parent, self.find, self.mask
        parent[:] = self.whole
        for i, a, b, when in self.contacts:
            if i in failed:
                continue
            for clause in when:
                for lever, position in clause:
                    if positions[lever] != position:
                        break
                else:
                    a, b = find(a), find(b)
                    if a != b:
                        parent[b] = a
                    break
        for _, n in self.poles:
            mask[find(n)] = 0
        roots = [find(c) for c in self.clusters]
        for root in roots:
            mask[root] = 0
        for bit, n in self.poles:
            mask[find(n)] |= bit
        return [mask[root] for root in roots]


def at_once(
    layout: Layout, wiring: Wiring, settings: Sequence[Positions], failed: dict[int, int]
) -> Traced[int]:
    all_bits = (1 << len(settings)) - 1
    literal = literal_bits(layout, settings)
    closed = {
        i: closed_bits(e.when, literal, all_bits) & ~failed[i]
        for i, e in enumerate(layout.elements)
        if e.kind == "contact"
    }
    return trace_closed(layout, wiring, closed, all_bits, settings)


def best_of(work: Callable[[], object], times: int = 5) -> float:
    """Least processor time, s: what disturbs a machine only ever makes it slower."""
    found = []
    for _ in range(times):
        begun = time.process_time()
        work()
        found.append(time.process_time() - begun)
    return min(found)


def test_ten_thousand_states_of_a_scissors(
    benchmark: BenchmarkFixture, capsys: pytest.CaptureFixture[str]
) -> None:
    layout = scissors()
    wiring = wire(layout)
    lucky = random.Random(20)
    settings = (list(product((0, 1), repeat=4)) * (STATES // 16 + 1))[:STATES]
    contacts = [i for i, e in enumerate(layout.elements) if e.kind == "contact"]
    failed = {
        i: lucky.getrandbits(STATES) & lucky.getrandbits(STATES) & lucky.getrandbits(STATES)
        for i in contacts
    }
    lost: list[set[int]] = [set() for _ in range(STATES)]
    for i, bits in failed.items():
        for k in each_bit(bits):
            lost[k].add(i)
    without = [frozenset(some) for some in lost]

    traced = benchmark(at_once, layout, wiring, settings, failed)
    singly = OnePassPerState(layout, wiring)

    def one_by_one() -> list[list[int]]:
        return [singly.reached(s, f) for s, f in zip(settings, without, strict=True)]

    answers = one_by_one()
    for place, cluster in enumerate(singly.clusters):
        for pole, row in enumerate(traced.reach):
            bits = sum(1 << k for k in range(STATES) if answers[k][place] >> pole & 1)
            assert bits == row[cluster]

    slow = best_of(one_by_one, 3)
    fast = best_of(lambda: at_once(layout, wiring, settings, failed), 10)
    ratio = slow / fast
    benchmark.extra_info["times faster than one pass per state"] = round(ratio, 1)
    with capsys.disabled():
        print(
            f"\n{STATES} states of a scissors: {fast * 1e3:.2f} ms at once, "
            f"{slow * 1e3:.0f} ms one by one, {ratio:.0f} times faster"
        )
    assert ratio >= FLOOR


def ring(boards: int, apart: bool) -> str:
    """Boards with a scissors each; on two supplies, or each on its own and gapped."""
    text = HEAD
    for k in range(boards if apart else 1):
        for track, plus, minus in (("A", "outer", "inner-west"), ("B", "inner-west", "outer")):
            text += f'[[supply]]\nname = "{track}{k}"\n[[feeder]]\nname = "f{track}{k}"\n'
            text += f'supply = "{track}{k}"\nplus = "m{k}/P/{track}-{plus}"\n'
            text += f'minus = "m{k}/P/{track}-{minus}"\n'
    text += '[[gap]]\nat = "*"\n' if apart else ""
    for k in range(boards):
        text += f'[[module]]\nname = "m{k}"\n[[module.piece]]\nname = "P"\n'
        text += 'kind = "scissors crossover"\ntrack_centres_mm = 33\nlength_mm = 310\n'
    names = [f"m{k}" for k in range(boards)]
    return text + f"[[line]]\nmodules = {names}\nring = true\n"


@pytest.mark.parametrize("apart", [False, True], ids=["one island", "an island each"])
def test_charts_grow_with_the_number_of_boards_and_no_faster(
    apart: bool, capsys: pytest.CaptureFixture[str]
) -> None:
    taken = {}
    for boards in (100, 1000):
        case = assemble(scenario_from_text(ring(boards, apart)))
        taken[boards] = best_of(lambda c=case: (chart(c), count(c)), 3)  # type: ignore[misc]
    growth = taken[1000] / taken[100] / 10
    with capsys.disabled():
        print(
            f"\nchart of 100 and 1000 boards: {taken[100] * 1e3:.0f} and "
            f"{taken[1000] * 1e3:.0f} ms, {growth:.2f} times as long a board"
        )
    assert growth <= GROWTH
