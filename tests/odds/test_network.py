"""The engine for two-terminal networks against published values, networkx and dd."""

from __future__ import annotations

import random
from itertools import product
from typing import Any

import networkx as nx
import pytest
from dd.autoref import BDD
from hypothesis import given, settings
from hypothesis import strategies as st

from sim.analyses.odds.cut_sets import Families
from sim.analyses.odds.decision_diagrams import Diagrams, Link, TooLargeError, When, joined

#: Nodes s, a, b, t as 0 … 3; links sa, sb, ab, at, bt as 0 … 4.
BRIDGE = [(0, 1), (0, 2), (1, 2), (1, 3), (2, 3)]


def connected(links: list[tuple[int, int]], nodes: int, end: int) -> tuple[Diagrams, When]:
    diagrams = Diagrams(len(links))
    made = [Link(a, b, n) for n, (a, b) in enumerate(links)]
    return diagrams, joined(diagrams, nodes, made, 0, end)


@pytest.mark.parametrize(
    ("p", "works"), [(0.9, 0.97848), (0.8, 0.91136), (0.5, 0.5), (0.95, 0.994780625)]
)
def test_bridge(p: float, works: float) -> None:
    """2p²+2p³-5p⁴+2p⁵: Barlow & Proschan; Rausand & Høyland."""
    diagrams, when = connected(BRIDGE, 4, 3)
    assert diagrams.probability(when.node, [1 - p] * 5) == pytest.approx(works, abs=1e-12)
    formula = 2 * p**2 + 2 * p**3 - 5 * p**4 + 2 * p**5
    assert formula == pytest.approx(works, abs=1e-12)


def test_bridge_with_a_one_way_centre() -> None:
    """Recomputed by enumeration: .97119 at p = .9."""
    diagrams = Diagrams(5)
    links = [Link(a, b, n, one_way=n == 2) for n, (a, b) in enumerate(BRIDGE)]
    when = joined(diagrams, 4, links, 0, 3)
    assert diagrams.probability(when.node, [0.1] * 5) == pytest.approx(0.97119, abs=1e-12)


def test_cut_sets_of_the_bridge() -> None:
    """{sa,sb} {at,bt} {sa,ab,bt} {sb,ab,at}: textbook, from memory."""
    diagrams, when = connected(BRIDGE, 4, 3)
    families = Families(diagrams)
    cuts = families.cuts((~when).node)
    assert families.smallest(cuts, 10) == [(0, 1), (3, 4), (0, 2, 4), (1, 2, 3)]
    assert families.count(cuts) == 4
    paths = families.smallest(families.paths(when.node), 10)
    assert paths == [(0, 3), (1, 4), (0, 2, 4), (1, 2, 3)]


def test_bounds_on_the_bridge() -> None:
    """Exact < min-cut bound < rare-event sum at q = .1: .02152, .0218592, .022 (formula)."""
    diagrams, when = connected(BRIDGE, 4, 3)
    q = [0.1] * 5
    families = Families(diagrams)
    cuts = families.smallest(families.cuts((~when).node), 10)
    bound = 1.0
    for cut in cuts:
        bound *= 1 - 0.1 ** len(cut)
    assert diagrams.probability((~when).node, q) == pytest.approx(0.02152, abs=1e-12)
    assert 1 - bound == pytest.approx(0.0218592, abs=1e-7)
    assert sum(0.1 ** len(cut) for cut in cuts) == pytest.approx(0.022, abs=1e-12)


def test_importances_of_the_bridge() -> None:
    """Birnbaum at p = .9: outer .1062, centre .0162 (by its definition)."""
    diagrams, when = connected(BRIDGE, 4, 3)
    slopes = diagrams.slopes((~when).node, [0.1] * 5)
    assert [round(slopes[v], 10) for v in range(5)] == [0.1062, 0.1062, 0.0162, 0.1062, 0.1062]
    # Fussell and Vesely's by its definition: some minimal cut with the centre in it.
    families = Families(diagrams)
    centre = families.with_(families.cuts((~when).node), 2)
    assert families.smallest(centre, 10) == [(0, 2, 4), (1, 2, 3)]
    chance = diagrams.probability(families.as_diagram(centre), [0.1] * 5)
    assert chance == pytest.approx(2 * 0.1**3 - 0.1**5, abs=1e-15)


def test_two_out_of_three() -> None:
    """.972 at p = .9 (by its definition)."""
    diagrams = Diagrams(3)
    a, b, c = (~diagrams.failed(v) for v in range(3))
    works = (a & b) | (a & c) | (b & c)
    assert diagrams.probability(works.node, [0.1] * 3) == pytest.approx(0.972, abs=1e-12)


def test_of_two_parallel_links_and_one_in_series_only_the_single_one_is_critical() -> None:
    """Definition of a bridge."""
    diagrams, when = connected([(0, 1), (0, 1), (1, 2)], 3, 2)
    families = Families(diagrams)
    assert families.smallest(families.cuts((~when).node), 10) == [(2,), (0, 1)]


def test_dodecahedron() -> None:
    """Opposite corners: 2.8796e-3, 2.0619e-6, 2.0060e-9.

    Literature on rare events, from memory; recomputed.
    """
    graph = nx.dodecahedral_graph()
    distance = nx.shortest_path_length(graph, 0)
    far = max(graph, key=lambda n: distance[n])
    links = sorted(graph.edges, key=lambda e: (distance[e[0]] + distance[e[1]], e))
    diagrams, when = connected(links, 20, far)
    for q, fails in ((0.1, 2.8796e-3), (0.01, 2.0619e-6), (0.001, 2.0060e-9)):
        found = diagrams.probability((~when).node, [q] * 30)
        assert found == pytest.approx(fails, rel=2e-5)


@settings(max_examples=60, deadline=None)
@given(st.integers(0, 2**32 - 1), st.booleans())
def test_random_graphs_against_networkx(seed: int, one_way: bool) -> None:
    """Every state of up to nine links, asked of networkx."""
    dice = random.Random(seed)
    nodes = dice.randint(2, 6)
    ends = [(dice.randrange(nodes), dice.randrange(nodes)) for _ in range(dice.randint(1, 9))]
    ways = [one_way and dice.random() < 0.4 for _ in ends]
    chances = [dice.random() for _ in ends]
    diagrams = Diagrams(len(ends))
    links = [Link(a, b, n, w) for n, ((a, b), w) in enumerate(zip(ends, ways, strict=True))]
    when = joined(diagrams, nodes, links, 0, nodes - 1)
    total = 0.0
    for failed in product((False, True), repeat=len(ends)):
        graph: nx.DiGraph[int] = nx.DiGraph()
        graph.add_nodes_from(range(nodes))
        share = 1.0
        for (a, b), way, bad, q in zip(ends, ways, failed, chances, strict=True):
            share *= q if bad else 1 - q
            if not bad:
                graph.add_edge(a, b)
                if not way:
                    graph.add_edge(b, a)
        reached = nx.has_path(graph, 0, nodes - 1)
        assert diagrams.holds(when.node, failed) == reached
        total += share * reached
    assert diagrams.probability(when.node, chances) == pytest.approx(total, abs=1e-12)


def _random_formula(dice: random.Random, leaves: list[When], others: list[Any]) -> None:
    """Grow two lists of functions side by side, ours and another library's."""
    for _ in range(25):
        i, j = dice.randrange(len(leaves)), dice.randrange(len(leaves))
        kind = dice.randrange(3)
        a, b, x, y = leaves[i], leaves[j], others[i], others[j]
        if kind == 0:
            leaves.append(a & b)
            others.append(x & y)
        elif kind == 1:
            leaves.append(a | b)
            others.append(x | y)
        else:
            leaves.append(~a)
            others.append(~x)


@settings(max_examples=30, deadline=None)
@given(st.integers(0, 2**32 - 1))
def test_functions_against_an_independent_library(seed: int) -> None:
    """dd counts satisfying assignments; so does a probability of one half each."""
    dice = random.Random(seed)
    count = 7
    diagrams, other = Diagrams(count), BDD()
    other.declare(*(f"x{v}" for v in range(count)))
    ours = [diagrams.failed(v) for v in range(count)]
    theirs: list[Any] = [other.var(f"x{v}") for v in range(count)]
    _random_formula(dice, ours, theirs)
    for a, x in zip(ours, theirs, strict=True):
        counted = other.count(x, nvars=count)
        assert diagrams.probability(a.node, [0.5] * count) == counted / 2**count
    equal = [(a == b) == (x == y) for a, x in zip(ours, theirs, strict=True)
             for b, y in zip(ours, theirs, strict=True)]  # fmt: skip
    assert all(equal)


@settings(max_examples=60, deadline=None)
@given(st.integers(0, 2**32 - 1))
def test_minimal_sets_and_slopes_against_all_states(seed: int) -> None:
    """Any function, also one that a further failure can undo, from its definition."""
    dice = random.Random(seed)
    count = 5
    states = list(product((False, True), repeat=count))
    true = {s for s in states if dice.random() < 0.4}
    diagrams = Diagrams(count)
    when = diagrams.always & ~diagrams.always
    for s in true:
        term = diagrams.always
        for v, bad in enumerate(s):
            x = diagrams.failed(v)
            term = term & (x if bad else ~x)
        when = when | term
    families = Families(diagrams)
    sets = {s: frozenset(v for v in range(count) if s[v]) for s in states}
    solutions = [sets[s] for s in true]
    minimal = {s for s in solutions if not any(o < s for o in solutions)}
    found = families.smallest(families.cuts(when.node), 1000)
    assert {frozenset(s) for s in found} == minimal
    assert len(found) == len(minimal)

    def keeps(good: frozenset[int]) -> bool:
        return all(s in true for s in states if not any(s[v] for v in good))

    keeping = [g for g in sets.values() if keeps(g)]
    least = {g for g in keeping if not any(o < g for o in keeping)}
    assert {frozenset(s) for s in families.smallest(families.paths(when.node), 1000)} == least

    chances = [dice.random() for _ in range(count)]
    for v, slope in diagrams.slopes(when.node, chances).items():
        failed, good = ([*chances[:v], q, *chances[v + 1 :]] for q in (1.0, 0.0))
        expected = diagrams.probability(when.node, failed)
        expected -= diagrams.probability(when.node, good)
        assert slope == pytest.approx(expected, abs=1e-12)


def test_too_large_a_function_is_refused() -> None:
    diagrams = Diagrams(20, nodes_at_most=40)
    with pytest.raises(TooLargeError, match="more than 40 nodes"):
        joined(diagrams, 7, [Link(a, b, a + 2 * b) for a in range(7) for b in range(a)], 0, 6)


def test_a_long_chain_does_not_exhaust_the_stack() -> None:
    count = 3000
    diagrams = Diagrams(count)
    # Numbered from the far end, as the doubts of a layout are.
    links = [Link(n, n + 1, count - 1 - n) for n in range(count)]
    when = joined(diagrams, count + 1, links, 0, count)
    chance = diagrams.probability(when.node, [1e-4] * count)
    assert chance == pytest.approx(0.9999**count, rel=1e-9)
