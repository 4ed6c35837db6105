"""Every fault set in every setting, against a union-find pass for each state."""

from __future__ import annotations

import pytest

from sim.analyses.survey.harm import Bad, PartFaults
from sim.analyses.survey.states import Blocks, FaultSet, Grid, fault_sets, faults_of, grid
from sim.layout.model import Layout
from sim.power.parts import Part, parts_of
from tests.faults.layouts import FOUR, HEAD, TWO, case, loops
from tests.faults.twin import Twin
from tests.pieces.cases import SLIP_FAMILIES


def _plain(faults: FaultSet) -> list[tuple[str, int, int]]:
    return [(f.kind, f.index, f.turn) for f in faults]


def _bit(blocks: Blocks, q: int, k: int) -> bool:
    return bool(blocks[q, k // 8] >> (k % 8) & 1)


def _compare(layout: Layout, states: Grid, bad: Bad) -> int:
    """States compared; every route and short of each must be what the twin says."""
    twin = Twin(layout)
    for q, faults in enumerate(states.sets):
        for k, asked in enumerate(states.settings):
            twin.nets(asked, _plain(faults))
            assert _bit(bad.short, q, k) == bool(twin.short_supplies()), (faults, asked)
            for route, state, blocks in zip(
                layout.routes, twin.routes(), bad.dead, strict=True
            ):
                is_asked = all(asked[p.lever] == p.position for p in route.points)
                assert _bit(blocks, q, k) == (is_asked and state != "live"), (
                    faults,
                    asked,
                    route.id,
                )
    return len(states.sets) * len(states.settings)


def _part(text: str, each: bool = False) -> Part:
    (part,) = parts_of(case(text), each).parts
    return part


@pytest.mark.parametrize("more", ["", TWO, FOUR], ids=["as built", "two", "four"])
@pytest.mark.parametrize("gangs", ["all", "per diagonal"])
def test_single_faults_of_a_live_frog_scissors(gangs: str, more: str) -> None:
    part = _part(loops(gangs=gangs) + more)
    faults = faults_of(part.layout)
    states = grid(part.own_settings, fault_sets(faults, 1))
    bad = PartFaults(part.layout, part.own_settings, faults).bad(states)
    assert _compare(part.layout, states, bad) == (1 + len(faults)) * len(part.own_settings)


@pytest.mark.parametrize(
    "family",
    [
        "insulated frog, power routing",
        "insulated frog, all live",
        "powered frog",
        "metal frog, slide-routed",
    ],
)
def test_single_faults_of_other_families_lever_by_lever(family: str) -> None:
    part = _part(loops(family=family, gangs="single"), each=True)
    faults = faults_of(part.layout)
    states = grid(part.own_settings, fault_sets(faults, 1))
    bad = PartFaults(part.layout, part.own_settings, faults).bad(states)
    assert len(part.own_settings) == 16
    _compare(part.layout, states, bad)


@pytest.mark.parametrize("family", SLIP_FAMILIES)
def test_single_and_double_faults_of_a_double_slip(family: str) -> None:
    """Fed at its outer rails, by a wire each: a frog's two ways are blades of its own."""
    text = HEAD + 'supply = [{ name = "cab" }]\nfeeder = [{ name = "f", supply = "cab", '
    text += 'plus = "b/slip/outer-A-B", minus = "b/slip/outer-B-A" }]\n'
    text += '[[module]]\nname = "b"\n[[module.piece]]\nname = "slip"\n'
    part = _part(text + f'kind = "double slip"\nfamily = "{family}"\n')
    faults = faults_of(part.layout)
    states = grid(part.own_settings, fault_sets(faults, 2))
    bad = PartFaults(part.layout, part.own_settings, faults).bad(states)
    assert len(part.own_settings) == 4
    assert _compare(part.layout, states, bad) == len(states.sets) * 4


def test_double_faults_of_a_live_frog_scissors() -> None:
    part = _part(loops(gangs="per diagonal") + FOUR)
    faults = faults_of(part.layout)
    states = grid(part.own_settings, fault_sets(faults, 2))
    bad = PartFaults(part.layout, part.own_settings, faults).bad(states)
    assert _compare(part.layout, states, bad) > 3000


def test_supplies_that_share_a_common_and_one_reversed() -> None:
    text = loops(gangs="per diagonal").replace(
        '{ name = "cab A" }, { name = "cab B" }',
        '{ name = "cab A", common = "c" }, { name = "cab B", common = "c", reversed = true }',
    )
    part = _part(text)
    faults = faults_of(part.layout)
    states = grid(part.own_settings, fault_sets(faults, 1))
    bad = PartFaults(part.layout, part.own_settings, faults).bad(states)
    _compare(part.layout, states, bad)


def test_a_supply_that_is_off_keeps_its_wires_joined() -> None:
    """Two feeders of one cab, the other loop joined at one of them: its rails stay fed.

    The terminal of a supply joins what is screwed to it whether it gives volts or not; a
    run has always had it so (power.md, 6: a supply off stops its district by giving
    nothing, not by letting go of its wires).
    """
    text = HEAD + 'supply = [{ name = "a" }, { name = "b" }]\n'
    text += 'feeder = [{ name = "a1", supply = "a", plus = "m/w/north", minus = "m/w/south" },'
    text += ' { name = "a2", supply = "a", plus = "m/e/north", minus = "m/e/south" },'
    text += ' { name = "b1", supply = "b", plus = "m/w/north", minus = "m/w/south" }]\n'
    text += '[[module]]\nname = "m"\n'
    text += '[[module.piece]]\nname = "w"\nkind = "straight"\nlength_mm = 100\n'
    text += '[[module.piece]]\nname = "e"\nkind = "straight"\nlength_mm = 100\n'
    part = _part(text)
    off = [f for f in faults_of(part.layout) if f.kind == "supply off"]
    assert [f.part for f in off] == ["a", "b"]
    states = grid(part.own_settings, [(), (off[0],), (off[1],), tuple(off)])
    bad = PartFaults(part.layout, part.own_settings, off).bad(states, with_kinds=True)
    _compare(part.layout, states, bad)
    for route in range(2):
        dead = [_bit(bad.dead[route], q, 0) for q in range(4)]
        assert dead == [False, False, False, True]
        assert set(bad.kinds[route]) == {"tripped"}
