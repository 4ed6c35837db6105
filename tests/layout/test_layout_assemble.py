"""A scenario put together: every part of a small one, by hand."""

from __future__ import annotations

import pytest

from sim.layout.assemble import assemble
from sim.layout.levers import route_conflicts
from sim.layout.model import Element, Layout
from sim.layout.traffic import Case
from sim.pieces.described import to_data
from sim.pieces.kinds import build
from sim.scenario.problems import ScenarioError
from tests.checked import scenario_from_text
from tests.scenario.texts import BRANCH, LOOPS, ONE, TRAIN


def case_of(text: str, fix: str | None = None) -> Case:
    return assemble(scenario_from_text(text), fix)


def by_id(layout: Layout) -> dict[str, Element]:
    return {element.id: element for element in layout.elements}


def test_one_straight() -> None:
    layout = case_of(ONE).layout
    assert layout.nodes == ("one/P/north", "one/P/south", "cab+", "cab-")
    assert [(e.id, e.kind, e.a, e.b) for e in layout.elements] == [
        ("drop+", "feeder", 2, 0),
        ("drop-", "feeder", 3, 1),
    ]
    (route,) = layout.routes
    assert (route.id, route.length_um, route.conflicts) == ("one/P/west-east", 200_000, ())
    assert [(s.from_um, s.to_um, s.left, s.right) for s in route.spans] == [(0, 200_000, 0, 1)]
    assert [(end.id, end.joined) for end in layout.ends] == [
        ("one/P/west", -1),
        ("one/P/east", -1),
    ]
    (module,) = layout.modules
    assert (module.name, module.taken_mm, module.length_mm) == ("one", 200.0, None)


def test_a_supply_with_what_was_left_out() -> None:
    """Common practice, no source: a DC supply of 12 V that trips at 1 A."""
    case = case_of(ONE)
    (supply,) = case.layout.supplies
    assert (supply.kind, supply.voltage_v, supply.trip_a, supply.reversed) == (
        "dc", 12.0, 1.0, False,
    )  # fmt: skip
    whose = {a.what: (a.value, a.whose) for a in case.assumptions}
    assert whose["supply cab: voltage with nothing on it"] == (
        "12 V",
        "common practice, no source",
    )
    assert whose["a lever does not follow its gang"] == (
        "0.005 per throw",
        "common practice, no source",
    )


def test_what_is_given_is_yours() -> None:
    case = case_of(LOOPS)
    whose = {a.what: (a.value, a.whose) for a in case.assumptions}
    assert whose["a lever does not follow its gang"] == ("0.01 per throw", "yours")
    assert whose["contact board/scissors/AW-through stays open"] == ("0.05 per throw", "yours")
    assert whose["supply cab A: voltage with nothing on it"] == ("10 V", "yours")


def test_odds_of_contacts_and_levers() -> None:
    layout = case_of(LOOPS).layout
    opens = {e.id: e.opens for e in layout.elements if e.kind == "contact"}
    assert opens.pop("board/scissors/AW-through") == 0.05
    assert set(opens.values()) == {0.1}
    fails = {lever.id: lever.fails for lever in layout.levers}
    assert fails.pop("board/scissors/AE") == 0.02
    assert set(fails.values()) == {0.01}
    (alone,) = case_of(ONE + BRANCH).layout.levers
    assert alone.fails == 0.0  # it has no gang to follow


def test_contacts_name_levers_and_positions_by_number() -> None:
    layout = case_of(LOOPS).layout
    contact = by_id(layout)["board/scissors/BE-diverging"]
    ((clause,),) = (contact.when,)
    (lever, position) = clause[0]
    assert layout.levers[lever].id == "board/scissors/BE"
    assert layout.levers[lever].positions[position] == "diverging"
    assert layout.nodes[contact.b] == "board/scissors/B-outer"


def test_bus_feeders_gaps_and_joiners() -> None:
    layout = case_of(LOOPS).layout
    elements = by_id(layout)
    bus, drop = elements["trunk+"], elements["drop B+"]
    assert [layout.nodes[n] for n in (bus.a, bus.b, drop.a, drop.b)] == [
        "cab B+", "trunk+", "trunk+", "plain/B/north",
    ]  # fmt: skip
    # IEC 60228 class 5, 1.5 mm2: 13.3 ohm/km, 2 m of it
    assert bus.resistance_ohm == pytest.approx(0.0266)
    # NBS Handbook 100, AWG 22: 52.96 ohm/km, 0.4 m of it
    assert elements["drop A+"].resistance_ohm == pytest.approx(0.05296 * 0.4, rel=1e-3)
    assert elements["board/scissors/gap-B-east-south"].kind == "gap"
    assert elements["board/scissors/joiner-B-east-north"].kind == "joiner"
    assert elements["plain/A/joiner-east-north"].resistance_ohm == 0.001  # soldered
    assert elements["plain/A/joiner-east-south"].resistance_ohm == 0.005


def test_a_gap_names_the_rail_of_the_end_it_is_put_at() -> None:
    """Put at the turned board's end, its north rail is the other board's south."""
    text = (
        ONE
        + ONE[ONE.index("[[module]]") :].replace('"one"', '"two"')
        + '[[line]]\nmodules = ["one", "two"]\nturned = ["two"]\n'
        + '[[gap]]\nat = "two/P/east"\nrails = "north"\n'
    )
    assert {e.id: e.kind for e in case_of(text).layout.elements if "/P/" in e.id} == {
        "one/P/joiner-east-north": "joiner",
        "one/P/gap-east-south": "gap",
    }


def test_a_joiner_gone_open_is_no_connection_but_keeps_its_name() -> None:
    text = LOOPS + '[[joiner]]\nat = "board/scissors/A-east"\nrails = "south"\nopen = true\n'
    text += '[[fix]]\nname = "solder"\nsolder = ["board/*/joiner-A-east-south"]\n'
    assert by_id(case_of(text).layout)["board/scissors/joiner-A-east-south"].kind == "gap"
    mended = by_id(case_of(text, "solder").layout)["board/scissors/joiner-A-east-south"]
    assert (mended.kind, mended.resistance_ohm) == ("joiner", 0.001)


def test_supplies_with_a_common() -> None:
    text = ONE.replace('name = "cab"', 'name = "cab"\ncommon = "earth"', 1)
    for name in ("two", "three"):
        text += f'[[supply]]\nname = "{name}"\ncommon = "earth"\n'
    layout = case_of(text).layout
    assert [
        (e.id, layout.nodes[e.a], layout.nodes[e.b])
        for e in layout.elements
        if e.kind == "common"
    ] == [
        ("common earth cab two", "cab-", "two-"),
        ("common earth cab three", "cab-", "three-"),
    ]


def test_districts_hold_the_sections_that_their_patterns_fit() -> None:
    layout = case_of(LOOPS).layout
    names = [[layout.nodes[n] for n in d.nodes] for d in layout.districts]
    assert all("/A-" in name or "/A/" in name for name in names[0])
    assert len(names[0]) == len(names[1]) == 7


def test_conflicts_of_a_scissors() -> None:
    """Both tracks at once, or one crossing: nothing else (the diamond, and shared ends)."""
    piece = build(
        "scissors crossover", {"gauge_mm": 9.0, "track_centres_mm": 33.0, "gangs": "single"}
    )
    names = [route.name for route in piece.routes]
    against = [{names[n] for n in numbers} for numbers in route_conflicts(piece)]
    x = {"A-west-B-east", "B-west-A-east"}
    assert dict(zip(names, against, strict=True)) == {
        "A-west-A-east": x,
        "B-west-B-east": x,
        "A-west-B-east": set(names) - {"A-west-B-east"},
        "B-west-A-east": set(names) - {"B-west-A-east"},
    }


def test_a_piece_described_rail_by_rail_is_the_same_piece() -> None:
    import tomli_w

    piece = build("turnout", {"gauge_mm": 9.0})
    described = tomli_w.dumps({"piece": [to_data(piece) | {"kind": "handmade turnout"}]})
    text = ONE + BRANCH.replace('kind = "turnout"', 'kind = "handmade turnout"') + described
    one, other = case_of(ONE + BRANCH).layout, case_of(text).layout
    assert (one.nodes, one.elements, one.routes) == (other.nodes, other.elements, other.routes)


def test_throws_by_the_clock() -> None:
    case = case_of(LOOPS)
    assert [(t.at_s, t.position) for t in case.throws] == [
        (10.0, "diverging"),
        (30.0, "through"),
        (50.0, "diverging"),
    ]


def test_a_train() -> None:
    (train,) = case_of(LOOPS).trains
    assert train.length_mm == 310.0
    # unit conversion: 20 scale mph at 1:160 is 55.9 mm/s, so 25 is 69.9
    assert train.speed_mm_s == pytest.approx(55.88 * 25 / 20, abs=0.01)
    assert train.toward_finish
    assert [order.do for order in train.orders] == [
        "circulate", "throw", "cross", "stop", "run", "wait",
    ]  # fmt: skip
    # common practice, no source: an N engine takes 0.15 A running, 0.4 A starting
    motor = train.vehicles[0].motor
    assert motor is not None
    assert (motor.running_a, motor.starting_a, motor.start_voltage_v) == (0.15, 0.4, 3.5)


@pytest.mark.parametrize(
    ("train", "fits"),
    [
        ("", True),  # on the siding, clear of points that are set for the other way
        (TRAIN.replace('"one/P"', '"fork/T"\nroute = "points-diverging"'), False),
        (TRAIN.replace('"one/P"', '"fork/T"\nroute = "points-through"'), True),
    ],
)
def test_standing_at_points(train: str, fits: bool) -> None:
    siding = TRAIN.replace('"local"', '"waiting"').replace('"one/P"', '"fork/side"')
    text = ONE + BRANCH + siding.replace("place_mm = 150", "place_mm = 250")
    text += train.replace("place_mm = 150", "place_mm = 110")
    if fits:
        assert case_of(text).trains
        return
    with pytest.raises(ScenarioError, match=r"points set for the way that the train stands"):
        scenario_from_text(text)


def test_a_train_longer_than_its_ring() -> None:
    text = ONE + '[[line]]\nmodules = ["one"]\nring = true\n' + TRAIN + "count = 3\n"
    with pytest.raises(ScenarioError, match=r"a track longer than the train"):
        scenario_from_text(text.replace("count = 3\n", "").replace("motor", "count = 3\nmotor"))


def test_an_unknown_fix() -> None:
    with pytest.raises(ScenarioError, match=r"did you mean 'two jumpers'"):
        assemble(scenario_from_text(LOOPS), "two jumper")


def test_equal_files_give_equal_cases() -> None:
    for fix in (None, "two jumpers", "feeder lengths"):
        assert case_of(LOOPS, fix) == case_of(LOOPS, fix)
    assert case_of(LOOPS) == case_of(LOOPS, "as built")
