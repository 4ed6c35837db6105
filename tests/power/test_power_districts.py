"""Rails of two districts that are joined with all feeders lifted, in any setting."""

from __future__ import annotations

from dataclasses import replace
from itertools import product

from hypothesis import given, settings
from hypothesis import strategies as st

from sim.layout.assemble import assemble
from sim.layout.model import District, Layout
from sim.power.districts import DistrictJoin, joined_districts
from tests.checked import scenario_from_text
from tests.power.small import Small, case_of, layouts
from tests.scenario.texts import LOOPS
from tests.twin import LayoutTwin, closed_in

TWO = ["through", "diverging"]
LIFTED = ("feeder", "bus", "common")


def districts(made: Small, **rails: str) -> Small:
    for number, (name, names) in enumerate(rails.items()):
        nodes = tuple(made.node(n) for n in names.split())
        made.districts.append(District(name, number, nodes))
    return made


def test_feeders_and_a_common_count_as_lifted() -> None:
    made = Small("a b")
    made.supply("A", common="earth")
    made.supply("B", common="earth")
    made.join("A-", "a", "feeder")
    made.join("B-", "b", "feeder")
    made.join("A-", "B-", "common")
    made.join("a", "b", "gap")
    assert joined_districts(districts(made, A="a", B="b").case()) == ()


def test_a_jumper_between_districts_joins_them_in_every_setting() -> None:
    made = districts(Small("a b x"), A="a", B="b")
    made.join("a", "x", "bond", "strip")
    made.join("x", "b", "jumper", "jumper 1")
    assert joined_districts(made.case()) == (
        DistrictJoin(("A", "B"), (), ("strip", "jumper 1")),
    )


def test_a_way_that_takes_two_levers() -> None:
    """Each lever by itself: the gang that would keep them apart may not be followed."""
    made = Small("a frog b", {"one": TWO, "two": TWO})
    districts(made, A="a", B="b")
    made.contact("a", "frog", {"one": "diverging"}, name="left")
    made.contact("frog", "b", {"two": "through"}, name="right")
    assert joined_districts(made.case()) == (
        DistrictJoin(
            ("A", "B"),
            (("m/p/one", "diverging"), ("m/p/two", "through")),
            ("left", "right"),
        ),
    )
    never = Small("a frog b", {"one": TWO})
    districts(never, A="a", B="b")
    never.contact("a", "frog", {"one": "diverging"})
    never.contact("frog", "b", {"one": "through"})
    assert joined_districts(never.case()) == ()


def test_every_way_is_told_until_all_settings_are_covered() -> None:
    made = Small("a b", {"one": TWO, "two": TWO})
    districts(made, A="a", B="b")
    made.contact("a", "b", {"one": "diverging"}, name="first")
    made.contact("a", "b", {"two": "diverging"}, name="second")
    assert [j.elements for j in joined_districts(made.case())] == [("first",), ("second",)]


def test_a_way_over_a_third_district_is_two_ways() -> None:
    made = districts(Small("a b c"), A="a", B="b", C="c")
    made.join("a", "c", name="ac")
    made.join("c", "b", name="cb")
    assert [(j.districts, j.elements) for j in joined_districts(made.case())] == [
        (("A", "C"), ("ac",)),
        (("B", "C"), ("cb",)),
    ]


def test_more_levers_than_can_be_tried_together() -> None:
    """Twenty levers in a row: with a few away from rest at a time, most stay apart."""
    names = [f"l{k}" for k in range(20)]
    made = Small("a b " + " ".join(f"x{k}" for k in range(19)), dict.fromkeys(names, TWO))
    districts(made, A="a", B="b")
    chain = ["a", *(f"x{k}" for k in range(19)), "b"]
    for k, name in enumerate(names):
        at = "diverging" if k == 7 else "through"
        made.contact(chain[k], chain[k + 1], {name: at}, name=f"c{k}")
    (found,) = joined_districts(made.case())
    assert ("m/p/l7", "diverging") in found.levers
    assert len(found.elements) == 20


def test_a_scissors_keeps_its_loops_apart_until_a_wire_joins_them() -> None:
    """Both rails of a crossover between two loops are gapped. Source: NMRA MRP-1.3."""
    scenario = scenario_from_text(LOOPS)
    for fix in (None, *scenario.fix_names):
        assert joined_districts(assemble(scenario, fix)) == ()
    wrong = LOOPS + (
        '\n[[fix]]\nname = "wrong"\n[[fix.jumper]]\n'
        'from = "board/scissors/A-inner-west"\nto = "board/scissors/B-inner-west"\n'
    )
    (found,) = joined_districts(assemble(scenario_from_text(wrong), "wrong"))
    assert found.districts == ("loop A", "loop B")
    assert found.levers == ()
    assert found.elements == ("jumper 1",)


@settings(max_examples=150, deadline=None)
@given(st.data())
def test_against_brute_force(data: st.DataObject) -> None:
    layout = data.draw(layouts())
    rails = [n for n, name in enumerate(layout.nodes) if name.startswith("m/p/")]
    owner = {n: data.draw(st.sampled_from([None, 0, 1, 2])) for n in rails}
    layout = replace(
        layout,
        districts=tuple(
            District("ABC"[d], d, tuple(n for n in rails if owner[n] == d)) for d in range(3)
        ),
    )
    found = joined_districts(case_of(layout))
    by_id = {e.id: i for i, e in enumerate(layout.elements)}
    for way in found:  # what is told is true, and enough
        used = [by_id[e] for e in way.elements]
        at = dict(way.levers)
        for positions in product(*(range(len(x.positions)) for x in layout.levers)):
            names = {
                x.id: x.positions[p] for x, p in zip(layout.levers, positions, strict=True)
            }
            if at.items() <= names.items():
                assert set(used) <= set(closed_in(layout, positions))
        assert tuple("ABC".index(d) for d in way.districts) in met(layout, used)
    for positions in product(*(range(len(x.positions)) for x in layout.levers)):
        closed = [
            i for i in closed_in(layout, positions) if layout.elements[i].kind not in LIFTED
        ]
        names = {x.id: x.positions[p] for x, p in zip(layout.levers, positions, strict=True)}
        told = {
            ("ABC".index(way.districts[0]), "ABC".index(way.districts[1]))
            for way in found
            if dict(way.levers).items() <= names.items()
        }
        # districts that meet: through one another, too
        assert closure(told) == closure(met(layout, closed))


def met(layout: Layout, closed: list[int]) -> set[tuple[int, int]]:
    """Pairs of districts that share a net."""
    twin = LayoutTwin(layout, closed)
    nets = [{twin.net[n] for n in d.nodes} for d in layout.districts]
    return {(a, b) for a in range(3) for b in range(a + 1, 3) if nets[a] & nets[b]}


def closure(pairs: set[tuple[int, int]]) -> set[tuple[int, int]]:
    """Pairs with those that follow: what each district's own rails do is not told."""
    if len(pairs) > 1:
        return {(0, 1), (0, 2), (1, 2)}
    return pairs
