"""The table of fixes: values, what nothing beats, and that no weight is hidden."""

from __future__ import annotations

from io import StringIO
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from sim.analyses.search.model import Asked
from sim.judge.comparison import CaseResult, Settings
from sim.judge.criteria import (
    CRITERIA,
    Values,
    Weighing,
    beaten_by,
    beats,
    cost,
    gives_up,
    leads_in,
    notes_on,
    scores,
    stalled_legs,
)
from sim.judge.weigh import weigh
from sim.layout.project import Project
from sim.pages.page import Page
from sim.pages.weigh import blocks, print_weigh
from sim.scenario.document import Scenario
from tests.checked import read_scenario, scenario_from_text
from tests.seek.boards import between_text

LOOPS = Path(__file__).parents[1] / "command" / "loops.toml"
NAMES = [c.name for c in CRITERIA]
VALUE = st.none() | st.integers(0, 3).map(float)
ROWS = st.lists(
    st.lists(VALUE, min_size=len(CRITERIA), max_size=len(CRITERIA)), min_size=1, max_size=6
)


@given(ROWS)
def test_what_nothing_beats_is_what_the_definition_says(rows: list[Values]) -> None:
    """Pareto: nowhere worse and somewhere better."""

    def better(one: Values, other: Values) -> bool:
        pairs = list(zip(CRITERIA, one, other, strict=True))
        worse = any(cost(c, a) > cost(c, b) for c, a, b in pairs)
        return not worse and list(map(cost, CRITERIA, one)) != list(map(cost, CRITERIA, other))

    found = beaten_by(rows)
    for k, by in enumerate(found):
        assert (by is None) == (not any(better(other, rows[k]) for other in rows))
        if by is not None:
            assert found[by] is None
            assert beats(rows[by], rows[k])
    free = [k for k, by in enumerate(found) if by is None]
    assert free
    for k in free:
        for rival in free:  # of two different ones each gives something up
            if any(cost(c, a) != cost(c, b) for c, a, b in
                   zip(CRITERIA, rows[k], rows[rival], strict=True)):  # fmt: skip
                assert gives_up(rows, k, [rival])
                assert not beats(rows[k], rows[rival])


def test_more_room_is_better_and_no_limit_is_best() -> None:
    fit = CRITERIA[NAMES.index("fit")]
    assert cost(fit, None) < cost(fit, 10.0) < cost(fit, -124.0)
    joints = CRITERIA[NAMES.index("joints")]
    assert cost(joints, 0.0) < cost(joints, 4.0)


def test_weights_are_the_users_alone() -> None:
    rows = [[0.0] * len(CRITERIA), [0.0] * len(CRITERIA)]
    rows[0][NAMES.index("joints")] = 4.0
    rows[1][NAMES.index("dead")] = 2.0
    assert scores(rows, {}) == [0.0, 0.0]
    assert scores(rows, {"joints": 1.0}) == [1.0, 0.0]
    assert scores(rows, {"joints": 1.0, "dead": 3.0}) == [1.0, 3.0]
    assert leads_in(rows, 0, [1]) == [NAMES.index("dead")]


CURES = """
[run]
duration_s = 60
[[fix]]
name = "four jumpers"
[[fix.jumper]]
from = "board/scissors/A-inner-west"
to = "board/scissors/A-inner-east"
[[fix.jumper]]
from = "board/scissors/B-inner-west"
to = "board/scissors/B-inner-east"
[[fix.jumper]]
from = "board/scissors/A-mid-west"
to = "board/scissors/A-mid-east"
[[fix.jumper]]
from = "board/scissors/B-mid-west"
to = "board/scissors/B-mid-east"
[[fix]]
name = "clean"
clean = ["board/scissors/*"]
[[fix]]
name = "solder"
solder = ["board/scissors/joiner-*"]
[[fix]]
name = "reverse B"
reverse = ["cab B"]
[[fix]]
name = "another piece"
alter = [{ piece = "board/scissors", set = { family = "insulated frog, all live",
    centre_gap = false } }]
[[fix]]
name = "changeover"
changeover = [{ section = "board/scissors/A-mid-west", lever = "board/scissors/AW", to = {
    through = "board/scissors/A-inner-west", diverging = "board/scissors/A-outer" } }]
""".replace(",\n    ", ", ").replace("to = {\n    ", "to = { ")


def scenario() -> Scenario:
    return scenario_from_text(between_text() + CURES)


@pytest.fixture(scope="module")
def table() -> Weighing:
    return weigh(Project(scenario()), 1, 1, 1, Asked(gangs=True))


def value(table: Weighing, case: str, name: str) -> float | None:
    row = next(c for c in table.cases if c.name == case)
    return row.values[NAMES.index(name)]


def test_cures_without_wire_stand_in_the_same_table(table: Weighing) -> None:
    names = [c.name for c in table.cases]
    assert names[:7] == ["as built", "four jumpers", "clean", "solder", "reverse B",
                         "another piece", "changeover"]  # fmt: skip
    assert [c.name for c in table.cases if c.found] == [
        "found 1 inside", "found 1 under the board", "found 1 added lengths", "found 1 feeder"
    ]  # fmt: skip
    for case in ("clean", "solder", "reverse B", "changeover"):
        assert value(table, case, "dead") == value(table, "as built", "dead") == 2
    assert value(table, "another piece", "dead") == 0
    assert value(table, "another piece", "replaced") == 1
    assert value(table, "solder", "joints") == 4  # two tracks, two rails, the eastern joint
    assert value(table, "changeover", "joints") == 3
    assert value(table, "reverse B", "joints") == 0


def test_values_of_wired_cures(table: Weighing) -> None:
    for case, joints in (("found 1 inside", 4), ("four jumpers", 8)):
        assert value(table, case, "dead") == 0
        assert value(table, case, "short") == 0
        assert value(table, case, "joined") == 0
        assert value(table, case, "joints") == joints
        assert value(table, case, "opened") == 1
    # all four ganged: a lever that does not follow shorts the frog-to-frog jumpers
    assert value(table, "four jumpers", "now-short") > value(
        table, "found 1 inside", "now-short"
    )
    assert value(table, "four jumpers", "survived") > value(table, "found 1 inside", "survived")
    assert value(table, "as built", "survived") == 0  # nothing survives what is dead already
    assert value(table, "found 1 added lengths", "fit") == 186.0
    assert value(table, "found 1 under the board", "held-down") == 1
    assert value(table, "found 1 inside", "clearance") == pytest.approx(0.989)


def test_what_nothing_beats_is_explained(table: Weighing) -> None:
    cases = {c.name: c for c in table.cases}
    assert cases["found 1 inside"].undominated
    assert cases["as built"].undominated  # no work at all
    for case in table.cases:
        if case.undominated:
            assert any(w.startswith("gives up: ") for w in case.words)
        else:
            assert cases[str(case.beaten_by)].undominated
    words = " ".join(cases["as built"].words)
    assert "settings with a dead place left (2, with " in words


def test_a_fix_that_does_not_fit_says_so() -> None:
    small = scenario_from_text(between_text(board_mm=310.0))
    table = weigh(Project(small), 1, 1, 1, Asked(gangs=True))
    row = next(c for c in table.cases if c.name == "found 1 added lengths")
    assert row.words[-1] == "does not fit: 124 mm too long for its board"
    assert value(table, row.name, "fit") == -124.0


def test_stalled_legs_are_those_of_the_comparison() -> None:
    from sim.judge.compare import compare

    loops = read_scenario(LOOPS)
    table = weigh(Project(loops), 2, 3, 1)
    cases = compare(Project(loops), 2, 3).cases
    for row, case in zip(table.cases, cases, strict=True):
        stalled = row.values[NAMES.index("stalled")]
        assert stalled == pytest.approx(1000.0 * case.stalled_legs / case.legs, abs=1e-3)
        assert row.values[NAMES.index("trips")] == pytest.approx(case.trips / 2, abs=1e-3)


OPPOSITE = """
format = 1
title = "opposite phase"
scale_ratio = 160
gauge_mm = 9
supply = [{ name = "A", kind = "digital" }, { name = "B", kind = "digital", reversed = true }]
line = [{ modules = ["w", "x", "e"] }]
[[module]]
name = "w"
piece = [{ name = "A", kind = "straight", length_mm = 600 },
    { name = "B", kind = "straight", length_mm = 600 }]
[[module]]
name = "x"
[[module.piece]]
name = "co"
kind = "single crossover"
family = "insulated frog, all live"
track_centres_mm = 25
frog_dead_mm = 10
[[module]]
name = "e"
piece = [{ name = "A", kind = "straight", length_mm = 600 },
    { name = "B", kind = "straight", length_mm = 600 }]
[[feeder]]
name = "a"
supply = "A"
plus = "w/A/north"
minus = "w/A/south"
[[feeder]]
name = "a2"
supply = "A"
plus = "e/A/north"
minus = "e/A/south"
[[feeder]]
name = "b"
supply = "B"
plus = "w/B/north"
minus = "w/B/south"
[[feeder]]
name = "b2"
supply = "B"
plus = "e/B/north"
minus = "e/B/south"
[[train]]
name = "railcar"
at = "w/A"
place_mm = 300
speed_mm_s = 200
orders = [{ do = "cross", at = "x/co" }]
[[train.vehicle]]
name = "coach"
length_mm = 100
pickups_mm = [10, 30, 70, 90]
motor = { speed_mm_s = 300, at_voltage_v = 8 }
[run]
duration_s = 60
[assumptions]
contact_opens = 0.0
lever_fails = 0.0
[[fix]]
name = "turn"
reverse = ["B"]
"""


def test_a_fix_that_only_prevents_trips_beats_as_built() -> None:
    """Loops of opposite phase: whoever crosses over trips both supplies, and none stalls.

    Reversing one supply cures it: common practice, no source.
    """
    built, turned = weigh(Project(scenario_from_text(OPPOSITE)), 1, 1, 1).cases[:2]
    trips, stalled = NAMES.index("trips"), NAMES.index("stalled")
    assert built.values[stalled] == turned.values[stalled] == 0.0
    assert (built.values[trips], turned.values[trips]) == (2.0, 0.0)
    assert built.beaten_by == "turn"
    assert turned.undominated


def test_same_seed_same_table() -> None:
    loops = read_scenario(LOOPS)
    assert weigh(Project(loops), 1, 5, 1) == weigh(Project(loops), 1, 5, 1)


def result(name: str, legs: int, stalled: int, trips: int) -> CaseResult:
    rate = stalled / legs if legs else None
    return CaseResult(
        name, "", False, legs, stalled, 0, 0, stalled, 0, trips, 0, 0, rate, None, None,
        (), (), Settings(1, 0, 0),
    )  # fmt: skip


def test_a_tripped_supply_cures_no_stall() -> None:
    """26 legs as built, 15 stalled; shorted at once, 2 are run and none of them stalls.

    By hand: 24 legs were never run, so 24 of 26 are stalled, 923 in 1,000.
    """
    cases = [result("as built", 26, 15, 0), result("bad", 2, 0, 1), result("good", 65, 0, 0)]
    found = stalled_legs(cases)
    assert [one.rate for one in found] == [576.923, 923.077, 0.0]
    (note,) = notes_on([case.name for case in cases], found)
    assert "'bad'" in note
    assert "24 of the legs" in note
    # Without a trip fewer legs are what they are, and a trip that keeps nobody counts not.
    calm = stalled_legs([result("as built", 26, 15, 0), result("slow", 16, 16, 0)])
    assert calm[1].rate == 1000.0
    assert stalled_legs([result("as built", 26, 13, 1), result("x", 30, 0, 2)])[1].rate == 0.0


def test_columns_are_parted_evenly_and_all_of_them_shown() -> None:
    """Nine columns of 9 in room for four of 9 + 3: three rows of three, not 4, 4 and 1."""
    assert list(blocks([9] * 9, 48)) == [(0, 3), (3, 6), (6, 9)]
    assert list(blocks([9] * 3, 48)) == [(0, 3)]
    assert list(blocks([80, 9, 9], 48)) == [(0, 1), (1, 3)]
    assert list(blocks([80], 48)) == [(0, 1)]


def test_no_word_of_the_table_is_broken(table: Weighing) -> None:
    text = StringIO()
    print_weigh(Page(text, width=80), table, "gapwright weigh x.toml")
    lines = text.getvalue().splitlines()
    heads = [line.split()[1:] for line in lines if line.strip().startswith("better ")]
    shown = [name.rstrip("*") for head in heads for name in head]
    assert shown == [str(k) for k in range(len(table.cases))]
    assert sum(line.startswith("settings shorted  ") for line in lines) == len(heads)
    assert all(len(line) <= 80 for line in lines)


def test_nothing_beside_it_is_nothing_to_choose() -> None:
    scenario = read_scenario(LOOPS).model_copy(update={"fix": ()})
    text = StringIO()
    print_weigh(
        Page(text, width=80), weigh(Project(scenario), runs=1), "gapwright weigh x.toml"
    )
    assert "There is nothing to choose" in text.getvalue()
    assert "every other case" not in text.getvalue()
