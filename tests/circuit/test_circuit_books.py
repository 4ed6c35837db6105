"""The circuit against worked examples, theorems and a library of other people's.

Every check names its source.  Values from memory are worked out again here, by
fractions or in another way, before ours is asked.
"""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction
from math import inf, pi

import networkx as nx
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from sim.circuit.live import LiveCircuit
from sim.circuit.nodal import Drain, Resistance, Source, solve
from sim.circuit.operating_point import Load, by_equations, operating_point
from sim.circuit.reduction import Ports
from tests.run.plans import Plan


def between(nodes: int, made: Sequence[Resistance], a: int, b: int) -> float:
    """Resistance between two nodes: the volts that one ampere needs."""
    found = solve(nodes, list(made), drains=[Drain(b, a, 1.0)])
    return float(found.volts[a] - found.volts[b])


# -- worked examples of Kirchhoff's laws ------------------------------------------------


def test_two_loops_with_two_batteries() -> None:
    """OpenStax College Physics, Kirchhoff's rules: example with three currents (from memory).

    18 V and 45 V, each with 0.5 ohm; 6 ohm in one branch, 2.5 and 1.5 ohm in the others:
    4.75 A, -3.50 A and 8.25 A.
    """
    # I1 = I2 + I3, 3 I2 + 6 I1 = 18, 2 I3 + 6 I1 = 45
    first = Fraction(18, 3) + Fraction(45, 2)
    first /= 1 + Fraction(6, 3) + Fraction(6, 2)
    expected = [first, (18 - 6 * first) / 3, (45 - 6 * first) / 2]
    assert expected == [Fraction(19, 4), Fraction(-7, 2), Fraction(33, 4)]
    made = [Resistance(1, 0, 6.0), Resistance(0, 2, 2.5), Resistance(0, 3, 1.5)]
    sources = [Source(1, 2, 18.0, 0.5), Source(1, 3, 45.0, 0.5)]
    found = solve(4, made, sources)
    assert found.branch_a.tolist() == pytest.approx([float(x) for x in expected], rel=1e-12)


def test_two_batteries_on_one_resistor() -> None:
    """Millman's theorem; T. Kuphaldt, Lessons in Electric Circuits, DC, ch. 10 (from memory).

    28 V behind 4 ohm and 7 V behind 1 ohm on 2 ohm: 8 V, and 5 A, 4 A and 1 A.
    """
    volts = Fraction(28, 4) + Fraction(7, 1)
    volts /= Fraction(1, 4) + Fraction(1, 2) + Fraction(1, 1)
    assert volts == 8
    found = solve(2, [Resistance(0, 1, 2.0)], [Source(0, 1, 28.0, 4.0), Source(0, 1, 7.0, 1.0)])
    assert found.volts[0] - found.volts[1] == pytest.approx(8.0, rel=1e-12)
    assert found.branch_a[0] == pytest.approx(4.0, rel=1e-12)
    assert found.source_a.tolist() == pytest.approx([5.0, -1.0], rel=1e-12)


@pytest.mark.parametrize(
    ("ohm", "volts", "amps"), [(inf, 11.2, 0.0), (2.0, 8.0, 4.0), (1e-6, 0.0, 14.0)]
)
def test_the_same_two_batteries_as_supplies_of_a_layout(
    ohm: float, volts: float, amps: float
) -> None:
    """Thévenin's and Norton's theorems; Kuphaldt as above: 11.2 V, 0.8 ohm, 14 A (from memory).

    Through feeders, reduction and all; each wire of a feeder is worth 1 mΩ.
    """
    assert (Fraction(28, 4) + 7) / (Fraction(1, 4) + 1) == Fraction(56, 5)
    plan = Plan()
    for name, open_v, inner_ohm in (("one", 28.0, 4.0), ("two", 7.0, 1.0)):
        plan.supply(name, kind="dc", voltage_v=open_v, internal_ohm=inner_ohm)
    plan.piece("a", "straight", length_mm=10.0)
    for name in ("one", "two"):
        plan.add("[[feeder]]", name=f"to {name}", supply=name, plus="a/P/north",
                 minus="a/P/south", wire="100 mm2", length="1 mm")  # fmt: skip
    live = LiveCircuit(plan.case().layout, ())
    under = [(cell.node,) for rail in (0, 1) for cell in live.network.cells[rail]]
    (found,), supply_a = live.settle(under, [Load(ohm=ohm)], [28.0, 7.0])
    assert found == pytest.approx(volts, rel=2e-3, abs=1e-4)
    assert sum(supply_a) == pytest.approx(amps, rel=5e-3, abs=1e-9)


def test_an_unbalanced_bridge() -> None:
    """Kuphaldt, Lessons in Electric Circuits, DC, ch. 10, delta to wye (from memory).

    12, 18, 6, 18 and 12 ohm at 10 V: 4.706 V and 5.294 V on the arms, 588.24 mV across.
    """
    plus, minus, left, right = range(4)
    arms = [(plus, left, 12.0), (plus, right, 18.0), (left, right, 6.0), (left, minus, 18.0),
            (right, minus, 12.0)]  # fmt: skip
    found = solve(4, [Resistance(*arm) for arm in arms], [Source(plus, minus, 10.0)])
    volts = [amps * ohm for (_, _, ohm), amps in zip(arms, found.branch_a, strict=True)]
    assert volts == pytest.approx([4.706, 5.294, 0.58824, 5.294, 4.706], abs=5e-4)
    # Once more by hand: from plus to left x, to right 10 - x by symmetry.
    x = 10.0 * (1 / 18 + 1 / 6) / (1 / 12 + 1 / 18 + 2 / 6)
    assert volts[0] == pytest.approx(x, rel=1e-12)


@pytest.mark.parametrize("engines", [1, 2, 5, 20])
def test_a_feeder_loaded_all_along(engines: int) -> None:
    """Handbooks of power distribution (from memory): n equal loads, evenly spaced.

    The drop at the end is that of all the load at (n + 1) / 2n of the length; with many
    loads, half of what it would be at the end.  Here engines of 50 mA on rails of 0.1 ohm/m.
    """
    amps, ohm_m, joiner_ohm, inner_ohm = 0.05, 0.1, 0.001, 0.5
    plan = Plan(assumptions={"rail_ohm_m": ohm_m, "joiner_ohm": joiner_ohm})
    plan.supply(kind="dc", internal_ohm=inner_ohm)
    for n in range(engines + 1):
        plan.straight(f"m{n}", 500.0)
    plan.add("[[feeder]]", name="f", supply="cab", plus="m0/P/north", minus="m0/P/south",
             wire="100 mm2", length="1 mm")  # fmt: skip
    live = LiveCircuit(plan.case().layout, ())
    cells, names = live.network.cells, live.network.layout.nodes
    under = [
        tuple(cell.node for cell in cells[names.index(f"m{n}/P/{rail}")])
        for n in range(1, engines + 1)
        for rail in ("north", "south")
    ]
    volts, (drawn,) = live.settle(under, [Load(amps, 1e3, 0.5)] * engines, [12.0])
    assert drawn == pytest.approx(amps * engines)
    far_v = volts[-1]
    assert far_v is not None
    leads_v = (inner_ohm + 2 * 0.001) * amps * engines
    loop_ohm = 2.0 * (ohm_m * 0.5 + joiner_ohm) * engines
    share = (engines + 1) / (2 * engines)
    assert 12.0 - leads_v - far_v == pytest.approx(amps * engines * loop_ohm * share, rel=1e-6)


# -- resistances between two nodes ------------------------------------------------------


def edges_of(graph: nx.Graph[int]) -> list[Resistance]:
    return [Resistance(a, b, 1.0) for a, b in graph.edges]


PLATONIC = {
    "tetrahedron": (nx.tetrahedral_graph(), {1: (1, 2)}),
    "octahedron": (nx.octahedral_graph(), {1: (5, 12), 2: (1, 2)}),
    "icosahedron": (nx.icosahedral_graph(), {1: (11, 30), 2: (7, 15), 3: (1, 2)}),
    "dodecahedron": (
        nx.dodecahedral_graph(),
        {1: (19, 30), 2: (9, 10), 3: (16, 15), 4: (17, 15), 5: (7, 6)},
    ),
}


@pytest.mark.parametrize("solid", PLATONIC)
def test_the_other_regular_solids(solid: str) -> None:
    """F. J. van Steenwijk, American Journal of Physics 66 (1998), from memory.

    By the number of edges between the corners, 1 ohm each; that of one edge also by
    Foster: (corners - 1) / edges.
    """
    graph, by_distance = PLATONIC[solid]
    assert Fraction(*by_distance[1]) == Fraction(len(graph) - 1, graph.number_of_edges())
    far: dict[int, int] = nx.single_source_shortest_path_length(graph, 0)
    assert set(far.values()) - {0} == set(by_distance)
    for corner, distance in far.items():
        if distance:
            found = between(len(graph), edges_of(graph), 0, corner)
            assert found == pytest.approx(float(Fraction(*by_distance[distance])), rel=1e-12)


@pytest.mark.parametrize("nodes", [2, 3, 7, 30])
def test_everything_joined_to_everything(nodes: int) -> None:
    """Textbook, from memory: 2 / n ohm between any two of n nodes."""
    made = edges_of(nx.complete_graph(nodes))
    assert between(nodes, made, 0, nodes - 1) == pytest.approx(2.0 / nodes, rel=1e-12)


@pytest.mark.parametrize(
    ("right", "up", "ohm"),
    [(1, 0, 0.5), (1, 1, 2 / pi), (2, 0, 2 - 4 / pi), (2, 1, 4 / pi - 0.5)],
)
def test_the_middle_of_a_large_mesh_is_that_of_an_endless_one(
    right: int, up: int, ohm: float
) -> None:
    """Endless square mesh of 1 ohm: 1/2, 2/π, 2 - 4/π, and 4/π - 1/2 a knight's move away.

    J. Cserti, American Journal of Physics 68 (2000), from memory.
    """
    size = 61
    made = edges_of(nx.convert_node_labels_to_integers(nx.grid_2d_graph(size, size)))
    middle = size // 2
    here, there = middle * size + middle, (middle + right) * size + middle + up
    assert between(size * size, made, here, there) == pytest.approx(ohm, abs=3e-3)


@st.composite
def networks(draw: st.DrawFn) -> tuple[int, list[Resistance]]:
    """Two to nine nodes, all joined, with whole numbers of ohms."""
    nodes = draw(st.integers(2, 9))
    ohms = st.integers(1, 40).map(float)
    made = [Resistance(draw(st.integers(0, n - 1)), n, draw(ohms)) for n in range(1, nodes)]
    pairs = st.tuples(st.integers(0, nodes - 1), st.integers(0, nodes - 1))
    more = draw(st.lists(pairs, max_size=12))
    return nodes, made + [Resistance(a, b, draw(ohms)) for a, b in more if a != b]


def weighted(nodes: int, made: Sequence[Resistance]) -> nx.Graph[int]:
    """The same for networkx: parallel resistances added up to one conductance."""
    graph: nx.Graph[int] = nx.empty_graph(nodes)
    for r in made:
        known = graph.get_edge_data(r.a, r.b, {"siemens": 0.0})["siemens"]
        graph.add_edge(r.a, r.b, siemens=known + 1.0 / r.ohm)
    return graph


@settings(max_examples=40, deadline=None)
@given(networks())
def test_resistances_against_networkx(network: tuple[int, list[Resistance]]) -> None:
    """networkx, resistance_distance: by the pseudo-inverse of the Laplacian."""
    nodes, made = network
    graph = weighted(nodes, made)
    for b in range(1, nodes):
        other = nx.resistance_distance(graph, 0, b, weight="siemens", invert_weight=False)
        assert isinstance(other, float)
        assert between(nodes, made, 0, b) == pytest.approx(other, rel=1e-8)


@settings(max_examples=30, deadline=None)
@given(networks())
def test_resistances_from_counting_trees(network: tuple[int, list[Resistance]]) -> None:
    """G. Kirchhoff 1847: trees of the network with both nodes made one, over its trees.

    Counted by networkx, each tree with the product of its conductances.
    """
    nodes, made = network
    graph = weighted(nodes, made)
    trees = nx.number_of_spanning_trees(graph, weight="siemens")
    joined: nx.Graph[int] = nx.empty_graph(nodes - 1)
    last = nodes - 1
    for a, b, data in graph.edges(data=True):
        siemens = float(data["siemens"])
        one, other = (0 if n == last else n for n in (a, b))
        if one != other:
            known = joined.get_edge_data(one, other, {"siemens": 0.0})["siemens"]
            joined.add_edge(one, other, siemens=known + siemens)
    merged = nx.number_of_spanning_trees(joined, weight="siemens") if nodes > 2 else 1.0
    assert between(nodes, made, 0, last) == pytest.approx(merged / trees, rel=1e-8)


@settings(max_examples=30, deadline=None)
@given(networks())
def test_volts_are_chances_of_a_random_walk(network: tuple[int, list[Resistance]]) -> None:
    """P. G. Doyle and J. L. Snell, Random Walks and Electric Networks (1984), from memory.

    With 1 V at one node and 0 V at another the volts anywhere are the chance that a walk
    from there, taking each way in proportion to its conductance, comes to the first first.
    """
    nodes, made = network
    graph = weighted(nodes, made)
    step = nx.to_numpy_array(graph, nodelist=range(nodes), weight="siemens")
    step /= step.sum(axis=1, keepdims=True)
    step[[0, nodes - 1]] = np.eye(nodes)[[0, nodes - 1]]
    walk = np.linalg.matrix_power(step, 1 << 24)  # for as good as ever
    found = solve(nodes, made, [Source(0, nodes - 1, 1.0)])
    volts = found.volts - found.volts[nodes - 1]
    assert volts.tolist() == pytest.approx(walk[:, 0].tolist(), abs=1e-6)


@settings(max_examples=40, deadline=None)
@given(networks(), st.data())
def test_reciprocity(network: tuple[int, list[Resistance]], data: st.DataObject) -> None:
    """Reciprocity theorem (textbook): an ampere here gives there what one there gives here."""
    nodes, made = network
    pick = st.integers(0, nodes - 1)
    a, b, c, d = (data.draw(pick) for _ in range(4))
    one, other = (
        solve(nodes, made, drains=[Drain(low, high, 1.0)]).volts
        for high, low in ((a, b), (c, d))
    )
    assert one[c] - one[d] == pytest.approx(other[a] - other[b], rel=1e-9, abs=1e-9)


@settings(max_examples=40, deadline=None)
@given(networks(), st.data())
def test_more_ohms_anywhere_are_never_fewer_between_two_places(
    network: tuple[int, list[Resistance]], data: st.DataObject
) -> None:
    """Rayleigh's monotonicity law; Doyle and Snell as above, from memory."""
    nodes, made = network
    worn = data.draw(st.integers(0, len(made) - 1))
    r = made[worn]
    tired = [*made[:worn], Resistance(r.a, r.b, r.ohm + 20.0), *made[worn + 1 :]]
    before, after = (between(nodes, m, 0, nodes - 1) for m in (made, tired))
    assert after >= before * (1 - 1e-9)
    # ... nor by more than what was added.
    assert after - before <= 20.0 + 1e-9


# -- motors ----------------------------------------------------------------------------


@pytest.mark.parametrize("way", [operating_point, by_equations])
@pytest.mark.parametrize(
    ("back_v", "amps", "watts_in", "watts_lost"),
    [(0.0, 37.5, 4500.0, 4500.0), (44.0, 23.75, 2850.0, 1805.0), (88.0, 10.0, 1200.0, 320.0)],
)
def test_a_series_wound_motor(
    way: object, back_v: float, amps: float, watts_in: float, watts_lost: float
) -> None:
    """OpenStax University Physics 2, ch. 13, a motor in operation (from memory).

    3.20 ohm at 120 V: 10.0 A and a back-EMF of 88 V at full speed, half of it at half
    speed, none and 37.5 A at rest.
    """
    assert amps == pytest.approx((120.0 - back_v) / 3.2)
    ports = Ports([[3.2, 0.0], [0.0, 0.0]], [[1.0], [0.0]], [[0.0]], [0, 0], {0: (0,)})
    load = Load(amps, 1e-9, 1e-6) if back_v else Load(ohm=1e-9)
    found = way(ports, [[0], [1]], [load], [120.0])  # type: ignore[operator]
    assert found.volts[0] == pytest.approx(back_v, abs=1e-6)
    assert found.added_a == pytest.approx((amps,))
    assert 120.0 * found.added_a[0] == pytest.approx(watts_in)
    assert found.added_a[0] * (120.0 - found.volts[0]) == pytest.approx(watts_lost)


@settings(max_examples=40, deadline=None)
@given(st.floats(1.0, 24.0), st.floats(0.1, 50.0), st.floats(0.01, 100.0))
def test_no_load_takes_more_power_than_one_of_the_resistance_of_the_supply(
    volts: float, inner_ohm: float, ratio: float
) -> None:
    """M. H. Jacobi's theorem of greatest power, V² / 4R (textbook, from memory)."""
    ports = Ports([[inner_ohm, 0.0], [0.0, 0.0]], [[1.0], [0.0]], [[0.0]], [0, 0], {0: (0,)})
    watts = []
    for ohm in (inner_ohm, inner_ohm * ratio):
        found = operating_point(ports, [[0], [1]], [Load(ohm=ohm)], [volts])
        assert found.volts[0] is not None
        watts.append(found.volts[0] * found.added_a[0])
    assert watts[0] == pytest.approx(volts**2 / (4 * inner_ohm), rel=1e-9)
    assert watts[1] <= watts[0] * (1 + 1e-9)
