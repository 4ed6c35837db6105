"""The reduced network against the plain solution of the whole, in any state."""

from __future__ import annotations

from dataclasses import replace
from functools import cache
from math import inf
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from sim.circuit.live import LiveCircuit
from sim.circuit.network import RAIL, Network, build_network
from sim.circuit.nodal import Resistance, Solution
from sim.circuit.operating_point import Load, settle, settle_by_equations
from sim.circuit.reduction import Ports, Reduction
from sim.circuit.voltage_drop import solve_network
from sim.layout.assemble import assemble
from sim.layout.model import Layout
from sim.scenario.read import read_scenario
from tests.run.plans import Plan

LOOPS = Path(__file__).parents[1] / "command" / "loops.toml"
WELL_FED = Path(__file__).parents[2] / "scenarios" / "well-fed.toml"


@cache
def network() -> Network:
    return build_network(assemble(read_scenario(LOOPS)).layout)


def closed_contacts(net: Network, bits: int) -> list[int]:
    contacts = [net.branches[b].element for b in sorted(net.contacts)]
    return [e for k, e in enumerate(contacts) if bits >> k & 1]


def reduced(net: Network, closed: list[int], on: tuple[bool, ...]) -> Reduction:
    reduction = Reduction(net)
    reduction.set(
        {b: net.branches[b].ohm if net.branches[b].element in closed else None
         for b in net.contacts}
    )  # fmt: skip
    for supply, gives in enumerate(on):
        reduction.switch(supply, gives)
    return reduction


states = st.tuples(st.integers(0, 255), st.tuples(st.booleans(), st.booleans()))


@settings(max_examples=25, deadline=None)
@given(states)
def test_open_volts_and_islands(state: tuple[int, tuple[bool, bool]]) -> None:
    """Each pair of places of one island differs by the same volts either way."""
    net, (bits, on) = network(), state
    closed = closed_contacts(net, bits)
    stations = net.stations()
    ports = reduced(net, closed, on).ports(stations)
    plain = solve_network(net, closed, [12.0, 12.0], on, {})
    volts = [sum(share) * 12.0 for share in ports.share]
    for i, a in enumerate(stations):
        head = ports.island[i]
        same = [j for j, b in enumerate(stations) if plain.island[b] == plain.island[a]]
        assert same == [j for j, h in enumerate(ports.island) if h == head]
        for j in same:
            expected = plain.volts[a] - plain.volts[stations[j]]
            assert volts[i] - volts[j] == pytest.approx(expected, abs=1e-8)
    bare = [sum(row) * 12.0 for row in ports.short_a]
    assert bare == pytest.approx(plain.source_a.tolist(), abs=1e-6)


def loaded(
    net: Network, closed: list[int], on: tuple[bool, ...], sides: list[list[int]],
    loads: list[Load], currents: dict[int, float],
) -> Solution:  # fmt: skip
    """The same with the plain solver: joins as 1 mΩ each, motors as ohms or currents."""
    extra: list[Resistance] = []
    drawn: dict[int, float] = {}
    hub = len(net.names)
    for unit, load in enumerate(loads):
        ends = []
        for side in (sides[2 * unit], sides[2 * unit + 1]):
            if len(side) > 1:
                extra += [Resistance(n, hub, 1e-3) for n in side]
                ends.append(hub)
                hub += 1
            else:
                ends.append(side[0])
        if unit in currents:
            drawn[ends[0]] = drawn.get(ends[0], 0.0) + currents[unit]
            drawn[ends[1]] = drawn.get(ends[1], 0.0) - currents[unit]
        elif load.ohm < inf:
            extra.append(Resistance(ends[0], ends[1], load.ohm))
    wide = Network(**{
        **{k: getattr(net, k) for k in net.__slots__},
        "names": net.names + ("hub",) * (hub - len(net.names)),
    })  # fmt: skip
    return solve_network(wide, closed, [12.0, 12.0], on, drawn, extra)


@settings(max_examples=40, deadline=None)
@given(states, st.data())
def test_loads_and_joins(state: tuple[int, tuple[bool, bool]], data: st.DataObject) -> None:
    """Volts at every motor and amps of every supply, with vehicles across gaps.

    Kirchhoff's laws and the balance of power hold for the plain solution (its own
    tests); here the reduced one must be the same.
    """
    net, (bits, on) = network(), state
    closed = closed_contacts(net, bits)
    stations = net.stations()
    pick = st.sampled_from(stations)
    sides: list[list[int]] = []
    loads: list[Load] = []
    for _ in range(data.draw(st.integers(1, 3))):
        sides += [data.draw(st.lists(pick, min_size=1, max_size=2, unique=True)) for _ in "lr"]
        loads.append(
            data.draw(
                st.sampled_from([Load(), Load(ohm=7.5), Load(ohm=30.0), Load(0.1, 20.0, 2.0)])
            )
        )
    ports = reduced(net, closed, on).ports(stations)
    row = {n: k for k, n in enumerate(stations)}
    found = settle(ports, [[row[n] for n in side] for side in sides], loads, [12.0, 12.0])
    currents = {}
    for unit, load in enumerate(loads):
        volts = found.volts[unit]
        if load.amps and volts is not None and abs(volts) > load.above_v:
            currents[unit] = load.amps if volts > 0 else -load.amps
        elif volts is None:
            loads[unit] = Load()  # no way back: checked below
    plain = loaded(net, closed, on, sides, loads, currents)
    hub = len(net.names)
    for unit, volts in enumerate(found.volts):
        ends = []
        for side in (sides[2 * unit], sides[2 * unit + 1]):
            ends.append(hub if len(side) > 1 else side[0])
            hub += len(side) > 1
        if volts is None:
            assert plain.island[ends[0]] != plain.island[ends[1]]
        else:
            expected = plain.volts[ends[0]] - plain.volts[ends[1]]
            assert volts == pytest.approx(expected, abs=1e-6)
    bare = np.array([sum(r) * 12.0 for r in ports.short_a])
    amps = bare + np.array(found.added_a)
    assert amps.tolist() == pytest.approx(plain.source_a.tolist(), abs=1e-5)


@settings(max_examples=20, deadline=None)
@given(st.lists(st.integers(0, 255), min_size=2, max_size=6), st.data())
def test_brought_up_to_date_is_as_good_as_new(bits: list[int], data: st.DataObject) -> None:
    """A reduction that has been through other states answers like one that has not."""
    net = network()
    kept = Reduction(net)
    for number in bits:
        closed = closed_contacts(net, number)
        kept.set(
            {b: net.branches[b].ohm if net.branches[b].element in closed else None
             for b in net.contacts}
        )  # fmt: skip
        nodes = data.draw(
            st.lists(st.sampled_from(net.stations()), min_size=1, max_size=9, unique=True)
        )
        fresh = reduced(net, closed, (True, True)).ports(nodes)
        assert_same(kept.ports(nodes), fresh)


def assert_same(one: Ports, other: Ports) -> None:
    for field in ("ohm", "share", "short_a"):
        a, b = np.array(getattr(one, field)), np.array(getattr(other, field))
        assert np.allclose(a, b, rtol=1e-9, atol=1e-9)
    assert one.island == other.island


def test_permanent_elements_can_change_too() -> None:
    net = network()
    reduction = reduced(net, [], (True, True))
    joiner = next(
        b for e, b in net.branch_of.items() if net.layout.elements[e].id.endswith("east-north")
    )
    pair = [net.branches[joiner].a, net.branches[joiner].b]

    def between() -> float:
        ohm = reduction.ports(pair).ohm
        return ohm[0][0] + ohm[1][1] - 2 * ohm[0][1]

    before = between()
    reduction.set({joiner: 10.0})
    # The long way round a ring is left: a metre or two of rail.
    assert before < 0.005 < between() < 0.5
    reduction.set({joiner: net.branches[joiner].ohm})
    assert between() == pytest.approx(before, rel=1e-9)


def test_a_bus_wire_can_change_though_no_module_has_it() -> None:
    """As if the network had been built with the worn wires."""
    net = build_network(assemble(read_scenario(WELL_FED)).layout)
    reduction = Reduction(net)
    bus = [net.branch_of[e] for e, x in enumerate(net.layout.elements) if x.kind == "bus"]
    pair = [net.cells[n][0].node for n in (0, 1)]

    def loop(of: Reduction) -> float:
        ohm = of.ports(pair).ohm
        return ohm[0][0] + ohm[1][1] - 2 * ohm[0][1]

    before = loop(reduction)
    assert bus and all(reduction.plan.leaf_of[b] < 0 for b in bus)
    worn = [replace(x, ohm=25.0) if b in bus else x for b, x in enumerate(net.branches)]
    reduction.set(dict.fromkeys(bus, 25.0))
    assert loop(reduction) > before + 0.01
    assert loop(reduction) == pytest.approx(
        loop(Reduction(replace(net, branches=tuple(worn)))), rel=1e-9
    )
    reduction.set({b: net.branches[b].ohm for b in bus})
    assert loop(reduction) == pytest.approx(before, rel=1e-9)


def test_a_straight_is_as_long_as_its_rail() -> None:
    """Two ends of an 800 mm rail: 0.8 m at 57 mΩ/m (common practice, no source)."""
    net = network()
    rail = [b for b in net.branches if b.element == RAIL]
    name = net.layout.nodes.index("west/A/north")
    own = [b.ohm for b in rail if net.section[b.a] == name]
    assert sum(own) == pytest.approx(0.8 * 0.057, rel=1e-9)


def test_lone_sections_and_no_supply_at_all() -> None:
    layout: Layout = Plan().straight("a", 100.0).case().layout
    live = LiveCircuit(layout, ())
    cells = [live.network.cells[n][0].node for n in range(2)]
    volts, amps = live.settle([(cells[0],), (cells[1],)], [Load(ohm=7.5)], [])
    assert volts == [None]
    assert amps == []


def test_a_load_as_in_the_books() -> None:
    """115 V, 5.35 ohm at start: 21.5 A; 6.5 A running (physics problem books)."""
    ports = Ports([[1.0, 1.0], [1.0, 1.0]], [[1.0], [0.0]], [[0.0]], [0, 0], {0: (0,)})
    held = settle(ports, [[0], [1]], [Load(ohm=115 / 21.5)], [115.0])
    assert held.added_a == pytest.approx((21.5,))
    runs = settle(ports, [[0], [1]], [Load(6.5, 115 / 21.5, 1.0)], [115.0])
    assert runs.added_a == pytest.approx((6.5,))


@settings(max_examples=60, deadline=None)
@given(
    st.lists(st.floats(0.01, 5.0), min_size=6, max_size=6),
    st.lists(st.floats(0.05, 3.0), min_size=2, max_size=2),
    st.floats(-16.0, 16.0),
)
def test_adding_up_is_what_the_equations_say(
    ohms: list[float], amps: list[float], volts: float
) -> None:
    """Two engines on one feeder: the short cut and the equations are twins."""
    a, b, c, d, e, f = ohms
    # Ports 0 and 2 on the rail of the plus pole, 1 and 3 on the other one.
    matrix = [
        [a, 0.0, a, 0.0],
        [0.0, b, 0.0, b],
        [a, 0.0, a + c + e, 0.0],
        [0.0, b, 0.0, b + d + f],
    ]
    ports = Ports(matrix, [[1.0], [0.0], [1.0], [0.0]], [[0.0]], [0, 0, 0, 0], {0: (0,)})
    loads = [Load(amps[0], 7.5, 2.0), Load(amps[1], 7.5, 2.0)]
    sides = [[0], [1], [2], [3]]
    quick, slow = (way(ports, sides, loads, [volts]) for way in (settle, settle_by_equations))
    assert quick.volts == pytest.approx(slow.volts, rel=1e-9, abs=1e-9)
    assert quick.added_a == pytest.approx(slow.added_a, rel=1e-9, abs=1e-9)
    assert quick.port_a == pytest.approx(slow.port_a, rel=1e-9, abs=1e-9)


def test_a_supply_gives_its_current_whichever_pole_is_grounded() -> None:
    # The first port lies on the grounded pole and has exactly no volts of the supply.
    for plus, minus in (("a/P/north", "a/P/south"), ("a/P/south", "a/P/north")):
        plan = Plan().supply(internal_ohm=0.1).straight("a", 50.0).feed(plus, minus)
        layout = plan.case().layout
        circuit = LiveCircuit(layout, range(len(layout.elements)))
        coin = [(0, 1), (0,)]  # joins both rails
        amps = circuit.settle(coin, [Load()], [12.0])[1]
        wires_ohm = sum(e.resistance_ohm or 0.0 for e in layout.elements)
        assert amps == [
            pytest.approx(12.0 / (0.1 + wires_ohm), rel=0.02)
        ]  # and some mm of rail
