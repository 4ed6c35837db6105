"""Every kind of change that a fix can state, and nothing beside it changed."""

from __future__ import annotations

import pytest

from sim.analyses.handwork.measures import handwork
from sim.layout.assemble import assemble
from sim.layout.model import Element, Layout
from sim.layout.traffic import Case
from sim.scenario.problems import ScenarioError
from tests.checked import scenario_from_text
from tests.scenario.texts import BRANCH, HEAD, LOOPS, ONE

BOARD = "board/scissors"


def cases(fix: str, text: str = LOOPS) -> tuple[Case, Case]:
    """As built, and with the fix whose entries are given."""
    scenario = scenario_from_text(text + f'\n[[fix]]\nname = "it"\n{fix}\n')
    return assemble(scenario), assemble(scenario, "it")


Seen = dict[str, tuple[str, str, str, float | None, float]]


def seen(layout: Layout) -> Seen:
    return {
        e.id: (e.kind, layout.nodes[e.a], layout.nodes[e.b], e.resistance_ohm, e.opens)
        for e in layout.elements
    }


def changed(fix: str, text: str = LOOPS) -> tuple[Seen, set[str]]:
    """Elements that are new or different with the fix, and ids that are gone."""
    before, after = (seen(case.layout) for case in cases(fix, text))
    new = {name: what for name, what in after.items() if before.get(name) != what}
    return new, set(before) - set(after)


def test_jumpers() -> None:
    scenario = scenario_from_text(LOOPS)
    before, after = (seen(assemble(scenario, f).layout) for f in (None, "two jumpers"))
    new = {name: what for name, what in after.items() if name not in before}
    assert {name: what[:3] for name, what in new.items()} == {
        "jumper 1": ("jumper", f"{BOARD}/A-inner-west", f"{BOARD}/A-inner-east"),
        "jumper 2": ("jumper", f"{BOARD}/B-inner-west", f"{BOARD}/B-inner-east"),
    }
    # NBS Handbook 100, AWG 24: 84.21 ohm/km; IEC 60228 class 5, 0.5 mm2: 39.0 ohm/km
    assert new["jumper 1"][3] == pytest.approx(0.08421 * 0.1, rel=1e-3)
    assert new["jumper 2"][3] == pytest.approx(0.0390 * 0.12)
    assert before == {name: what for name, what in after.items() if name not in new}


def test_a_feeder() -> None:
    new, gone = changed(
        '[[fix.feeder]]\nname="east drop"\nsupply="cab A"\n'
        'plus="board/scissors/pad-A-outer-1"\nminus="board/scissors/A-inner-east"\n'
    )
    assert {name: what[:3] for name, what in new.items()} == {
        "east drop+": ("feeder", "cab A+", f"{BOARD}/A-outer"),
        "east drop-": ("feeder", "cab A-", f"{BOARD}/A-inner-east"),
    }
    assert not gone


def test_added_lengths_lie_between_an_end_and_what_it_was_joined_to() -> None:
    scenario = scenario_from_text(LOOPS)
    before = assemble(scenario).layout
    after = assemble(scenario, "feeder lengths").layout

    def mates(layout: Layout) -> dict[str, str]:
        return {e.id: layout.ends[e.joined].id for e in layout.ends if e.joined >= 0}

    assert mates(before)[f"{BOARD}/A-east"] == "plain/A/west"
    met = mates(after)
    assert met[f"{BOARD}/A-east"] == "board/east A/west"
    assert met["board/east A/east"] == "plain/A/west"
    assert met[f"{BOARD}/A-west"] == "board/west A/east"
    assert met["board/west A/west"] == "plain/A/east"
    assert met[f"{BOARD}/B-east"] == mates(before)[f"{BOARD}/B-east"]
    # common practice, no source: two 62 mm lengths and a 310 mm piece are 434 mm
    assert [m.taken_mm for m in after.modules] == [434.0, 1000.0]
    # the joints that were there keep their names and what was said of them
    assert seen(after)["plain/A/joiner-east-north"][3] == 0.001
    # each added rail belongs to the district it lies in
    loop_a = {after.nodes[n] for n in after.districts[0].nodes}
    assert {"board/west A/north", "board/east A/south"} <= loop_a


def test_an_added_length_at_an_open_end() -> None:
    fix = '[[fix.added_length]]\nat="one/P/east"\nname="more"\nlength_mm="62 mm"\n'
    case = cases(fix, ONE)[1]
    assert {e.id for e in case.layout.elements if e.kind == "joiner"} == {
        "one/P/joiner-east-north",
        "one/P/joiner-east-south",
    }
    assert case.layout.modules[0].taken_mm == 262.0


def test_length_taken_on_a_board_that_is_a_ring_by_itself() -> None:
    """The longest run is along the board, not round the ring."""
    text = ONE.replace('name = "one"', 'name = "one"\njoins=[["P/east", "Q/west"]]')
    text += '[[module.piece]]\nname="Q"\nkind="straight"\nlength_mm=150\n'
    text += '[[line]]\nmodules=["one"]\nring=true\n'
    fix = '[[fix.added_length]]\nat="one/P/west"\nname="more"\nlength_mm=62\n'
    built, longer = cases(fix, text)
    assert built.layout.modules[0].taken_mm == 350.0
    assert longer.layout.modules[0].taken_mm == 412.0


def test_a_gap_cut_in() -> None:
    new, gone = changed('[[fix.gap]]\nat="board/scissors/A-east"\nrails="south"\n')
    assert {name: what[0] for name, what in new.items()} == {f"{BOARD}/gap-A-east-south": "gap"}
    assert gone == {f"{BOARD}/joiner-A-east-south"}


def test_cutting() -> None:
    new, gone = changed(f'cut=["{BOARD}/joiner-A-east-south", "drop A"]')
    assert {name: what[0] for name, what in new.items()} == {
        f"{BOARD}/joiner-A-east-south": "gap"
    }
    assert gone == {"drop A+", "drop A-"}


def test_altering_a_piece() -> None:
    built, altered = cases(f'[[fix.alter]]\npiece="{BOARD}"\nset={{centre_gap=false}}\n')
    assert f"{BOARD}/A-mid-west" in built.layout.nodes
    assert f"{BOARD}/A-mid" in altered.layout.nodes
    assert built.layout.pieces[0].piece.family == altered.layout.pieces[0].piece.family


def test_another_kind_in_its_place() -> None:
    fix = '[[fix.alter]]\npiece="one/P"\nset={kind="insulated straight", length_mm="20 cm"}\n'
    text = ONE.replace("one/P/north", "one/P/pad-north-1")
    with pytest.raises(ScenarioError, match=r"fix 'it': feeder\[0\].plus"):
        cases(fix, text)  # the rail that was fed is not there any more
    fix += '[[fix.alter]]\npiece="fork/main"\nset={kind="curve", radius_mm=300, angle_deg=30}\n'
    fix = fix[fix.index('[[fix.alter]]\npiece="fork') :]
    assert cases(fix, ONE + BRANCH)[1].layout.pieces[2].piece.kind == "curve"


def test_a_changeover_contact() -> None:
    text = ONE + BRANCH.replace(
        'kind = "turnout"', 'kind = "turnout"\nfamily = "insulated frog, power routing"'
    )
    built = cases("", text)[0].layout
    fix = (
        '[[fix.changeover]]\nsection="fork/T/CS"\nlever="fork/T/lever"\n'
        'to={ through="fork/T/SS" }\n'
    )
    assert "fork/T/CS" in built.nodes
    new, gone = changed(fix, text)
    assert {name: what[:3] for name, what in new.items()} == {
        "fork/T/changeover-CS-through": ("contact", "fork/T/CS", "fork/T/SS")
    }
    assert new["fork/T/changeover-CS-through"][4] == 0.0
    assert not gone


def test_soldering_and_cleaning() -> None:
    new, gone = changed('solder=["board/*"]\nclean=["*/AW-*"]\nclean_opens=0.01')
    assert {name: what[3] for name, what in new.items() if what[0] == "joiner"} == {
        f"{BOARD}/joiner-{name}": 0.001
        for name in ("A-east-south", "B-east-north")  # one is soldered, one a gap already
    }
    assert {name: what[4] for name, what in new.items() if what[0] == "contact"} == {
        f"{BOARD}/AW-through": 0.01,
        f"{BOARD}/AW-diverging": 0.01,
    }
    assert not gone


def test_reversing_a_supply() -> None:
    built, turned = cases('reverse=["cab B"]')
    assert [s.reversed for s in built.layout.supplies] == [False, False]
    assert [s.reversed for s in turned.layout.supplies] == [False, True]
    assert seen(built.layout) == seen(turned.layout)


def test_an_energy_store() -> None:
    built, stored = cases('[[fix.energy_store]]\ntrain="local"\nenergy_store_s=1.5\n')
    assert [case.trains[0].energy_store_s for case in (built, stored)] == [0.0, 1.5]


def test_doing_nothing() -> None:
    built, same = cases('note="look at it first"')
    assert (built.layout, built.trains) == (same.layout, same.trains)
    assert (built.fix, same.fix) == (None, "it")


def test_elements_all_have_ids_of_their_own() -> None:
    scenario = scenario_from_text(LOOPS)
    for fix in (None, *scenario.fix_names):
        elements: tuple[Element, ...] = assemble(scenario, fix).layout.elements
        assert len({e.id for e in elements}) == len(elements)


def test_a_worn_contact_has_its_own_ohms_until_it_is_cleaned() -> None:
    text = LOOPS.replace(
        'kind = "scissors crossover"',
        'kind = "scissors crossover"\ncontact_ohm = { "AW-through" = 25 }',
    )
    fix = f'clean = ["{BOARD}/AW-through"]'
    worn, cleaned = (seen(case.layout)[f"{BOARD}/AW-through"] for case in cases(fix, text))
    assert worn[3] == 25
    assert cleaned[3] == seen(cases(fix)[0].layout)[f"{BOARD}/AW-through"][3]


def test_ohms_of_a_contact_that_is_not_there_are_told() -> None:
    text = LOOPS.replace(
        'kind = "scissors crossover"',
        'kind = "scissors crossover"\ncontact_ohm = { "AX" = 25 }',
    )
    with pytest.raises(ScenarioError, match=r"contact_ohm\.AX"):
        scenario_from_text(text)


BUS = """
[[bus]]
name = "main"
supply = "cab A"
wire = "AWG 18"
length = "10 m"

[[feeder]]
name = "bus drop"
bus = "main"
plus = "board/scissors/A-outer"
minus = "board/scissors/A-inner-west"
wire = "AWG 22"
length = "30 cm"
"""


def test_a_thicker_bus() -> None:
    """NBS Handbook 100: AWG 18 has 20.95 ohm/km, AWG 14 has 8.285, AWG 22 has 52.96."""
    before = seen(cases("", LOOPS + BUS)[0].layout)
    new, gone = changed('[[fix.rewire]]\nof = "main"\nwire = "AWG 14"\n', LOOPS + BUS)
    assert set(new) == {"main+", "main-"}
    assert gone == set()
    assert before["main+"][3] == pytest.approx(0.02095 * 10, rel=1e-3)
    assert new["main-"][3] == pytest.approx(0.008285 * 10, rel=1e-3)


def test_shorter_drops_by_a_pattern() -> None:
    fix = '[[fix.rewire]]\nof = "bus d*"\nwire = "AWG 22"\nlength = "10 cm"\n'
    new, _ = changed(fix, LOOPS + BUS)
    assert set(new) == {"bus drop+", "bus drop-"}
    assert new["bus drop+"][3] == pytest.approx(0.05296 * 0.1, rel=1e-3)
    (case, fixed) = cases(fix, LOOPS + BUS)
    assert ("bus main: wire", "AWG 18", "yours") in {
        (a.what, a.value, a.whose) for a in case.assumptions
    }
    assert "100 mm" in {
        a.value for a in fixed.assumptions if a.what.startswith("feeder bus drop: length")
    }


@pytest.mark.parametrize(
    ("of", "message"),
    [
        ("mian", "did you mean 'main'"),
        ("nothing*", "a pattern that fits a bus, feeder or jumper"),
    ],
)
def test_wires_that_are_not_there_cannot_be_replaced(of: str, message: str) -> None:
    with pytest.raises(ScenarioError, match=message):
        cases(f'[[fix.rewire]]\nof = "{of}"\nwire = "AWG 14"\n', LOOPS + BUS)


def test_the_work_of_other_wire_is_counted() -> None:
    """By hand: a drop has one joint a wire on the rails, a bus none; two wires each."""
    fix = '[[fix.rewire]]\nof = "*"\nwire = "AWG 20"\nlength = "25 cm"\n'
    text = LOOPS + BUS
    scenario = scenario_from_text(f'{text}\n[[fix]]\nname = "it"\n{fix}\n')
    work = handwork(assemble(scenario, "it").layout, scenario.fix_named("it"))
    drops, buses = len(scenario.feeder), len(scenario.bus)
    assert (drops, buses) == (3, 2)
    assert work.joints == 2 * drops
    assert work.wire_mm == pytest.approx(250 * 2 * (drops + buses))
    assert work.unmeasured == 0


def test_resistances_and_chances_that_are_given_are_written_down() -> None:
    fix = """[[fix.changeover]]
section = "board/scissors/A-mid-west"
lever = "board/scissors/AW"
to = { through = "board/scissors/A-inner-west" }
opens = 0.02
"""
    _, fixed = cases(fix)
    told = {(a.what, a.value, a.whose) for a in fixed.assumptions}
    what = "a contact of the changeover on board/scissors/AW stays open"
    assert (what, "0.02 per throw", "yours") in told
    text = HEAD + BRANCH + '\n[[joiner]]\nat = "*"\nrails = "north"\nresistance_ohm = 25\n'
    built, _ = cases("", text)
    assert ("resistance of the joiner at *, north rail", "25 ohm", "yours") in {
        (a.what, a.value, a.whose) for a in built.assumptions
    }
