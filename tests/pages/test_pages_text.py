"""Pages for people: what they must say, at 80 and 120 columns, without colour in files."""

from __future__ import annotations

import io
from collections.abc import Callable
from dataclasses import replace

import pytest

from sim.judge.compare import compare_cases
from sim.judge.comparison import Comparison
from sim.layout.model import Element, Lever
from sim.pages.check import print_check
from sim.pages.compare import print_compare
from sim.pages.figures import clock, joined, percent, span
from sim.pages.page import Page, plain
from sim.pages.run import LEGS_LISTED, print_run
from sim.pages.states import print_states
from sim.pages.words import changes_in_words
from sim.power.chart import Chart
from sim.records.model import Event
from sim.scenario.problems import Problem
from tests import made


def said(tell: Callable[[Page], None], width: int = 100) -> str:
    out = io.StringIO()
    tell(Page(out, width))
    return out.getvalue()


def comparison() -> Comparison:
    cases = [made.case(), made.case("half"), made.case("cure")]
    notes = ["", "one wire", "two wires"]
    return compare_cases(cases, notes, 8, 1, 1, None, made.luck, made.survey)


def run_page(width: int = 100, **other: object) -> str:
    record = made.record(**other)
    again, cures = "gapwright run x", {"jumper 1": "make jumper 1 good"}
    return said(lambda p: print_run(p, record, made.ASSUMPTIONS, again, cures), width)


def compare_page(width: int = 100) -> str:
    found = comparison()
    return said(lambda p: print_compare(p, found, "gapwright compare x --seed 1"), width)


def states_page(width: int = 100) -> str:
    return said(lambda p: print_states(p, made.chart(), "gapwright states x"), width)


@pytest.mark.parametrize("width", [80, 120])
@pytest.mark.parametrize("page", [run_page, compare_page, states_page])
def test_pages_fit_their_width_and_lose_nothing(page: Callable[[int], str], width: int) -> None:
    text = page(width)
    assert max(len(line) for line in text.splitlines()) <= width
    assert "…" not in text
    assert "\x1b" not in text
    assert not any(line.endswith(" ") for line in text.splitlines())


def flat(text: str) -> str:
    return " ".join(text.split())


def test_run_page_counts_first_and_tells_causes() -> None:
    text = run_page()
    first = flat(text).index
    assert "3 legs (1 clean, 1 hesitated, 1 stalled), 2 stalls" in flat(text)
    assert first("2 stalls") < first("Legs of the timetable")
    assert "1. Along board/scissors/A-west-A-east, 2 times\n" in text
    assert "Right rail without supply on section board/scissors/A-mid: floating" in text
    assert "at 0:12.2 local, 142.5 mm in, nudged on 2 times" in text
    assert "2. contact board/scissors/AW-through stayed open" in text
    assert "make jumper 1 good and jumper 2" in text
    assert "Charged to board/scissors." in text
    assert "at 0:50.0 cab A at 1.25 A; halted local and goods; cab A is shorted; by" in flat(
        text
    )
    assert "forced over" in text
    assert "Yours:\n   - a contact stays open: 5 % of throws\n" in text
    assert "gapwright run x" in text
    assert "The seed is 7" in text


def test_run_page_lists_what_failed_and_what_was_mended() -> None:
    events = (
        Event(10.0, "fault", "cab", "off"),
        Event(70.0, "mended", "cab", "off"),
        Event(80.0, "throw", "m/p/AW", "to through"),
        Event(80.0, "stayed open", "m/p/AW-through", "throw 1"),
        Event(90.0, "stayed open", "m/p/AW-through", "throw 3"),
        Event(95.0, "did not follow", "m/p/AE", "stays diverging"),
        Event(96.0, "fault", "drop+", "open"),
        Event(97.0, "mended", "drop+", "open"),
        Event(98.0, "fault", "drop+", "open"),
    )
    rows = [" ".join(line.split()) for line in run_page(events=events).splitlines()]
    start = rows.index("What failed")
    assert rows[start + 3 : start + 7] == [
        "cab off 1 0:10.0 1:10.0",
        "m/p/AW-through stayed open 2 1:20.0 -",
        "m/p/AE stayed where it was 1 1:35.0 -",
        "drop+ open 2 1:36.0 -",
    ]
    assert "What failed" not in run_page(events=())


def test_stalls_without_a_section_or_a_dead_side_are_told_in_words() -> None:
    bare = made.stall(section="", side="both", kind="insulated", nudges=1)
    weak = made.stall(side=None, kind="starved", nudges=0)
    text = run_page(stalls=(bare, weak))
    assert "Both rails without supply: insulated (no metal under a wheel).\n" in text
    assert "nudged on once\n" in text
    frog = made.stall(kind="insulated")  # the other side's section: there is no metal here
    assert (
        "Right rail without supply beside section board/scissors/A-mid: insulated"
        in run_page(stalls=(frog,))
    )
    assert "Starved on section board/scissors/A-mid: connected, but too few volts" in text
    assert "\nplastic or dirt " in text


def test_changes_are_orders_to_a_builder() -> None:
    layout = replace(
        made.EMPTY,
        elements=(Element("m/p/gap", "gap", 0, 1), Element("m/p/c", "contact", 0, 1)),
        levers=(Lever("m/p/AW", ("through", "diverging"), 0, "forced over", 0.0, 0),),
    )
    assert changes_in_words(layout) == {
        "m/p/gap": "bridge gap m/p/gap with a wire",
        "m/p/c": "let contact m/p/c make",
        "m/p/AW": "move lever m/p/AW",
    }


def test_run_page_of_a_certain_run_says_so() -> None:
    text = run_page(random=False)
    assert "Nothing in it is left to chance" in text
    assert "The seed is" not in text


def test_run_page_counts_many_legs_by_train() -> None:
    legs = tuple(made.leg("local", f"lap {k}") for k in range(LEGS_LISTED + 1))
    text = run_page(legs=(*legs, made.leg("goods", "the bad one", "tripped")))
    assert "31 clean" in text
    assert "the bad one" in text
    assert "lap 7" not in text


def test_states_page_tells_common_things_once() -> None:
    text = states_page()
    assert "2 settings in 1 group of levers" in flat(text)
    assert "2 have a dead route and 1 is shorted" in flat(text)
    assert text.count("west-east") == 1
    assert "board/points: lever through" in text
    assert "SHORT of cab A+ and cab A- through:" in text
    assert "Live: east/track: west-east" in text
    assert "DEAD: board/points/points-through" in text
    assert "SHORT: board/points/points-diverging" in text
    assert "70.0 80.0 plastic insulated" in flat(text)
    assert "80.0 124.0 SN HT floating" in flat(text)
    assert "floating: one rail is fed by nothing" in text
    assert "Joins cab A+ and cab B+ by one pole only" in flat(text)
    assert "nothing" in text


def test_states_page_merges_settings_that_are_alike() -> None:
    chart = made.chart()
    first = chart.settings[0]
    other = [("board/points/lever", "through"), ("board/points/lever", "middle")]
    twins = tuple(type(first)((lever,), first.fed_by, first.routes, (), ()) for lever in other)
    found = Chart("Two loops", None, twins, 1, 2)
    text = said(lambda p: print_states(p, found, "x"))
    assert text.count("1. 2 settings alike: dead") == 1
    assert "- board/points: lever through" in text
    assert "- board/points: lever middle" in text


def test_states_page_repeats_why_some_were_skipped() -> None:
    found = Chart("Two loops", None, (), 1, 70000, "70000 settings are too many")
    text = said(lambda p: print_states(p, found, "x"))
    assert "70000 settings in 1 group" in flat(text)
    assert "70000 settings are too many" in text


def test_compare_page() -> None:
    text = compare_page(120)
    found = comparison()
    built = found.as_built
    assert "as built and 2 fixes, 8 runs of 20 min each, seed 1" in flat(text)
    assert f"{percent(built.stall_low)} to {percent(built.stall_high)}" in text
    assert f"Removes all {built.stalls} stalls in 8 runs." in text
    assert "2 cure: two wires" in text
    assert "Shorts in 1 of 4 settings (none as built)." in text
    assert "Stalls by section" in text
    assert "Stalls by piece at fault" in text
    assert "0.0078" in text  # 2 / 2^8
    assert "Common practice, no source:\n   - joiner: 5 mΩ\n" in text
    assert "gapwright compare x --seed 1" in text


def test_an_interval_is_not_broken_where_names_are_long() -> None:
    """At 80 columns the name of the case gives way, not the number."""
    found = comparison()
    cases = tuple(
        replace(
            c,
            name="a name that is rather long",
            stall_low=0.352,
            stall_high=0.648,
            stall_rate=0.5,
        )
        for c in found.cases
    )
    page = said(lambda p: print_compare(p, replace(found, cases=cases), "x"), 80)
    rows = [line for line in page.splitlines() if "35.2 %" in line]
    assert len(rows) == len(cases)
    assert all("35.2 % to 64.8 %" in line for line in rows)


def test_compare_page_without_chance_or_fixes() -> None:
    found = compare_cases(
        [made.case()], [""], 8, 1, 1, None, made.certain, lambda _: made.BUILT
    )
    text = said(lambda p: print_compare(p, found, "x"))
    assert "Nothing in it is left to chance" in text
    assert "states no fix" in text
    assert "%  to" not in text


def test_check_page() -> None:
    problems = [
        Problem("run", "a", "b", "warning"),
        Problem("title", "text", "5", "error", 3),
    ]
    text = said(lambda p: print_check(p, "x.toml", problems))
    assert "x.toml: 1 error, 1 warning: cannot be used as it is." in text
    assert text.index("title (line 3): expected text, found 5") < text.index("run: expected")
    assert "no problems" in said(lambda p: print_check(p, "x.toml", []))
    assert "can be used" in said(lambda p: print_check(p, "x.toml", problems[:1]))


def test_names_are_shown_not_obeyed() -> None:
    nasty = made.leg("[bold]a[/bold] :smile:\x1b[31m", "1")
    text = run_page(legs=(nasty,))
    assert "[bold]a[/bold] :smile:?[31m" in text
    assert "\x1b" not in text


def test_small_words() -> None:
    assert clock(187.46) == "3:07.5"
    assert clock(59.96) == "1:00.0"
    assert span(1200.0) == "20 min"
    assert span(7.5) == "7.5 s"
    assert joined(["a", "b", "c"]) == "a, b and c"
    assert joined([]) == ""
    assert percent(None) == "-"
    assert plain("a\tb\x07") == "a?b?"


def test_ids_are_parted_at_their_strokes() -> None:
    """A table that is too narrow for its ids parts them where a reader would."""
    name = "south junction/scissors/A-west-A-east"
    page = said(lambda p: p.table(("Route", "Part"), [(name, name)] * 2), 28)
    words = {word for line in page.splitlines()[2:] for word in line.split()}
    assert words == {"south", "junction/", "scissors/A-", "west-A-east"}
