"""The plain nodal solution against textbooks, and its limits."""

from __future__ import annotations

import math
from fractions import Fraction
from itertools import combinations, product

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from sim.circuit.nodal import CircuitError, Drain, Resistance, Source, solve


def between(nodes: int, resistances: list[Resistance], a: int, b: int) -> float:
    """Resistance between two nodes: the volts that one ampere needs."""
    found = solve(nodes, resistances, drains=[Drain(b, a, 1.0)])
    return float(found.volts[a] - found.volts[b])


def test_cube_of_one_ohm() -> None:
    """Edge 7/12, face diagonal 3/4, body diagonal 5/6 (textbook, from memory)."""
    corners = list(product((0, 1), repeat=3))
    number = {c: k for k, c in enumerate(corners)}
    edges = [
        Resistance(number[a], number[b], 1.0)
        for a, b in combinations(corners, 2)
        if sum(x != y for x, y in zip(a, b, strict=True)) == 1
    ]
    assert len(edges) == 12
    here = number[0, 0, 0]
    assert between(8, edges, here, number[1, 0, 0]) == pytest.approx(7 / 12, rel=1e-12)
    assert between(8, edges, here, number[1, 1, 0]) == pytest.approx(3 / 4, rel=1e-12)
    assert between(8, edges, here, number[1, 1, 1]) == pytest.approx(5 / 6, rel=1e-12)


def mesh(size: int) -> list[Resistance]:
    return [
        Resistance(r * size + c, (r + dr) * size + c + dc, 1.0)
        for r in range(size)
        for c in range(size)
        for dr, dc in ((0, 1), (1, 0))
        if r + dr < size and c + dc < size
    ]


def test_mesh_of_ten_by_ten() -> None:
    """Rosetta Code, "Resistor mesh": between (1, 1) and (7, 6), counted from 0."""
    exact = Fraction(455859137025721, 283319837425200)
    assert between(100, mesh(10), 11, 76) == pytest.approx(float(exact), rel=1e-12)


def test_wheatstone_bridge() -> None:
    """NCERT Physics XII, worked example: 4/821 A through the bridge."""
    a, b, c, d = range(4)
    arms = [(a, b, 100.0), (b, c, 10.0), (c, d, 5.0), (d, a, 60.0), (b, d, 15.0)]
    found = solve(4, [Resistance(*arm) for arm in arms], [Source(a, c, 10.0)])
    assert abs(found.branch_a[4]) == pytest.approx(4 / 821, rel=1e-12)


def test_ladder_goes_to_the_golden_ratio() -> None:
    """2, 5/3, 13/8, 34/21 … (textbook, from memory)."""
    expected = [Fraction(2), Fraction(5, 3), Fraction(13, 8), Fraction(34, 21)]
    for rungs, value in enumerate(expected, start=1):
        assert ladder(rungs) == pytest.approx(float(value), rel=1e-12)
    assert ladder(30) == pytest.approx((1 + math.sqrt(5)) / 2, rel=1e-12)


def ladder(rungs: int) -> float:
    made = []
    for k in range(rungs):
        made += [Resistance(k, k + 1, 1.0), Resistance(k + 1, rungs + 1, 1.0)]
    return between(rungs + 2, made, 0, rungs + 1)


ohms = st.floats(0.01, 1000.0)


@st.composite
def connected(draw: st.DrawFn) -> tuple[int, list[Resistance]]:
    nodes = draw(st.integers(2, 12))
    made = [Resistance(draw(st.integers(0, n - 1)), n, draw(ohms)) for n in range(1, nodes)]
    for _ in range(draw(st.integers(0, 15))):
        a, b = draw(st.integers(0, nodes - 1)), draw(st.integers(0, nodes - 1))
        if a != b:
            made.append(Resistance(a, b, draw(ohms)))
    return nodes, made


@settings(max_examples=40, deadline=None)
@given(connected())
def test_foster_sum(network: tuple[int, list[Resistance]]) -> None:
    """R. M. Foster 1949 (from memory): the sum of R_eff / R over all edges is n - 1."""
    nodes, made = network
    total = sum(between(nodes, made, r.a, r.b) / r.ohm for r in made)
    assert total == pytest.approx(nodes - 1, rel=1e-9)


@settings(max_examples=60, deadline=None)
@given(connected(), st.data())
def test_currents_and_powers_balance(
    network: tuple[int, list[Resistance]], data: st.DataObject
) -> None:
    """Kirchhoff's current law, and as much power delivered as dissipated."""
    nodes, made = network
    pick = st.integers(0, nodes - 1)
    sources = [
        Source(data.draw(pick), data.draw(pick), data.draw(st.floats(-24, 24)), data.draw(ohms))
        for _ in range(data.draw(st.integers(0, 3)))
    ]
    drains = [
        Drain(data.draw(pick), data.draw(pick), data.draw(st.floats(-2, 2)))
        for _ in range(data.draw(st.integers(0, 3)))
    ]
    zero = data.draw(st.lists(st.integers(0, len(made) - 1), max_size=3))
    made = [Resistance(r.a, r.b, 0.0) if k in zero else r for k, r in enumerate(made)]
    found = solve(nodes, made, sources, drains)
    net = np.zeros(nodes)
    for r, amps in zip(made, found.branch_a, strict=True):
        net[r.a] -= amps
        net[r.b] += amps
    for s, amps in zip(sources, found.source_a, strict=True):
        net[s.plus] += amps
        net[s.minus] -= amps
    for d in drains:
        net[d.a] -= d.amps
        net[d.b] += d.amps
    assert np.abs(net).max() < 1e-8
    given_w = sum(s.volts * a for s, a in zip(sources, found.source_a, strict=True))
    heat_w = sum(r.ohm * a * a for r, a in zip(made, found.branch_a, strict=True))
    heat_w += sum(s.ohm * a * a for s, a in zip(sources, found.source_a, strict=True))
    load_w = sum(d.amps * (found.volts[d.a] - found.volts[d.b]) for d in drains)
    # loads of either sign may add up to next to nothing: the heat says how much is moved
    assert given_w - load_w == pytest.approx(heat_w, rel=1e-9, abs=1e-7)


def test_isolated_supplies_stay_isolated() -> None:
    """Joined by one pole: no current flows between them, and no reference is invented."""
    two = [Source(0, 1, 12.0, 0.5), Source(2, 3, 9.0, 0.5)]
    found = solve(4, [Resistance(0, 2, 0.1), Resistance(0, 1, 100.0)], two)
    assert found.branch_a[0] == pytest.approx(0.0, abs=1e-12)
    assert found.source_a[1] == pytest.approx(0.0, abs=1e-12)
    assert len(set(found.island)) == 1
    apart = solve(4, [], two)
    assert apart.island == (0, 0, 1, 1)
    assert apart.volts[2] - apart.volts[3] == pytest.approx(9.0)


def test_values_at_the_edges_give_an_answer() -> None:
    """Zero, open, tiny and enormous resistances."""
    twelve = [Source(0, 2, 12.0, 1.0)]
    metal = solve(3, [Resistance(0, 1, 0.0), Resistance(1, 2, 5.0)], twelve)
    assert metal.branch_a.tolist() == pytest.approx([2.0, 2.0])
    shared = solve(2, [Resistance(0, 1, 0.0)] * 2, [Source(0, 1, 12.0, 1.0)])
    assert shared.branch_a.tolist() == pytest.approx([6.0, 6.0])
    broken = solve(3, [Resistance(0, 1, math.inf), Resistance(1, 2, 5.0)], twelve)
    assert broken.branch_a.tolist() == [0.0, 0.0]
    tiny = solve(3, [Resistance(0, 1, 1e-12), Resistance(1, 2, 5.0)], twelve)
    assert tiny.branch_a[1] == pytest.approx(2.0)
    huge = solve(3, [Resistance(0, 1, 1e12), Resistance(1, 2, 5.0)], twelve)
    assert huge.branch_a[1] == pytest.approx(12e-12, rel=1e-6)
    both = solve(
        4,
        [Resistance(0, 1, 1e-12), Resistance(1, 3, 1e12), Resistance(3, 2, 1e-12)],
        twelve,
    )
    assert both.branch_a[1] == pytest.approx(12e-12, rel=1e-6)


@settings(max_examples=60, deadline=None)
@given(
    st.lists(
        st.one_of(st.just(0.0), st.just(math.inf), st.floats(-15, 15)), min_size=5, max_size=5
    )
)
def test_any_values_give_a_number_or_a_named_error(powers: list[float]) -> None:
    ends = [(0, 1), (1, 2), (2, 3), (1, 3), (0, 2)]
    made = [
        Resistance(a, b, p if p in (0.0, math.inf) else 10.0**p)
        for (a, b), p in zip(ends, powers, strict=True)
    ]
    try:
        found = solve(4, made, [Source(0, 3, 12.0, 0.5)])
    except CircuitError as error:
        assert str(error)
        return
    assert np.isfinite(found.volts).all()
    assert np.isfinite(found.branch_a).all()
    assert np.isfinite(found.source_a).all()


@pytest.mark.parametrize(
    ("made", "sources", "drains", "says"),
    [
        ([Resistance(0, 1, -1.0)], [], [], "0 ohm or more"),
        ([Resistance(0, 1, math.nan)], [], [], "0 ohm or more"),
        ([Resistance(0, 5, 1.0)], [], [], "nodes from 0 to 1"),
        ([], [Source(0, 1, math.inf)], [], "expected a supply"),
        ([], [], [Drain(0, 1, math.nan)], "expected a current"),
        ([], [], [Drain(0, 1, 1.0)], "no way back"),
        ([Resistance(0, 1, 0.0)], [Source(0, 1, 12.0)], [], "internal resistance"),
        ([], [Source(0, 1, 12.0), Source(0, 1, 12.0)], [], "internal resistance"),
    ],
)  # fmt: skip
def test_named_errors(
    made: list[Resistance], sources: list[Source], drains: list[Drain], says: str
) -> None:
    with pytest.raises(CircuitError, match=says):
        solve(2, made, sources, drains)


def test_motor_with_back_emf() -> None:
    """115 V, 6.5 A running, 21.5 A at start: 5.35 ohm, 80.2 V (physics problem books)."""
    ohm = 115.0 / 21.5
    assert ohm == pytest.approx(5.35, abs=0.005)
    back_v = 115.0 - 6.5 * ohm
    assert back_v == pytest.approx(80.2, abs=0.05)
    found = solve(2, [], [Source(0, 1, 115.0), Source(0, 1, back_v, ohm)])
    assert -found.source_a[1] == pytest.approx(6.5)


def test_motor_that_is_held() -> None:
    """6.00 V, back-EMF 4.50 V, 3.00 A: 0.5 ohm; 12 A when held (OpenStax, ch. 23)."""
    turning = solve(2, [], [Source(0, 1, 6.0), Source(0, 1, 4.5, 0.5)])
    held = solve(2, [], [Source(0, 1, 6.0), Source(0, 1, 0.0, 0.5)])
    assert -turning.source_a[1] == pytest.approx(3.0)
    assert -held.source_a[1] == pytest.approx(12.0)
