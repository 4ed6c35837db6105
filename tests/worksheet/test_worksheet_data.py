"""What the worksheet says: against the slow twin, hand calculation and the wire table."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from sim.bench.readings.model import control_words, setting_words
from sim.bench.worksheet.make import make_worksheet
from sim.bench.worksheet.model import LEADS_OHM, LOAD_OHM, MeterTable, Worksheet
from sim.bench.worksheet.tables import Bench
from sim.bench.worksheet.wires import sleeve_mm
from sim.command.main import main
from sim.layout.assemble import assemble
from sim.layout.model import PLASTIC, Layout
from sim.layout.project import Project
from sim.power.settings import rest_positions, settings_of
from tests.checked import read_scenario, scenario_from_text
from tests.twin import LayoutTwin, closed_in

DEMO = "scenarios/club-loops.toml"
SCENARIO = read_scenario(DEMO)
FIXES = [fix.name for fix in SCENARIO.fix]


def sheet(name: str) -> Worksheet:
    return make_worksheet(Project(SCENARIO), SCENARIO.fix[FIXES.index(name)])


SHEETS = {name: sheet(name) for name in FIXES}


def joined_on_board(layout: Layout, board: str, words: str, a: str, b: str) -> bool | None:
    """By the twin: only elements within the board count."""
    if a not in layout.nodes or b not in layout.nodes:
        return None
    inside = {k for k, n in enumerate(layout.nodes) if n.startswith(f"{board}/")}
    rest = rest_positions(layout)
    positions = next(
        (s for s in settings_of(layout) if control_words(layout, s, board) == words),
        tuple(rest),
    )
    closed = [
        i
        for i in closed_in(layout, positions)
        if {layout.elements[i].a, layout.elements[i].b} <= inside
    ]
    net = LayoutTwin(layout, closed).net
    return net[layout.nodes.index(a)] == net[layout.nodes.index(b)]


@pytest.mark.parametrize("name", FIXES)
def test_the_meter_table_is_what_the_twin_reads(name: str) -> None:
    made = SHEETS[name]
    layouts = assemble(SCENARIO, None).layout, assemble(SCENARIO, name).layout
    section = {s.number: s.section for s in made.spots}
    for table in made.meter:
        for row in (*table.rows, *table.isolation):
            for k, words in enumerate(table.settings):
                for layout, said in zip(layouts, (row.before, row.after), strict=True):
                    true = joined_on_board(
                        layout, table.board, words, section[row.a], section[row.b]
                    )
                    found = said[k]
                    assert true == (None if found is None else found.joined)


def nets_of(table: MeterTable, count: int) -> list[set[int]]:
    """Places always joined with the fix, from the rows of the table."""
    groups = [{n} for n in range(1, count + 1)]
    for row in table.rows:
        if all(e is not None and e.joined for e in row.after):
            one = next(g for g in groups if row.a in g)
            other = next(g for g in groups if row.b in g)
            if one is not other:
                one |= other
                groups.remove(other)
    return groups


def test_two_jumpers_do_what_practice_says() -> None:
    """Common practice, no source: the inner rails are joined west to east and the loops
    stay apart; the test tables must show both."""
    made = SHEETS["two jumpers"]
    assert [w.name for w in made.wires][:2] == ["north A inner", "north B inner"]
    table = made.meter[0]
    wire = made.wires[0]
    row = next(r for r in table.rows if {r.a, r.b} == {wire.start, wire.to})
    assert all(e is not None and not e.joined for e in row.before)
    assert all(e is not None and e.joined for e in row.after)
    # Left and right of each loop, and the loops from each other: four nets, six pairs.
    groups = [g for g in nets_of(table, len(made.spots)) if len(g) > 1]
    assert len(groups) == 4 and len(table.isolation) == 6
    a = next(g for g in groups if wire.start in g)
    b = next(g for g in groups if made.wires[1].start in g)
    assert a is not b


def test_wires_are_long_enough_and_sleeves_wide_enough() -> None:
    for made in SHEETS.values():
        at = {s.number: s for s in made.spots}
        for wire in made.wires:
            assert wire.sleeve_mm > wire.bare_mm
            if wire.start in at and wire.to in at:
                one, other = at[wire.start], at[wire.to]
                if one.piece == other.piece and wire.measured:
                    apart = ((one.x_mm - other.x_mm) ** 2 + (one.y_mm - other.y_mm) ** 2) ** 0.5
                    assert wire.cut_mm > apart + 10.0


def test_wire_diameters_are_those_of_the_standard() -> None:
    """ASTM B258: AWG 24 is 0.511 mm, AWG 14 1.628 mm."""
    assert SHEETS["two jumpers"].wires[0].bare_mm == pytest.approx(0.511, abs=0.001)
    assert sleeve_mm("AWG 24") == 1.6  # 0.511 and twice 0.25 of insulation, a quarter to spare
    assert sleeve_mm("AWG 14") == 3.2  # 1.628 likewise: 2.66, the next size sold


PLAIN = """
format = 1
title = "plain"
scale_ratio = 160
gauge_mm = 9
[[supply]]
name = "cab"
voltage_v = 12
internal_ohm = 0.5
[[feeder]]
name = "drop"
supply = "cab"
plus = "board/one/south"
minus = "board/one/north"
wire = "AWG 22"
length = "1 m"
[[module]]
name = "board"
joins = [["one/east", "two/west"]]
[[module.piece]]
name = "one"
kind = "straight"
length_mm = 1000
[[module.piece]]
name = "two"
kind = "straight"
length_mm = 1000
[[fix]]
name = "wire"
[[fix.jumper]]
name = "along"
from = "board/one/south"
to = "board/two/south"
wire = "AWG 24"
length = "1 m"
"""


def test_ohms_are_those_of_a_hand_calculation() -> None:
    """Two straights of a metre: from middle to middle a metre of rail and a joiner, and with
    the fix a metre of AWG 24 (NBS Handbook 100: 84.21 ohm/km) beside them.  Places are
    told to a quarter of a metre of rail, 0.014 ohm."""
    scenario = scenario_from_text(PLAIN)
    before = assemble(scenario, None).layout
    after = assemble(scenario, "wire").layout
    found = [
        Bench(layout, "board").expected("board/one/south", "board/two/south", ())
        for layout in (before, after)
    ]
    rail = 0.057 + 0.005
    both = 1.0 / (1.0 / rail + 1.0 / 0.0842)
    for one, ohm in zip(found, (rail, both), strict=True):
        assert one is not None and one.joined
        assert one.ohm == pytest.approx(ohm + LEADS_OHM, abs=0.02)
        assert one.ohm < one.good_ohm < 1.0


def test_volts_across_the_load_are_those_of_a_hand_calculation() -> None:
    """12 V behind 0.5 ohm, two drops of 1 m AWG 22 (52.96 ohm/km), and at the second
    straight a metre of both rails and two joiners less what the jumper takes off.  A
    quarter of a metre of both rails, as places are told, is 0.02 V."""
    scenario = scenario_from_text(PLAIN)
    made = make_worksheet(Project(scenario), scenario.fix[0])
    at_feed = next(r for r in made.lamp if r.left.startswith("board/one"))
    ohm = 0.5 + 2 * 0.05296
    assert at_feed.after.volts == pytest.approx(12 * LOAD_OHM / (LOAD_OHM + ohm), abs=0.03)
    far = next(r for r in made.lamp if r.left.startswith("board/two"))
    assert far.before is not None and far.before.volts is not None
    ohm += 2 * (0.057 + 0.005)
    assert far.before.volts == pytest.approx(12 * LOAD_OHM / (LOAD_OHM + ohm), abs=0.03)
    assert far.after.volts is not None and far.after.volts > far.before.volts
    assert far.after.good_from is not None and far.after.good_to is not None
    assert far.after.good_from < far.after.volts < far.after.good_to


@pytest.mark.parametrize("name", FIXES)
def test_the_lamp_table_is_what_the_twin_sees(name: str) -> None:
    made = SHEETS[name]
    before, after = assemble(SCENARIO, None).layout, assemble(SCENARIO, name).layout
    for row in made.lamp:
        piece = row.route.rpartition("/")[0]
        for layout, lit in ((before, row.before), (after, row.after)):
            if lit is None:
                assert row.left not in layout.nodes or row.right not in layout.nodes
                continue
            positions = next(
                s for s in settings_of(layout) if setting_words(layout, s, piece) == row.setting
            )
            twin = LayoutTwin(layout, closed_in(layout, positions))
            left, right = (layout.nodes.index(n) for n in (row.left, row.right))
            assert PLASTIC not in (left, right)
            assert (twin.kind(left, right) or "live") == lit.state


def test_a_lever_elsewhere_is_named_where_it_decides_what_a_lamp_shows() -> None:
    """A road behind a live frog is lit or dark by the lever of the turnout before it: no
    two rows of one place and one setting may differ, and none may say what it cannot."""
    scenario = read_scenario("scenarios/branch-terminus.toml")
    fix = next(f for f in scenario.fix if f.name == "gaps and feeders")
    rows = make_worksheet(Project(scenario), fix).lamp
    assert len({(r.route, r.setting, r.from_mm) for r in rows}) == len(rows)
    road = {
        r.setting: r.before.state
        for r in rows
        if r.route == "station/A/west-east" and r.before is not None
    }
    assert road.pop("all levers at rest") == "live"
    assert road.pop("throat/points/lever diverging") == "same pole"
    assert road == {"throat/points/lever diverging, station/crossover/X1 diverging": "short"}


def test_every_caution_that_is_owed_is_there() -> None:
    """Cautions: common practice; the fume limit is of the UK HSE."""
    said = " ".join(SHEETS["two jumpers"].cautions).lower()
    for word in ("unplugged", "mains", "licensed", "low volts are not low energy", "iron",
                 "0.05 mg/m3", "eyes", "lead", "flux", "current-limited"):  # fmt: skip
        assert word in said


def test_work_comes_in_order() -> None:
    titles = [s.title for s in SHEETS["two jumpers"].steps]
    wanted = ["Before", "Open", "Cut the wires", "Solder", "Lay the wires",
              "Test before closing", "Close", "Power"]  # fmt: skip
    assert titles == wanted
    assert SHEETS["two jumpers"].trial and not SHEETS["two jumpers"].refused


def test_wires_that_rely_on_gaps_are_tried_after_the_gaps_are_cut() -> None:
    """Feeders past a live frog short without gaps past it: practice, and the fix 'feeders
    only' of the same file is that very trial."""
    scenario = read_scenario("scenarios/branch-terminus.toml")
    sheets = {f.name: make_worksheet(Project(scenario), f) for f in scenario.fix}
    assert any("short" in said for said in sheets["feeders only"].trial)
    made = sheets["gaps and feeders"]
    assert made.trial[0].startswith("Not before the step Track")
    with_trial = [s.title for s in made.steps if any("the trial" in x for x in s.details)]
    assert with_trial == ["Track"]
    plain = SHEETS["two jumpers"]
    assert [s.title for s in plain.steps if any("the trial" in x for x in s.details)] == [
        "Before"
    ]
    assert not plain.trial[0].startswith("Not before")


def test_a_changed_piece_is_told_in_words_of_the_trade() -> None:
    scenario = read_scenario("scenarios/branch-terminus.toml")
    fix = next(f for f in scenario.fix if f.name == "gaps and feeders")
    details = [d for s in make_worksheet(Project(scenario), fix).steps for d in s.details]
    assert any(d.startswith("Change throat/points: with frog gaps.") for d in details)
    assert not any("frog_gaps" in d or "True" in d for d in details)


def test_contacts_that_are_cleaned_are_measured_across() -> None:
    """Each contact reads joined where its lever closes it, so that a tired one is seen."""
    scenario = read_scenario("scenarios/loose-gang.toml")
    fix = next(f for f in scenario.fix if f.name == "cleaning")
    made = make_worksheet(Project(scenario), fix)
    layout = assemble(scenario, fix.name).layout
    (table,) = made.meter
    section = {s.number: s.section for s in made.spots}
    read = {frozenset((section[r.a], section[r.b])): r for r in table.rows}
    contacts = [e for e in layout.elements if e.kind == "contact"]
    assert len(contacts) == 8
    for contact in contacts:
        row = read[frozenset((layout.nodes[contact.a], layout.nodes[contact.b]))]
        assert any(cell is not None and cell.joined for cell in row.after)
    assert not any(s.solder for s in made.spots)


def test_a_pad_under_a_moving_contact_is_refused() -> None:
    text = Path(DEMO).read_text(encoding="utf-8")
    text = text.replace('family = "live frog"', 'family = "powered frog"')
    layout = assemble(scenario_from_text(text)).layout
    (pad, *_) = [
        f"{p.id}/{pad.name}"
        for p in layout.pieces
        for pad in p.piece.pads
        if pad.slides and p.id == "north junction/scissors"
    ]
    text = text.replace('from = "north junction/scissors/A-inner-west"', f'from = "{pad}"')
    scenario = scenario_from_text(text)
    fix = next(f for f in scenario.fix if f.name == "two jumpers")
    made = make_worksheet(Project(scenario), fix)
    assert any("moving contact" in why for why in made.refused)
    assert any("NOT here" in d for s in made.steps for d in s.details)
    assert next(s for s in made.spots if s.ref == pad).refused


def test_the_command_gives_text_and_the_same_document_twice(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    words = ["worksheet", DEMO, "--fix", "two jumpers"]
    assert main(words) == 0
    said = capsys.readouterr().out
    for part in ("Cautions", "Order of work", "must read open", "north A inner", "Wires"):
        assert part in said
    made = []
    for name in ("a.json", "b.json"):
        assert main([*words, "--json", str(tmp_path / name)]) == 0
        made.append((tmp_path / name).read_bytes())
    assert made[0] == made[1]
    document = json.loads(made[0])
    assert document["format_version"] == 1 and document["fix"] == "two jumpers"
    assert len(document["wires"]) == 4 and document["assumptions"]


@pytest.mark.parametrize(
    "words",
    [
        ["worksheet", DEMO],
        ["worksheet", DEMO, "--fix", "no such fix"],
        ["worksheet", DEMO, "--fix", "two jumpers", "--out", "x.docx"],
        ["worksheet", DEMO, "--fix", "two jumpers", "--out", "no/such/x.html"],
    ],
)
def test_unusable_arguments_are_told(
    words: list[str], capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(words) == 2
    said = capsys.readouterr().err
    assert "expected" in said or "--fix" in said


def test_a_bad_scenario_is_told(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    bad = tmp_path / "bad.toml"
    bad.write_text("format = 2", encoding="utf-8")
    assert main(["worksheet", str(bad), "--fix", "x"]) == 1
    assert "expected" in capsys.readouterr().err


def test_what_a_setting_without_a_column_joins_does_not_stay_open(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """The same pairs stay open however many settings fit the sheet."""
    scenario = read_scenario("scenarios/branch-terminus.toml")
    for fix in scenario.fix:
        whole = make_worksheet(Project(scenario), fix).meter
        with monkeypatch.context() as few:
            few.setattr("sim.bench.worksheet.tables.SETTINGS_AT_MOST", 1)
            short = make_worksheet(Project(scenario), fix).meter
        assert sum(t.left_out for t in short) >= sum(t.left_out for t in whole)
        for one, other in zip(whole, short, strict=True):
            alone = {(r.a, r.b) for r in other.isolation}
            assert alone.isdisjoint({(r.a, r.b) for r in one.rows})
