"""What a campaign says: whole runs, ranking, and which assumption could change the choice."""

from __future__ import annotations

from pathlib import Path

import pytest

from sim.judge.campaign_plan import Outcome, from_line, plan_campaign, to_line
from sim.judge.campaign_run import Extent, looks, widest
from sim.judge.tally import Tally
from sim.layout.project import Project
from sim.scenario.bands import assuming, bands_of
from tests.campaign.small import LOOPS, campaign, plan, scenario
from tests.checked import scenario_from_text


def counted(stalled: int, legs: int) -> Tally:
    legs_ = tuple(("local", str(k)) for k in range(stalled))
    return Tally(legs, legs_, 0, 0, (), 0, 0, 0, 0, True)


def test_bands_are_those_of_the_trade() -> None:
    """1 % to 50 % of contacts; 1 in 5000 to 1 in 50 throws: common practice, no source."""
    bands = {b.field: (b.value, b.low, b.high) for b in bands_of(scenario())}
    assert bands == {
        "contact_opens": (0.2, 0.01, 0.5),
        "lever_fails": (0.0, 0.0, 0.02),
    }
    own = assuming(assuming(scenario(), "contact_opens", 0.7), "lever_stays", 0.3)
    bands = {b.field: (b.value, b.low, b.high) for b in bands_of(own)}
    assert bands["contact_opens"] == (0.7, 0.01, 0.7)
    assert bands["lever_stays"] == (0.3, 0.03, 1.0)


def test_only_assumptions_that_some_part_uses_are_varied() -> None:
    made = plan(each_band=True)
    varied = [(v.band.field, v.value) for v in made.variants if v.band is not None]
    assert varied == [("contact_opens", 0.01), ("contact_opens", 0.5), ("lever_fails", 0.02)]
    assert len(plan_campaign(Project(scenario()), 5, each_band=False).variants) == 1


def test_plans_tell_campaigns_apart() -> None:
    first = plan_campaign(Project(scenario()), 5, False).digest
    assert first == plan_campaign(Project(scenario()), 5, True).digest
    assert first != plan_campaign(Project(scenario()), 6, False).digest
    other = assuming(scenario(), "contact_opens", 0.3)
    assert first != plan_campaign(Project(other), 5, False).digest


def test_which_assumption_could_change_the_choice(tmp_path: Path) -> None:
    found = campaign(tmp_path / "c", Extent(6, band_runs=6))
    swings = {s.band.field: s for s in found.swings}
    # Clean contacts win as assumed; where contacts hardly ever fail nothing is needed.
    assert swings["contact_opens"].own[0].case == "clean contacts"
    low, high = swings["contact_opens"].ends
    assert (low.value, high.value) == (0.01, 0.5)
    assert low.changes
    assert not high.changes
    assert not swings["lever_fails"].changes
    assert found.ranking[0].case == "clean contacts"


def test_whole_runs_have_plain_intervals(tmp_path: Path) -> None:
    found = campaign(tmp_path / "c", Extent(6))
    shares = {s.case: s for s in found.shares}
    assert shares["clean contacts"].runs == 1
    assert shares["clean contacts"].wilson is None
    built = shares["as built"]
    assert built.runs == 6
    assert built.wilson is not None
    assert built.exact is not None
    share = built.stalled / 6
    assert built.exact.low <= built.wilson.low <= share <= built.wilson.high
    assert built.wilson.high <= built.exact.high


def test_looks_are_fixed_beforehand() -> None:
    assert looks(50) == [20, 30, 40, 50]
    assert looks(45) == [20, 30, 40, 45]
    assert looks(7) == [7]


def test_the_widest_interval_counts() -> None:
    many = [counted(5, 10)] * 20 + [counted(4, 10)] * 20
    few = [counted(5, 10), counted(4, 10)]
    assert widest([many]) is not None
    narrow, wide = widest([many]), widest([few])
    assert narrow is not None
    assert wide is not None
    assert narrow < wide
    assert widest([many, few]) == wide
    # Pinned; the difference of its rounded ends is 0.45608430000000005 as it comes.
    assert repr(widest([[counted(5, 10)] * 2])) == "0.4560843"
    assert widest([[counted(0, 10)]]) is None  # one run: nothing in it is random


def test_lines_hold_whole_outcomes() -> None:
    from sim.judge.campaign_plan import Task

    outcome = Outcome(Task(2, 3), {0: counted(1, 2), 4: counted(0, 9)})
    line = to_line(outcome)
    assert from_line(line) == outcome
    assert to_line(from_line(line)) == line
    for bad in ("[]", "{}", "nonsense", '{"variant":0,"replication":0,"tallies":{"0":{}}}'):
        with pytest.raises(ValueError, match=r".*"):
            from_line(bad)


OWN = """
[[fix]]
name = "switches"
clean = ["board/scissors/*"]
clean_opens = 0.05
[[fix.changeover]]
section = "board/scissors/A-mid-west"
lever = "board/scissors/AW"
to = { through = "board/scissors/A-inner-west" }
opens = 0.02
[[fix.changeover]]
section = "board/scissors/A-mid-east"
lever = "board/scissors/AE"
to = { through = "board/scissors/A-inner-east" }
opens = 0.01
"""


def test_chances_of_single_pieces_and_fixes_are_varied_too() -> None:
    """All of one piece or fix change in proportion, the greatest by ten each way."""
    text = LOOPS.read_text(encoding="utf-8") + OWN
    given = 'kind = "scissors crossover"'
    assert given in text
    text = text.replace(given, f"{given}\nopens = {{ AW-through = 0.4, AE-through = 0.1 }}")
    own = scenario_from_text(text)
    bands = {b.field: (b.value, b.low, b.high) for b in bands_of(own)}
    number = len(own.fix) - 1
    (piece,) = (f for f in bands if f.endswith(".opens"))
    assert bands[piece] == (0.4, 0.04, 1.0)
    assert bands[f"fix[{number}].changeover"] == (0.02, 0.002, 0.2)
    assert bands[f"fix[{number}].clean_opens"] == (0.05, 0.005, 0.5)
    high = assuming(own, piece, 1.0)
    given_now = next(p.opens for m in high.module for p in m.piece if p.opens)
    assert given_now == {"AW-through": 1.0, "AE-through": 0.25}
    fix = assuming(own, f"fix[{number}].changeover", 0.2).fix[number]
    assert [c.opens for c in fix.changeover] == [0.2, 0.1]
    assert assuming(own, f"fix[{number}].clean_opens", 0.5).fix[number].clean_opens == 0.5
    varied = [
        v.band.field for v in plan_campaign(Project(own), 1).variants if v.band is not None
    ]
    assert varied.count(piece) == 2
    assert varied.count(f"fix[{number}].changeover") == 2


def test_the_chance_of_a_rule_is_varied_too() -> None:
    text = LOOPS.read_text(encoding="utf-8") + (
        '[[fault]]\non = "*joiner*"\nwhat = "open"\nchance = 0.04\nper = "run"\n'
        '[[fault]]\non = "cab A"\nwhat = "off"\nat_s = 3\n'
    )
    own = scenario_from_text(text)
    band = bands_of(own)[-1]
    assert (band.field, band.low, band.high) == ("fault[0]", 0.004, 0.4)
    assert "'open' of *joiner*, per run" in band.what
    other = assuming(own, "fault[0]", 0.4)
    assert [f.chance for f in other.fault] == [0.4, None]
    varied = [
        v.band.field for v in plan_campaign(Project(own), 1).variants if v.band is not None
    ]
    assert varied.count("fault[0]") == 2
