"""Rounds and longest ways: literal cases, then networkx as the outside answer."""

from __future__ import annotations

import networkx as nx
from hypothesis import given
from hypothesis import strategies as st

from sim.layout.order_check import longest_mm, on_rounds

PLACES = st.integers(0, 7)


def test_a_round_with_a_way_in_and_a_way_out() -> None:
    after = {1: [2], 2: [3], 3: [4], 4: [2, 5], 5: [6], 6: [], 7: [7], 8: [7]}
    assert on_rounds(after) == {2, 3, 4, 7}


def test_two_rounds_with_a_way_between_them_only() -> None:
    """What lies between two rounds is on neither."""
    assert on_rounds({1: [2], 2: [1, 3], 3: [4], 4: [5], 5: [4]}) == {1, 2, 4, 5}


def test_a_line_of_ten_thousand_places() -> None:
    after = {n: [n + 1] for n in range(10_000)} | {10_000: [0]}
    assert len(on_rounds(after)) == 10_001
    assert on_rounds({n: [n + 1] for n in range(10_000)} | {10_000: []}) == set()


@given(st.dictionaries(PLACES, st.lists(PLACES, max_size=4)))
def test_as_networkx_says(given_: dict[int, list[int]]) -> None:
    after = {n: given_.get(n, []) for n in range(8)}
    graph = nx.DiGraph([(a, b) for a, others in after.items() for b in others])
    parts = nx.strongly_connected_components(graph)
    want = {n for p in parts for n in p if len(p) > 1 or graph.has_edge(n, n)}
    assert on_rounds(after) == want


def test_the_longest_of_two_ways() -> None:
    assert longest_mm({2: {1: 100.0}, 3: {2: 50.0, 1: 120.0}, 4: {3: 1.0}}) == 151.0
    assert longest_mm({}) == 0.0
    assert longest_mm({2: {1: 5.0}, 1: {2: 5.0}}) is None


@given(st.dictionaries(PLACES, st.dictionaries(PLACES, st.integers(0, 900), max_size=4)))
def test_longest_as_networkx_says(before: dict[int, dict[int, float]]) -> None:
    graph = nx.DiGraph()
    graph.add_weighted_edges_from(
        (a, b, mm) for b, ways in before.items() for a, mm in ways.items()
    )
    if nx.is_directed_acyclic_graph(graph):
        assert longest_mm(before) == nx.dag_longest_path_length(graph)
    else:
        assert longest_mm(before) is None
