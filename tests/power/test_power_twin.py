"""Tracing, charts and the supply of a run agree with brute force on random layouts.

The twin (:mod:`tests.twin`) shares no code with what it is compared to.
"""

from __future__ import annotations

from itertools import combinations, product
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from sim.layout.model import PLASTIC, Layout, Route
from sim.power.chart import RouteState, Setting, chart, count
from sim.power.poles import Source, pole_state
from sim.power.trace import trace
from sim.run.traced_supply import TracedSupply
from tests.power.small import case_of, layouts
from tests.twin import LayoutTwin, closed_in

MANY = settings(max_examples=100, deadline=None)
FEW = settings(max_examples=50, deadline=None)


def every_setting(layout: Layout, moving: bool = False) -> list[tuple[int, ...]]:
    places = [range(-1 if moving else 0, len(x.positions)) for x in layout.levers]
    return list(product(*places))


def failures(layout: Layout) -> st.SearchStrategy[set[int]]:
    return st.sets(st.sampled_from(range(max(1, len(layout.elements)))), max_size=3)


@MANY
@given(st.data())
def test_trace_agrees_in_every_setting_with_any_failures(data: st.DataObject) -> None:
    layout = data.draw(layouts())
    failed = data.draw(failures(layout))
    positions = every_setting(layout, moving=True)
    traced = trace(layout, positions, failed)
    nodes = range(len(layout.nodes))
    asked = list(product([PLASTIC, *nodes], repeat=2))
    for k, setting in enumerate(positions):
        twin = LayoutTwin(layout, closed_in(layout, setting, failed))
        for n in nodes:
            poles = twin.poles_of(twin.net[n])
            assert traced.poles_at(n, k) == poles
        assert bool(traced.short_bits() >> k & 1) == bool(twin.shorted())
        for left, right in asked:
            told = [v for v, b in traced.verdicts(left, right).items() if b >> k & 1]
            assert told == [twin.kind(left, right)]


@MANY
@given(st.data())
def test_supplies_that_are_off_or_turned(data: st.DataObject) -> None:
    layout = data.draw(layouts(1))
    setting = data.draw(st.sampled_from(every_setting(layout, moving=True)))
    supplies = range(len(layout.supplies))
    off = data.draw(st.sets(st.sampled_from(supplies)))
    turned = data.draw(st.sets(st.sampled_from(supplies)))
    twin = LayoutTwin(layout, closed_in(layout, setting), (), off, turned)
    (pattern,) = trace(layout, [setting]).patterns
    state = pole_state(pattern, tuple(Source(twin.volts(s), s not in off) for s in supplies))
    assert {s for short in state.shorts for s in short} == twin.shorted()
    for left, right in product(range(len(pattern)), repeat=2):
        ends = [layout.supplies[p // 2] for p in (left, right)]
        nodes = [e.minus if p % 2 else e.plus for e, p in zip(ends, (left, right), strict=True)]
        assert state.kind(left, right) == twin.kind(*nodes)
        if state.kind(left, right) is None:
            volts = sum(n * twin.volts(s) for s, n in state.steps(left, right))
            assert volts == pytest.approx(
                -twin.potentials(twin.net[nodes[0]])[twin.net[nodes[1]]]
            )


# -- charts --------------------------------------------------------------------


@MANY
@given(layouts())
def test_charts_agree(layout: Layout) -> None:
    case = case_of(layout)
    found = chart(case)
    assert found.skipped is None
    assert found.total == len(found.settings)
    for setting in found.settings:
        compare_setting(layout, setting, alone=found.groups < 2)
    counts = count(case)
    assert (counts.total, counts.dead, counts.short) == (
        found.total,
        sum(s.dead for s in found.settings),
        sum(s.short for s in found.settings),
    )
    told: dict[str, set[str]] = {"route": set(), "section": set(), "lever": set()}
    for s in found.settings:
        told["route"] |= {r.route for r in s.routes}
        told["section"] |= {name for name, _ in s.fed_by}
        told["lever"] |= {name for name, _ in s.levers}
    assert told["route"] == {r.id for r in layout.routes}
    assert told["lever"] == {x.id for x in layout.levers}
    if layout.routes or found.groups < 2:  # rails that nobody runs on are of no part
        reached = {n for n in layout.nodes if n.startswith("m/p/")}
        assert told["section"] <= reached


def compare_setting(layout: Layout, setting: Setting, alone: bool) -> None:
    """Compare one setting of a chart with the twin; ``alone``: it tells everything."""
    at = dict(setting.levers)
    positions = [x.positions.index(at[x.id]) if x.id in at else x.rest for x in layout.levers]
    closed = closed_in(layout, positions)
    twin = LayoutTwin(layout, closed)
    for section, poles in setting.fed_by:
        assert list(poles) == twin.fed_by(layout.nodes.index(section))
    routes = {r.id: r for r in layout.routes}
    for state in setting.routes:
        compare_route(layout, routes[state.route], state, positions, twin)
    names = [s.name for s in layout.supplies]
    shorted = {names.index(p[:-1]) for short in setting.shorts for p in short.poles}
    assert shorted == twin.shorted() if alone else shorted <= twin.shorted()
    by_id = {e.id: i for i, e in enumerate(layout.elements)}
    for short in setting.shorts:
        used = [by_id[e] for e in short.elements]
        assert set(used) <= set(closed)
        # what is named is enough to make a short
        assert LayoutTwin(layout, used).shorted()
    metal = [i for i in closed if layout.elements[i].kind != "common"]
    compare_joined(layout, setting, LayoutTwin(layout, metal), alone)


def compare_joined(layout: Layout, setting: Setting, twin: LayoutTwin, alone: bool) -> None:
    by_id = {e.id: i for i, e in enumerate(layout.elements)}
    told = {}
    for joined in setting.joined:
        a, b = dict.fromkeys(p[:-1] for p in joined.poles)
        told[a, b] = joined.poles
        only = LayoutTwin(layout, [by_id[e] for e in joined.elements])
        assert _shared(layout, only, a, b) == _shared(layout, twin, a, b)
    names = [s.name for s in layout.supplies]
    expected = {
        pair: poles
        for pair in combinations(names, 2)
        if (poles := _shared(layout, twin, *pair))
    }
    if alone:
        assert {k: set(v) for k, v in told.items()} == expected
    else:
        assert told.keys() <= expected.keys()


def _shared(layout: Layout, twin: LayoutTwin, a: str, b: str) -> set[str]:
    """Poles of two supplies that are in a net with a pole of the other."""
    names = [s.name for s in layout.supplies]
    found = set()
    for p, q in product((0, 1), repeat=2):
        one, other = 2 * names.index(a) + p, 2 * names.index(b) + q
        if twin.pole_net(one) == twin.pole_net(other):
            found |= {f"{a}{'+-'[p]}", f"{b}{'+-'[q]}"}
    return found


def compare_route(
    layout: Layout, route: Route, state: RouteState, positions: list[int], twin: LayoutTwin
) -> None:
    """Every span is told once, as what the twin says it is."""
    assert state.set == all(positions[p.lever] == p.position for p in route.points)
    kinds = [twin.kind(span.left, span.right) for span in route.spans]
    alone = [
        twin.kind(metal, metal)
        for span in route.spans
        if (span.left == PLASTIC) != (span.right == PLASTIC)
        for metal in [max(span.left, span.right)]
    ]
    never = set(kinds) == {"insulated"}
    expected = "live"
    if never or set(kinds) - {None, "insulated", "short"}:
        expected = "dead"
    if "short" in kinds + alone:
        expected = "short"
    assert state.state == expected
    for span, kind in zip(route.spans, kinds, strict=True):
        middle = (span.from_um + span.to_um) / 2000
        dead = [d for d in state.dead if d.from_mm < middle < d.to_mm]
        plastic = [i.side for i in state.insulated if i.from_mm < middle < i.to_mm]
        sides = {(True, True): "both", (True, False): "left", (False, True): "right"}
        side = sides.get((span.left == PLASTIC, span.right == PLASTIC))
        assert plastic == ([side] if side else [])
        one_sided = kind == "insulated" and side != "both"
        if one_sided and twin.kind(*[max(span.left, span.right)] * 2) == "short":
            kind = "short"
        told = kind not in (None, "short") and (never or kind != "insulated")
        assert [d.kind for d in dead] == ([kind] if told else [])
        for d in dead:
            rails = [None if n == PLASTIC else layout.nodes[n] for n in (span.left, span.right)]
            assert [d.left, d.right] == rails
    ends = [(d.to_mm, d.left, d.right, d.kind) for d in state.dead]
    starts = [(d.from_mm, d.left, d.right, d.kind) for d in state.dead]
    assert not set(ends) & set(starts)  # neighbours that tell the same are one


# -- the supply of a run -------------------------------------------------------


def steps(layout: Layout, slots: list[int]) -> st.SearchStrategy[list[tuple[Any, ...]]]:
    contacts = [i for i, e in enumerate(layout.elements) if e.kind == "contact"]
    places = [(side, slot) for side, n in enumerate(slots) for slot in range(n)]
    node = st.sampled_from([PLASTIC, *range(len(layout.nodes))])
    kinds: list[st.SearchStrategy[tuple[Any, ...]]] = [
        st.tuples(st.just("move"), st.sampled_from(places), node),
    ]
    if contacts:
        kinds.append(st.tuples(st.just("contact"), st.sampled_from(contacts), st.booleans()))
    if layout.supplies:
        supply = st.sampled_from(range(len(layout.supplies)))
        kinds.append(st.tuples(st.just("switch"), supply, st.booleans()))
        kinds.append(st.tuples(st.just("turn"), supply, st.sampled_from([1, -1])))
    kinds.append(st.tuples(st.just("solve")))
    return st.lists(st.one_of(kinds), min_size=1, max_size=40)


class Shadow:
    """What a run has told its supply, for the twin to be built of at any time."""

    def __init__(self, layout: Layout, slots: list[int]) -> None:
        self.layout = layout
        self.permanent = {
            i for i, e in enumerate(layout.elements) if e.kind not in ("contact", "gap")
        }
        self.closed: set[int] = set()
        self.off: set[int] = set()
        self.turned: set[int] = set()
        self.under = [[PLASTIC] * n for n in slots]

    def metal(self, side: int) -> list[int]:
        return [n for n in self.under[side] if n != PLASTIC]

    def twin(self, without: int | None = None) -> LayoutTwin:
        sides = [s for s in range(len(self.under)) if without is None or s // 2 != without]
        joins = [group for s in sides if (group := self.metal(s))]
        closed = self.permanent | self.closed
        return LayoutTwin(self.layout, closed, joins, self.off, self.turned)

    def do(self, supply: TracedSupply, step: tuple[Any, ...]) -> None:
        match step:
            case ("move", (side, slot), node):
                supply.move(side, slot, node)
                self.under[side][slot] = node
            case ("contact", element, closes):
                supply.set_contacts(*(([element], ()) if closes else ((), [element])))
                (self.closed.add if closes else self.closed.discard)(element)
            case ("switch", which, on):
                supply.switch(which, on)
                (self.off.discard if on else self.off.add)(which)
            case ("turn", which, sign):
                supply.turn(which, sign)
                (self.turned.add if sign < 0 else self.turned.discard)(which)


@MANY
@given(st.data())
def test_the_supply_of_a_run_after_any_sequence(data: st.DataObject) -> None:
    layout = data.draw(layouts())
    slots = data.draw(st.sampled_from([[2, 2], [2, 1, 1, 2], [3, 3, 2, 2]]))
    shadow = Shadow(layout, slots)
    supply = TracedSupply(layout, slots, ())
    for step in [*data.draw(steps(layout, slots)), ("solve",)]:
        if step == ("solve",):
            supply.solve()
            compare_supply(supply, shadow, len(slots) // 2)
        else:
            shadow.do(supply, step)


def compare_supply(supply: TracedSupply, shadow: Shadow, units: int) -> None:
    layout, twin = shadow.layout, shadow.twin()
    assert supply.shorted() == twin.shorted()
    for n, other in product(range(len(layout.nodes)), repeat=2):
        same = supply.label_of(n) == supply.label_of(other)
        assert same == (twin.net[n] == twin.net[other])
    for n in range(len(layout.nodes)):
        pole, poles = supply.pole_at(n), twin.poles_of(twin.net[n])
        assert pole in poles if poles else pole is None
    for unit in range(units):
        left, right = shadow.metal(2 * unit), shadow.metal(2 * unit + 1)
        reading = supply.reading(unit)
        if not left or not right:
            assert reading.verdict == "insulated"
            continue
        assert reading.verdict == twin.kind(left[0], right[0])
        if reading.verdict is None:
            plain = LayoutTwin(layout, (), (), (), shadow.turned)
            volts = sum(n * plain.volts(s) for s, n in reading.steps)
            between = twin.potentials(twin.net[left[0]])[twin.net[right[0]]]
            assert volts == pytest.approx(-between)
        assert supply.shorted_without((unit,)) == shadow.twin(without=unit).shorted()


@FEW
@given(st.data())
def test_what_if_changes_nothing_and_answers_as_if_it_had(data: st.DataObject) -> None:
    layout = data.draw(layouts(1))
    slots = [2, 2]
    shadow, supply = Shadow(layout, slots), TracedSupply(layout, slots, ())
    for step in data.draw(steps(layout, slots)):
        shadow.do(supply, step)
    supply.solve()
    contacts = [i for i, e in enumerate(layout.elements) if e.kind == "contact"]
    closing = data.draw(st.sets(st.sampled_from(contacts))) if contacts else set()
    opening = data.draw(st.sets(st.sampled_from(contacts))) if contacts else set()
    opening -= closing
    node = st.sampled_from(range(len(layout.nodes)))
    bridged = data.draw(st.lists(st.tuples(node, node), max_size=2))
    restored = set(data.draw(st.lists(st.sampled_from(range(len(layout.supplies))))))
    told = supply.verdict_if(0, closing, opening, bridged, restored)
    compare_supply(supply, shadow, 1)
    joins = [[a, b] for a, b in bridged]
    joins += [group for s in (0, 1) if (group := shadow.metal(s))]
    closed = (shadow.permanent | shadow.closed | closing) - opening
    twin = LayoutTwin(layout, closed, joins, shadow.off - restored, shadow.turned)
    left, right = shadow.metal(0), shadow.metal(1)
    # a change that would join two supplies is no cure either, so it counts as a short
    if twin.shorted() or _new_joins(shadow.twin(), twin):
        assert told.verdict == "short"
    elif not left or not right:
        assert told.verdict == "insulated"
    else:
        assert told.verdict == twin.kind(left[0], right[0])


def _new_joins(before: LayoutTwin, after: LayoutTwin) -> bool:
    poles = range(2 * len(after.layout.supplies))
    return any(
        after.pole_net(p) == after.pole_net(q) and before.pole_net(p) != before.pole_net(q)
        for p, q in combinations(poles, 2)
        if p // 2 != q // 2
    )
