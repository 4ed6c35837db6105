"""Tired parts: by hand, and against a network built anew for every one of them."""

from __future__ import annotations

from dataclasses import replace
from itertools import product
from pathlib import Path

import pytest

from sim.analyses.survey.tired import TIRED, TiredHarm, tired_changes, tired_survey
from sim.circuit.measure import is_set, spots_of, starting_train
from sim.circuit.network import build_network
from sim.circuit.reduction import Reduction
from sim.layout.assemble import assemble
from sim.layout.traffic import Case
from sim.power.graph import closed_elements
from sim.power.poles import sources_of
from sim.power.trace import trace
from tests.checked import read_scenario
from tests.faults.layouts import case, plain
from tests.run.plans import Plan

SCENARIOS = Path(__file__).parents[2] / "scenarios"
#: power.md of the design calls it the tired contact: 10 V, 25 ohm, 3 V and 0.4 A to start.
ENGINE = {"start_voltage_v": 3.0, "starting_a": 0.4, "running_a": 0.1}


def ring(volts: float = 10.0) -> Plan:
    """A ring with a live-frog turnout beyond which one rail hangs on its contact."""
    plan = Plan(60.0, assumptions={"rail_ohm_m": 1e-9, "joiner_ohm": 1e-9})
    plan.supply(kind="dc", voltage_v=volts, internal_ohm=1e-6)
    plan.straight("a", 800.0, "cab")
    plan.turnout("t", "through", family="live frog")
    plan.straight("b", 400.0).straight("c", 800.0, "cab")
    plan.add("[[gap]]", at="b/P/east")
    return plan.train(motor=ENGINE)


def by_id(found: tuple[TiredHarm, ...]) -> dict[str, TiredHarm]:
    return {h.id: h for h in found}


def test_by_its_numbers() -> None:
    """10 * 7.5 / 32.5 = 2.3 V of the 3 V that it needs (by hand); 14 V would do."""
    found = tired_survey(ring().case(), 25.0)
    harm = by_id(found.harms)["t/P/through: contact tired"]
    assert harm.volts == pytest.approx(10 * 7.5 / 32.5, abs=0.005)  # and the feeder
    assert harm.needs == 3.0
    assert ("b/P/west-east", 1) in harm.routes
    assert found.ohm == 25.0
    assert found.whose == "yours"
    assert "t/P/through: contact tired" not in by_id(
        tired_survey(ring(14.0).case(), 25.0).harms
    )


def test_a_part_with_a_way_round_stops_nothing() -> None:
    round_it = '[[jumper]]\nname = "way round"\nfrom = "one/P/north"\nto = "two/P/north"\n'
    alone = by_id(tired_survey(case(plain()), 1000.0).harms)
    beside = by_id(tired_survey(case(plain(round_it)), 1000.0).harms)
    assert "one/P/joiner-east-north: joiner tired" in alone
    assert "one/P/joiner-east-north: joiner tired" not in beside
    assert "one/P/joiner-east-south: joiner tired" in beside


def test_a_fault_of_the_scenario_has_its_own_ohms() -> None:
    rule = (
        '[[fault]]\non = "one/P/joiner-east-north"\nwhat = "tired"\n'
        'chance = 0.1\nper = "run"\nohm = 900\n'
    )
    found = by_id(tired_survey(case(plain(rule)), 0.5).harms)
    assert {h.ohm for h in found.values()} == {900.0}
    assert list(found) == ["one/P/joiner-east-north: joiner tired"]


def starts(case: Case, positions: tuple[int, ...]) -> dict[tuple[int, int, int], bool]:
    """By place (route and the nodes of both rails): whether the train starts there."""
    layout = case.layout
    network = build_network(layout)
    reduction = Reduction(network)
    reduction.set(network.closed(positions))
    traced = trace(layout, [positions])
    spots = [
        s
        for s in spots_of(network)
        if is_set(layout, s.route, positions) and traced.verdicts(s.left, s.right).get(None, 0)
    ]
    nodes = list(dict.fromkeys(n for s in spots for n in (s.left_node, s.right_node)))
    ports = reduction.ports(nodes)
    row = {n: k for k, n in enumerate(nodes)}
    volts = [s.volts for s in sources_of(layout.supplies)]
    train, digital = starting_train(case), layout.supplies[0].kind == "digital"
    told = {}
    for s in spots:
        a, b = row[s.left_node], row[s.right_node]
        shares = zip(ports.share[a], ports.share[b], volts, strict=True)
        open_v = abs(sum((x - y) * v for x, y, v in shares))
        if open_v >= 1e-6:
            loop = ports.ohm[a][a] + ports.ohm[b][b] - 2 * ports.ohm[a][b]
            if digital:
                enough = open_v - train.amps * loop >= 7.0 - 1e-5  # NMRA S-9.1
            else:
                enough = open_v * train.ohm / (train.ohm + loop) >= 3.0 - 1e-5
            told[s.route, s.left_node, s.right_node] = enough
    return told


def built_anew(built: Case, element: int, ohm: float) -> set[tuple[str, int]]:
    """Routes and settings in which the train starts everywhere, but not with that part."""
    layout = built.layout
    elements = list(layout.elements)
    elements[element] = replace(elements[element], resistance_ohm=ohm)
    worn = replace(built, layout=replace(layout, elements=tuple(elements)))
    lost = set()
    for k, positions in enumerate(product(*(range(len(v.positions)) for v in layout.levers))):
        if element in set(closed_elements(layout, positions)):
            good, bad = starts(built, positions), starts(worn, positions)
            lost |= {
                (layout.routes[place[0]].id, k)
                for place, enough in good.items()
                if enough and not bad.get(place, False)
            }
    return lost


@pytest.mark.parametrize("name", ["branch-terminus", "well-fed"])
def test_as_if_the_network_was_built_anew(name: str) -> None:
    """Levers by themselves, every part that can get tired, two worths of it."""
    built = assemble(read_scenario(SCENARIOS / f"{name}.toml"), None)
    for ohm in (4.0, 20.0):
        found = by_id(tired_survey(built, ohm, each=True).harms)
        for e, element in enumerate(built.layout.elements):
            if element.kind not in TIRED or e % 3:
                continue
            expected = built_anew(built, e, ohm)
            harm = found.get(f"{element.id}: {TIRED[element.kind]}")
            got = 0 if harm is None else harm.lost
            assert got == len(expected), (element.id, ohm)


def test_a_fix_cures_tired_parts_and_brings_its_own() -> None:
    scenario = read_scenario(SCENARIOS / "loose-gang.toml")
    before = tired_survey(assemble(scenario, None))
    after = tired_survey(assemble(scenario, "two jumpers"))
    change = tired_changes(before, after)
    assert change.fix == "two jumpers"
    assert "back/A/joiner-east-south: joiner tired" in change.cured
    assert change.worse == ()
    assert len(change.after.harms) == len(change.before.harms) - len(change.cured)


def test_what_is_too_large_is_said(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("sim.analyses.survey.tired.PLACES_AT_MOST", 3)
    found = tired_survey(case(plain()))
    assert found.harms == ()
    assert "too large" in found.skipped[0]
