"""Orders that cannot be carried out: told before the run, and true of the run.

Every case is settled twice: by the check, and by running the train for as long as the
timetable could take.  Rules of this project, no other source.
"""

from __future__ import annotations

import pytest

from sim.layout.assemble import assemble
from sim.layout.order_check import undoable_orders
from sim.layout.traffic import Case
from sim.run.run import run
from tests.checked import scenario_from_text
from tests.scenario.texts import HEAD

TRACK = (
    HEAD
    + """
[[supply]]
name = "cab"
kind = "digital"
[[feeder]]
name = "a A"
supply = "cab"
plus = "a/A/north"
minus = "a/A/south"
[[feeder]]
name = "a B"
supply = "cab"
plus = "a/B/north"
minus = "a/B/south"
[[feeder]]
name = "b A"
supply = "cab"
plus = "b/A/north"
minus = "b/A/south"
[[feeder]]
name = "b B"
supply = "cab"
plus = "b/B/north"
minus = "b/B/south"
[[module]]
name = "a"
[[module.piece]]
name = "A"
kind = "straight"
length_mm = 600
[[module.piece]]
name = "B"
kind = "straight"
length_mm = 600
[[module]]
name = "b"
joins = [["X/A-east", "A/west"], ["X/B-east", "B/west"]]
[[module.piece]]
name = "X"
kind = "single crossover"
family = "insulated frog, all live"
frog_number = 6
track_centres_mm = 33
[[module.piece]]
name = "A"
kind = "straight"
length_mm = 600
[[module.piece]]
name = "B"
kind = "straight"
length_mm = 600
[[run]]
"""
).replace("[[run]]", "[run]\nduration_s = 120")
LINE = '[[line]]\nmodules = ["a", "b"]\nring = '
TRAIN = """
[[train]]
name = "engine"
at = "a/A"
place_mm = 300
speed_mm_s = 200
repeat = {repeat}
orders = [{orders}]
[[train.vehicle]]
name = "engine"
length_mm = 80
pickups_mm = [5, 75]
motor = {{ speed_mm_s = 400, at_voltage_v = 12 }}
"""


def case_of(orders: str, ring: bool = False, repeat: bool = False) -> Case:
    text = TRACK + LINE + str(ring).lower() + "\n"
    text += TRAIN.format(orders=orders, repeat=str(repeat).lower())
    return assemble(scenario_from_text(text))


def told(case: Case) -> list[str]:
    problems = undoable_orders(case)
    assert all(problem.severity == "warning" for problem in problems)
    return [f"{p.where} {p.found}" for p in problems]


CANNOT = [
    ("{ do = 'circulate' }", False, 0, "track that is no ring"),
    ("{ do = 'run', to = 'b/A' }, { do = 'run', to = 'a/A' }", False, 1, "'a/A'"),
    ("{ do = 'stop', on = 'b/A', for_s = 1 }, { do = 'stop', on = 'a/A' }", False, 1, "'a/A'"),
    ("{ do = 'run', to = 'b/A', backward = true }", False, 0, "'b/A'"),
    ("{ do = 'run', to = 'a/A' }", False, 0, "'a/A'"),
    ("{ do = 'cross', at = 'b/X', backward = true }", True, 0, "where no route from"),
]
CAN = [
    ("{ do = 'circulate' }", True),
    ("{ do = 'run', to = 'b/A' }", False),
    ("{ do = 'run', to = 'b/B' }", False),
    ("{ do = 'run', to = 'a/A' }", True),
    ("{ do = 'cross', at = 'b/X' }", False),
    ("{ do = 'stop', on = 'b/A' }, { do = 'stop', on = 'a/A', backward = true }", False),
]


@pytest.mark.parametrize(("orders", "ring", "number", "says"), CANNOT)
def test_what_is_warned_of_is_never_done(
    orders: str, ring: bool, number: int, says: str
) -> None:
    case = case_of(orders, ring)
    (only,) = told(case)
    assert only.startswith(f"train[0].orders[{number}].do")
    assert says in only
    legs = run(case, 1).legs
    assert [leg.outcome == "clean" for leg in legs] == [True] * number + [False]


@pytest.mark.parametrize(("orders", "ring"), CAN)
def test_what_can_be_done_is_not_warned_of(orders: str, ring: bool) -> None:
    case = case_of(orders, ring)
    assert told(case) == []
    legs = run(case, 1).legs
    if "b/B" not in orders:  # nobody throws the crossover for it: possible, but not done
        assert [leg.outcome for leg in legs] == ["clean"] * orders.count("do =")


def test_a_second_round_is_looked_at_too() -> None:
    (only,) = told(case_of("{ do = 'stop', on = 'b/A' }, { do = 'wait', for_s = 1 }",
                           repeat=True)) or [""]  # fmt: skip
    assert only == ""  # it may stop there again at once
    (only,) = told(case_of("{ do = 'run', to = 'b/X' }, { do = 'run', to = 'b/A' }",
                           repeat=True))  # fmt: skip
    assert only.endswith("once the orders are repeated")


def test_a_train_that_another_may_drag_about_is_not_judged() -> None:
    text = TRACK.replace('kind = "digital"', 'kind = "dc"') + LINE + "false\n"
    one = TRAIN.format(orders="{ do = 'circulate' }", repeat="false")
    two = (
        TRAIN.replace("a/A", "a/B")
        .replace('"engine"\nat', '"other"\nat')
        .format(orders="{ do = 'run', to = 'b/B', backward = true }", repeat="false")
    )
    assert len(told(assemble(scenario_from_text(text + one)))) == 1
    assert told(assemble(scenario_from_text(text + one + two))) == []
