"""Two kinds of luck with contacts: one throw that misses, and one that is bad for a run."""

from __future__ import annotations

import pytest

from sim.analyses.odds.basic_events import Doubts
from sim.layout.assemble import assemble, survey
from sim.layout.model import Element
from sim.layout.traffic import Case
from sim.pages.phrases import cause_lines
from sim.run.faults import may_happen
from sim.run.run import run
from sim.scenario.bands import assuming, bands_of
from sim.scenario.problems import ScenarioError
from sim.scenario.read import scenario_from_text
from tests.run.plans import Plan
from tests.scenario.texts import BRANCH, ONE


def text_of(piece: str = "", assumed: str = "", fix: str = "") -> str:
    """A board with a live turnout; keys of it and of the assumptions."""
    text = (ONE + BRANCH).replace('kind = "turnout"', f'kind = "turnout"\n{piece}')
    return f"{text}{fix}\n[assumptions]\n{assumed}\n"


def case_of(piece: str = "", assumed: str = "", fix: str | None = None) -> Case:
    tables = "" if fix is None else f'[[fix]]\nname = "f"\n{fix}\n'
    scenario = scenario_from_text(text_of(piece, assumed, tables))
    return assemble(scenario, None if fix is None else "f")


def contacts(case: Case) -> list[Element]:
    return [e for e in case.layout.elements if e.kind == "contact"]


@pytest.mark.parametrize(
    ("piece", "assumed", "opens", "bad"),
    [
        # Common practice, no source: 1 throw in 500; 10 % of what nobody has tested.
        ("", "", 0.002, 0.0),
        ("tested = true", "", 0.002, 0.0),
        ("tested = false", "", 0.002, 0.1),
        # A file that gives its own probability behaves as it did.
        ("", "contact_opens = 0.1", 0.1, 0.0),
        ("opens = { through = 0.3, diverging = 0.3 }", "contact_opens = 0.1", 0.3, 0.0),
        ("tested = false", "contacts_bad = 0.25", 0.002, 0.25),
        ("tested = false\ncontacts_bad = 0.5", "contacts_bad = 0.25", 0.002, 0.5),
        ("contacts_bad = 0.5", "", 0.002, 0.5),
    ],
)
def test_what_is_taken_where_nothing_or_something_is_said(
    piece: str, assumed: str, opens: float, bad: float
) -> None:
    assert {(e.opens, e.bad) for e in contacts(case_of(piece, assumed))} == {(opens, bad)}


def test_what_was_assumed_is_told_and_marked_as_decisive() -> None:
    told = {a.what: a for a in case_of().assumptions if a.decisive}
    assert told["a contact that should close stays open"].value == "0.002 per throw"
    assert told["contacts that are bad for a whole run"].value.startswith("none")
    untested = {a.what: a for a in case_of("tested = false").assumptions if a.decisive}
    what = "contacts of pieces not tested that are bad for a whole run"
    assert untested[what].value.startswith("0.1 ")
    given = case_of("tested = true", "contact_opens = 0.01")
    assert not any("contact" in a.what for a in given.assumptions if a.decisive)
    plain = assemble(scenario_from_text(ONE))
    assert not [a for a in plain.assumptions if a.decisive]  # it has neither contact nor gang


def test_a_share_that_holds_for_no_piece_is_warned_of() -> None:
    found = survey(scenario_from_text(text_of(assumed="contacts_bad = 0.2")))[1]
    assert [p.code for p in found if p.severity == "warning"] == ["nothing-untested"]
    found = survey(scenario_from_text(text_of("tested = false", "contacts_bad = 0.2")))[1]
    assert not [p for p in found if p.code]


def test_cleaning_and_testing_a_piece_make_its_contacts_sound() -> None:
    clean = case_of("tested = false", fix='clean = ["fork/T/*"]')
    assert {(e.opens, e.bad) for e in contacts(clean)} == {(0.0, 0.0)}
    tested = 'alter = [{ piece = "fork/T", set = { tested = true } }]'
    assert {e.bad for e in contacts(case_of("tested = false", fix=tested))} == {0.0}


@pytest.mark.parametrize("given", ["tested = 3", "contacts_bad = 2", "contacts_bad = true"])
def test_a_fix_that_alters_them_is_checked(given: str) -> None:
    fix = f'alter = [{{ piece = "fork/T", set = {{ {given} }} }}]'
    with pytest.raises(ScenarioError, match=given.split(" = ", maxsplit=1)[0]):
        case_of(fix=fix)


def test_in_exact_odds_a_contact_fails_for_either_reason() -> None:
    """1 - 0.998 * 0.9 = 0.1018 (by hand)."""
    doubts = Doubts(case_of("tested = false").layout)
    assert {d.chance for d in doubts.all if d.kind == "contact"} == {0.1018}


def test_bands() -> None:
    """1 to 50 % of the contacts: common practice, no source."""
    scenario = scenario_from_text(text_of("tested = false"))
    bands = {b.field: (b.value, b.low, b.high) for b in bands_of(scenario)}
    assert bands["contacts_bad"] == (0.1, 0.01, 0.5)
    other = assemble(assuming(scenario, "contacts_bad", 0.5))
    assert {e.bad for e in contacts(other)} == {0.5}
    assert "contacts_bad" not in {b.field for b in bands_of(scenario_from_text(text_of()))}
    own = scenario_from_text(text_of("contacts_bad = 0.02"))
    field = "module[1].piece[0].contacts_bad"
    bands = {b.field: (b.value, b.low, b.high) for b in bands_of(own)}
    assert bands[field] == (0.02, 0.002, 0.2)
    assert {e.bad for e in contacts(assemble(assuming(own, field, 0.2)))} == {0.2}


def shuttle(**piece: object) -> Case:
    """A ring over a turnout whose through rail hangs on one contact, thrown now and then."""
    plan = Plan(240.0, assumptions={"contact_opens": 0.0, "lever_fails": 0.0})
    plan.supply().straight("a", 900.0, "cab")
    plan.turnout("t", "through", family="insulated frog, power routing", **piece)
    plan.straight("b", 900.0).add("[[gap]]", at="b/P/east")
    plan.add("[[throw]]", at_s=1.0, every_s=4.0, lever="t/P/lever",
             to=["diverging", "through"])  # fmt: skip
    return plan.case(ring=True)


def test_in_a_run_a_bad_contact_is_open_at_every_throw() -> None:
    case = shuttle(contacts_bad=1.0)
    record = run(case, 1)
    told = [e for e in record.events if e.what == "fault"]
    assert {(e.time_s, e.detail) for e in told} == {(0.0, "bad for the whole run")}
    missed = [e for e in record.events if e.what == "stayed open"]
    assert len(missed) > 20  # at each of 60 throws one of its two contacts should close


def test_a_stall_on_it_says_so() -> None:
    plan = Plan(40.0).supply().straight("a", 800.0, "cab")
    plan.turnout("t", "through", family="live frog", contacts_bad=1.0)
    plan.straight("b", 400.0).straight("c", 800.0, "cab").add("[[gap]]", at="b/P/east")
    plan.train(orders=[{"do": "run", "to": "c/P"}])
    stall = plan.record(circuit=True).stalls[0]
    causes = " ".join(cause_lines(stall.cause))
    assert "contact t/P/through is bad for the whole run" in causes
    assert "at its last throw" not in causes
    assert ("t/P/through",) in stall.would_restore


def test_it_is_drawn_once_a_run_by_the_name_of_the_contact() -> None:
    case = shuttle(contacts_bad=0.3)
    assert may_happen(case)
    bad = 0
    for seed in range(40):
        events = run(case, seed).events
        stuck = {e.who for e in events if e.what == "fault"}
        assert {e.who for e in events if e.what == "stayed open"} <= stuck
        bad += len(stuck)
    # Two contacts in 40 runs: 80 draws of 0.3; six deviations are 25.
    assert abs(bad - 24) < 25
    assert bad
    assert not may_happen(shuttle())
