"""The engine for networks against block diagrams, formulas and networkx.

Chances here are those of working, ``p``; the engine is asked with those of failing.
"""

from __future__ import annotations

import random
from itertools import combinations
from math import comb, sqrt
from typing import Any

import networkx as nx
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import stats as reference

from sim.analyses.odds.cut_sets import Families
from sim.analyses.odds.decision_diagrams import Diagrams, Link, When, joined

Ends = list[tuple[int, int]]


def connected(ends: Ends, nodes: int, end: int) -> tuple[Diagrams, When]:
    """The network from node 0 to ``end``, a link for each pair of ends."""
    diagrams = Diagrams(len(ends))
    links = [Link(a, b, n) for n, (a, b) in enumerate(ends)]
    return diagrams, joined(diagrams, nodes, links, 0, end)


def works(ends: Ends, nodes: int, end: int, p: float) -> float:
    diagrams, when = connected(ends, nodes, end)
    return diagrams.probability(when.node, [1.0 - p] * len(ends))


def at_least(needed: int, of: int) -> tuple[Diagrams, When]:
    """Works while ``needed`` of so many parts work."""
    diagrams = Diagrams(of)
    good = [~diagrams.failed(v) for v in range(of)]
    works = ~diagrams.always
    for some in combinations(good, needed):
        term = diagrams.always
        for part in some:
            term = term & part
        works = works | term
    return diagrams, works


@pytest.mark.parametrize(
    ("needed", "of", "p", "chance"),
    [(2, 4, 0.9, 0.9963), (3, 5, 0.9, 0.99144), (3, 4, 0.95, 0.98598125), (1, 3, 0.8, 0.992)],
)
def test_some_of_several(needed: int, of: int, p: float, chance: float) -> None:
    """k-out-of-n structures: M. Rausand and A. Høyland, System Reliability Theory.

    From memory; once more by scipy's binomial distribution.
    """
    diagrams, when = at_least(needed, of)
    found = diagrams.probability(when.node, [1.0 - p] * of)
    assert found == pytest.approx(chance, abs=1e-12)
    assert found == pytest.approx(float(reference.binom.sf(needed - 1, of, p)), abs=1e-12)


def test_importances_in_series_with_a_pair() -> None:
    """Birnbaum's measure; Rausand and Høyland, one part in series with two in parallel.

    From memory: p₂ + p₃ - p₂p₃ for the first, p₁(1 - p₃) and p₁(1 - p₂) for the others.
    """
    p1, p2, p3 = 0.98, 0.95, 0.94
    diagrams, when = connected([(0, 1), (1, 2), (1, 2)], 3, 2)
    slopes = diagrams.slopes((~when).node, [1 - p1, 1 - p2, 1 - p3])
    expected = [p2 + p3 - p2 * p3, p1 * (1 - p3), p1 * (1 - p2)]
    assert [slopes[v] for v in range(3)] == pytest.approx(expected, abs=1e-12)


@pytest.mark.parametrize("p", [0.05, 0.382, 0.5, 0.618, 0.9])
def test_four_relays_for_one(p: float) -> None:
    """E. F. Moore and C. E. Shannon, Reliable circuits using less reliable relays (1956).

    From memory: two pairs in parallel 2p² - p⁴, two pairs in series (2p - p²)².  Neither
    is better than one contact at (√5 - 1)/2 and at 1 minus that; beyond it both are.
    """
    pairs: Ends = [(0, 1), (1, 3), (0, 2), (2, 3)]
    parallel = works(pairs, 4, 3, p)
    assert parallel == pytest.approx(2 * p**2 - p**4, abs=1e-12)
    series = works([(0, 1), (0, 1), (1, 2), (1, 2)], 3, 2, p)
    assert series == pytest.approx((2 * p - p**2) ** 2, abs=1e-12)
    golden = (sqrt(5) - 1) / 2
    assert works(pairs, 4, 3, golden) == pytest.approx(golden, abs=1e-12)
    assert (parallel > p) == (p > golden)
    assert (series > p) == (p > 1 - golden)


def gilbert(nodes: int, p: float) -> float:
    """E. N. Gilbert, Annals of Mathematical Statistics 30 (1959), from memory."""
    q = 1.0 - p
    whole = [0.0, 1.0]
    for n in range(2, nodes + 1):
        whole.append(1 - sum(comb(n - 1, k - 1) * whole[k] * q ** (k * (n - k))
                             for k in range(1, n)))  # fmt: skip
    return 1 - sum(
        comb(nodes - 2, k - 1) * whole[k] * q ** (k * (nodes - k)) for k in range(1, nodes)
    )


@pytest.mark.parametrize("nodes", [2, 3, 4, 5, 6, 7])
@pytest.mark.parametrize("p", [0.1, 0.5, 0.9])
def test_two_nodes_of_a_network_where_everything_is_joined(nodes: int, p: float) -> None:
    """Gilbert's recursion, as above; for three nodes p + p² - p³ by hand."""
    assert gilbert(3, p) == pytest.approx(p + p**2 - p**3)
    ends = [(a, b) for b in range(nodes) for a in range(b)]
    assert works(ends, nodes, nodes - 1, p) == pytest.approx(gilbert(nodes, p), abs=1e-12)


@pytest.mark.parametrize(("count", "p"), [(3, 0.9), (5, 0.9), (10, 0.8), (30, 0.95)])
def test_no_two_neighbours_may_fail(count: int, p: float) -> None:
    """Consecutive 2-out-of-n:F; C. Derman, G. J. Lieberman and S. M. Ross 1982 (from memory).

    The sum of C(n - j + 1, j) p^(n-j) q^j.  As for an engine with two trucks, which gets
    over one dead place but not over two beside each other.
    """
    diagrams = Diagrams(count)
    good = diagrams.always
    for n in range(count - 1):
        good = good & ~(diagrams.failed(n) & diagrams.failed(n + 1))
    q = 1.0 - p
    expected = sum(
        comb(count - j + 1, j) * p ** (count - j) * q**j for j in range((count + 1) // 2 + 1)
    )
    assert diagrams.probability(good.node, [q] * count) == pytest.approx(expected, abs=1e-12)


def test_bounds_from_paths_and_from_cuts() -> None:
    """J. D. Esary and F. Proschan 1963 (from memory), the bridge at p = .9.

    ∏(1 - ∏q) over cuts from below, 1 - ∏(1 - ∏p) over paths from above:
    .97814 < .97848 < .99735.
    """
    bridge: Ends = [(0, 1), (0, 2), (1, 2), (1, 3), (2, 3)]
    diagrams, when = connected(bridge, 4, 3)
    families = Families(diagrams)
    low, high = 1.0, 1.0
    for cut in families.smallest(families.cuts((~when).node), 10):
        low *= 1 - 0.1 ** len(cut)
    for path in families.smallest(families.paths(when.node), 10):
        high *= 1 - 0.9 ** len(path)
    exact = diagrams.probability(when.node, [0.1] * 5)
    assert (low, exact, 1 - high) == pytest.approx((0.97814, 0.97848, 0.99735), abs=5e-6)


@st.composite
def graphs(draw: st.DrawFn) -> tuple[int, Ends, list[float]]:
    """Up to seven nodes and twelve links, and the chance of each to work."""
    dice = random.Random(draw(st.integers(0, 2**32 - 1)))
    nodes = dice.randint(2, 7)
    ends = [(dice.randrange(nodes), dice.randrange(nodes)) for _ in range(dice.randint(1, 12))]
    ends = [(a, b) for a, b in ends if a != b]
    return nodes, ends, [dice.random() for _ in ends]


@settings(max_examples=60, deadline=None)
@given(graphs())
def test_factoring(made: tuple[int, Ends, list[float]]) -> None:
    """Factoring theorem (F. Moskowitz 1958, from memory).

    p times the network with both ends of a link made one, and 1 - p times it without.
    """
    nodes, ends, chances = made
    if not ends:
        return
    (a, b), p = ends[0], chances[0]
    rest, others = ends[1:], [1 - c for c in chances[1:]]

    def chance(of: Ends) -> float:
        diagrams, when = connected(of, nodes, nodes - 1)
        return diagrams.probability(when.node, others)

    # Of the two ends the one that is kept is the terminal, if any is.
    keep, gone = (b, a) if b in (0, nodes - 1) else (a, b)
    one = [tuple(keep if n == gone else n for n in pair) for pair in rest]
    ends_met = {keep, gone} == {0, nodes - 1}
    merged = 1.0 if ends_met else chance([(x, y) for x, y in one])
    expected = p * merged + (1 - p) * chance(rest)
    diagrams, when = connected(ends, nodes, nodes - 1)
    found = diagrams.probability(when.node, [1 - c for c in chances])
    assert found == pytest.approx(expected, abs=1e-12)


@settings(max_examples=60, deadline=None)
@given(graphs())
def test_smallest_cuts_and_all_paths_against_networkx(
    made: tuple[int, Ends, list[float]],
) -> None:
    """The smallest cut is the greatest flow (L. R. Ford and D. R. Fulkerson 1956).

    networkx: maximum_flow_value, all_simple_edge_paths.
    """
    nodes, ends, _ = made
    graph: nx.MultiGraph[int] = nx.MultiGraph()
    graph.add_nodes_from(range(nodes))
    for n, (a, b) in enumerate(ends):
        graph.add_edge(a, b, n)
    flow: nx.DiGraph[int] = nx.DiGraph()
    flow.add_nodes_from(range(nodes))
    for a, b in ends:
        for one, other in ((a, b), (b, a)):
            known = flow.get_edge_data(one, other, {"capacity": 0})["capacity"]
            flow.add_edge(one, other, capacity=known + 1)
    diagrams, when = connected(ends, nodes, nodes - 1)
    families = Families(diagrams)
    every: Any = nx.all_simple_edge_paths(graph, 0, nodes - 1)
    paths = {frozenset(edge[-1] for edge in path) for path in every}
    found = families.smallest(families.paths(when.node), 10_000)
    assert {frozenset(p) for p in found} == paths
    least = nx.maximum_flow_value(flow, 0, nodes - 1)
    cuts = families.smallest(families.cuts((~when).node), 1)
    assert [len(cut) for cut in cuts] == [least]
