"""The multigraph keeps parallel elements apart, and answers lead back to elements."""

from __future__ import annotations

from hypothesis import given, settings

from sim.layout.model import Layout
from sim.power.graph import (
    closed_elements,
    could_conduct,
    critical_elements,
    is_closed,
    path_elements,
    power_graph,
)
from tests.power.small import Small, layouts
from tests.twin import LayoutTwin


def test_two_parallel_feeds_are_not_critical() -> None:
    made = Small("rail")
    made.supply("A")
    for name in ("west", "east"):
        made.join("A+", "rail", "feeder", name)
    graph = power_graph(made.layout(), range(2))
    a, b = made.node("A+"), made.node("rail")
    assert graph.number_of_edges(a, b) == 2
    assert critical_elements(graph, a, b) == []
    assert critical_elements(power_graph(made.layout(), [1]), a, b) == [1]


def test_of_two_parallel_links_and_one_in_series_only_the_single_one_is_critical() -> None:
    """Source: the definition of a bridge of a graph."""
    made = Small("x y z")
    pair = [made.join("x", "y", name=name) for name in ("one", "other")]
    single = made.join("y", "z", name="single")
    graph = power_graph(made.layout(), [*pair, single])
    x, z = made.node("x"), made.node("z")
    assert critical_elements(graph, x, z) == [single]
    assert critical_elements(graph, z, x) == [single]
    assert path_elements(graph, x, z) == [pair[0], single]
    assert path_elements(graph, x, z, lambda e: e != pair[0]) == [pair[1], single]
    assert path_elements(graph, x, z, lambda e: e != single) == []


def test_a_node_needs_nothing_to_reach_itself() -> None:
    made = Small("x y")
    graph = power_graph(made.layout(), [])
    assert path_elements(graph, 0, 0) == []
    assert critical_elements(graph, 0, 1) == []


def test_a_way_round_spares_what_it_passes_and_no_more() -> None:
    """a-b-c-d-e in line, and a second way from b to d."""
    made = Small("a b c d e")
    line = [made.join(a, b, name=a + b) for a, b in ("ab", "bc", "cd", "de")]
    made.join("b", "d", name="round")
    made.join("b", "b", name="loop")
    graph = power_graph(made.layout(), could_conduct(made.layout()))
    assert critical_elements(graph, 0, 4) == [line[0], line[3]]


@settings(max_examples=150, deadline=None)
@given(layouts())
def test_critical_elements_are_those_whose_loss_parts_the_two(layout: Layout) -> None:
    """Source: the definition, tried element by element with the twin."""
    usable = could_conduct(layout)
    graph = power_graph(layout, usable)
    whole = LayoutTwin(layout, usable)
    for b in range(1, len(layout.nodes)):
        expected = set()
        if whole.net[0] == whole.net[b]:
            for lost in usable:
                rest = LayoutTwin(layout, [e for e in usable if e != lost])
                if rest.net[0] != rest.net[b]:
                    expected.add(lost)
        assert set(critical_elements(graph, 0, b)) == expected


def test_when_an_element_conducts() -> None:
    made = Small("x y", {"one": ["through", "diverging"], "two": ["through", "diverging"]})
    bond, gap = made.join("x", "y"), made.join("x", "y", "gap")
    either = made.contact(
        "x", "y", {"one": "through", "two": "diverging"}, {"one": "diverging"}
    )
    layout = made.layout()
    assert could_conduct(layout) == [bond, either]
    contact = layout.elements[either]
    at = {(a, b): is_closed(contact, (a, b)) for a in (-1, 0, 1) for b in (-1, 0, 1)}
    assert {where for where, closed in at.items() if closed} == {
        (0, 1),
        (1, -1),
        (1, 0),
        (1, 1),
    }
    assert not is_closed(layout.elements[gap], (0, 0))
    assert closed_elements(layout, (-1, -1)) == [bond]
    assert closed_elements(layout, (1, 0), failed={bond}) == [either]
