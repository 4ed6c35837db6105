"""Faults in a run: on purpose, by chance, and set right again."""

from __future__ import annotations

from dataclasses import replace

import pytest

from sim.analyses.odds.basic_events import left_out
from sim.analyses.odds.odds import exact_odds
from sim.analyses.survey.survey import survey
from sim.faults.kinds import FOUND
from sim.layout.traffic import Case
from sim.pages.phrases import cause_lines
from sim.records.model import Record
from sim.run.faults import with_dirt
from sim.run.run import is_random, run
from sim.scenario.problems import ScenarioError
from sim.scenario.read import scenario_from_text
from tests.faults.layouts import HEAD, case

#: A train goes round an oval with one turnout on it; the siding leads nowhere.
OVAL = (
    HEAD
    + """
supply = [{ name = "cab" }]
feeder = [
  { name = "drop", supply = "cab", plus = "m/home/north", minus = "m/home/south" }
]
assumptions = { contact_opens = 0, lever_fails = 0, lever_stays = 0 }
run = { duration_s = 60, nudge_after_s = 2 }
throw = [
  { at_s = 5, every_s = 10, lever = "m/T/lever", to = ["diverging", "through"] },
]

[[module]]
name = "m"
ends = { west = ["home/west"], east = ["T/through"] }
joins = [["home/east", "T/points"]]
[[module.piece]]
name = "home"
kind = "straight"
length_mm = 1000
[[module.piece]]
name = "T"
kind = "turnout"
family = "insulated frog, power routing"
[[module]]
name = "far"
piece = [{ name = "P", kind = "straight", length_mm = 1500 }]
[[line]]
modules = ["m", "far"]
ring = true

[[train]]
name = "local"
at = "far/P"
place_mm = 100
speed_mm_s = 100
coasting_mm = 0.5
coasting_from_mm_s = 100
orders = [{ do = "wait", for_s = 1 }]
[[train.vehicle]]
name = "engine"
length_mm = 40
pickups_mm = [5, 35]
motor = { speed_mm_s = 200, at_voltage_v = 12 }
"""
)
CLOSED = OVAL.replace("throw = [\n", "# ").replace('"through"] },\n]', '"through"] }')
ROUND = CLOSED.replace(
    '{ do = "wait", for_s = 1 }', '{ do = "wait", for_s = 1 }, { do = "circulate", laps = 2 }'
)


def faulty(text: str, *faults: str) -> Case:
    return case(text + "".join(f"[[fault]]\n{f}\n" for f in faults))


def told(record: Record, *whats: str) -> list[tuple[float, str, str, str]]:
    return [
        (e.time_s, e.what, e.who, e.detail)
        for e in record.events
        if e.what in (whats or ("fault", "mended"))
    ]


def test_a_joiner_that_opens_at_its_time_and_comes_back() -> None:
    fault = 'on = "m/home/joiner-east-north"\nwhat = "open"\nat_s = 2\nfor_s = 3.5'
    made = faulty(ROUND, fault)
    assert not is_random(made)
    record = run(made, 1)
    assert told(record) == [
        (2.0, "fault", "m/home/joiner-east-north", "open"),
        (5.5, "mended", "m/home/joiner-east-north", "open"),
    ]
    # The oval feeds everything the other way round, so nobody notices.
    assert record.stalls == ()


def test_two_open_joiners_cut_an_oval_in_half() -> None:
    made = faulty(
        ROUND,
        'on = "m/home/joiner-east-north"\nwhat = "open"\nat_s = 2',
        'on = "far/P/joiner-east-north"\nwhat = "open"\nat_s = 4\nfor_s = 20',
    )
    record = run(made, 1)
    stall = record.stalls[0]
    assert 4 <= stall.time_s < 5
    assert stall.kind == "floating"
    assert "joiner far/P/joiner-east-north has lost contact" in cause_lines(stall.cause)
    assert ("m/home/joiner-east-north",) in stall.would_restore
    assert ("far/P/joiner-east-north",) in stall.would_restore
    assert record.legs[0].outcome == "stalled"
    assert any(leg.start_s > 24 for leg in record.legs)  # it goes on when one is back


@pytest.mark.parametrize("circuit", [True, False])
def test_a_feeder_is_off_for_a_while(circuit: bool) -> None:
    made = faulty(ROUND, 'on = "drop+"\nwhat = "off"\nat_s = 3\nfor_s = 4')
    record = run(made, 1, circuit=circuit)
    (stall,) = record.stalls
    assert 3 <= stall.time_s < 3.1
    assert ("drop+",) in stall.would_restore


def test_a_supply_that_is_off_trips_nobody_and_stalls_nobody() -> None:
    record = run(faulty(ROUND, 'on = "cab"\nwhat = "off"\nat_s = 3\nfor_s = 4'), 1)
    assert told(record) == [(3.0, "fault", "cab", "off"), (7.0, "mended", "cab", "off")]
    assert record.trips == ()
    assert record.stalls == ()
    assert record.legs[0].outcome in ("clean", "hesitated", "tripped")


def test_a_contact_that_stays_open_at_the_second_throw() -> None:
    """The throws come at 5, 15, 25 … s; the second and fourth are back to through."""
    made = faulty(OVAL, 'on = "m/T/through"\nwhat = "open"\nat_throw = 2')
    record = run(made, 1)
    opened = told(record, "stayed open")
    assert opened
    assert {(time_s, detail) for time_s, _, _, detail in opened} == {(15.3, "throw 2")}


def test_a_lever_that_stays_at_the_third_throw() -> None:
    record = run(faulty(OVAL, 'on = "m/T/lever"\nwhat = "stays"\nat_throw = 3'), 1)
    assert told(record, "did not follow") == [
        (25.0, "did not follow", "m/T/lever", "stays through")
    ]


def test_a_contact_opens_under_way_and_a_throw_clears_it() -> None:
    fault = 'on = "m/T/through"\nwhat = "open"\nat_s = 1\ncleared_by = ["throw"]'
    record = run(faulty(OVAL, fault), 1)
    assert told(record) == [
        (1.0, "fault", "m/T/through", "open"),
        (5.0, "mended", "m/T/through", "open"),
    ]
    assert not told(record, "stayed open")  # good again at its next closing


def test_a_contact_that_never_opens_joins_both_ways() -> None:
    welded = 'on = "m/T/through"\nwhat = "never opens"\nat_s = 1\nfor_s = 8'
    text = OVAL.replace("insulated frog, power routing", "live frog")
    record = run(faulty(text, welded), 1, circuit=False)
    # From 5.3 s the frog hangs on both stock rails; the weld ends at 9 s.
    trip = record.trips[0]
    assert 5.3 <= trip.time_s <= 9.0


def test_a_contact_that_never_opens_from_the_start_is_closed_from_the_start() -> None:
    """As the survey has it: closed in every setting, the first included (power.md, 6)."""
    welded = 'on = "m/T/diverging"\nwhat = "never opens"\nchance = 1\nper = "run"'
    text = OVAL.replace("insulated frog, power routing", "live frog")
    record = run(faulty(text, welded), 1, circuit=False)
    assert record.trips[0].time_s < 5.0  # before any throw
    single = {h.faults[0].id: h for h in survey(faulty(text)).single}
    assert single["m/T/diverging: contact never opens"].short == 1


def test_what_two_rules_open_is_mended_when_both_have_gone() -> None:
    """Whatever word each has for it: a joiner that is off is a joiner that is open."""
    at = 'on = "far/P/joiner-east-north"\n'
    both = at + 'what = "open"\nat_s = 2\nfor_s = 3', at + 'what = "off"\nat_s = 4\nfor_s = 6'
    assert told(run(faulty(CLOSED, *both), 1)) == [
        (2.0, "fault", "far/P/joiner-east-north", "open"),
        (4.0, "fault", "far/P/joiner-east-north", "off"),
        (10.0, "mended", "far/P/joiner-east-north", "off"),
    ]


def test_a_joiner_open_for_the_whole_run_is_not_mended_by_a_rule() -> None:
    at = 'on = "far/P/joiner-east-north"\nwhat = "open"\n'
    both = at + 'chance = 1\nper = "run"', at + "at_s = 4\nfor_s = 6"
    record = run(faulty(CLOSED, *both), 1)
    assert [what for _, what, *_ in told(record)] == ["fault", "fault"]


def test_an_open_contact_for_a_run_is_a_chance_of_the_contact() -> None:
    rule = 'on = "m/T/through"\nwhat = "open"\nchance = 0.25\nper = "run"'
    made = faulty(OVAL, rule)
    assert made.wear == ()
    assert [e.bad for e in made.layout.elements if e.kind == "contact"] == [0.25, 0.0]
    assert left_out(made.wear) == ()
    assert {w.part: w.chance for w in exact_odds(made).weights} == {"m/T/through": 0.25}


def test_a_contact_that_comes_and_goes_with_trains() -> None:
    fault = 'on = "m/T/through*"\nwhat = "open"\nchance = 0.5\nper = "pass"'
    text = ROUND.replace("laps = 2", "laps = 40").replace("duration_s = 60", "duration_s = 900")
    made = faulty(text, fault)
    assert is_random(made)
    record = run(made, 3)
    came = told(record, "fault")
    went = told(record, "mended")
    assert came
    assert went
    assert {time_s for time_s, *_ in came} <= {p.enter_s for p in record.passes}
    again = run(made, 3)
    assert again == record


def test_a_nudge_clears_what_it_shakes() -> None:
    fault = 'on = "m/T/through*"\nwhat = "open"\nat_s = 1\ncleared_by = ["nudge"]'
    # Without the way round, what lies past the frog hangs on that contact alone.
    gap = '[[gap]]\nat = "far/P/west"\n[[gap]]\nat = "far/P/east"\n'
    far = '{ name = "far drop", supply = "cab", plus = "far/P/north", minus = "far/P/south" },'
    text = ROUND.replace("feeder = [", f"feeder = [\n  {far}")
    text = text.replace('family = "insulated frog, power routing"', 'family = "live frog"')
    record = run(faulty(text + gap, fault), 1)
    (stall,) = record.stalls[:1]
    nudged = [e.time_s for e in record.events if e.what == "nudge"]
    assert {time_s for time_s, *_ in told(record, "mended")} == {nudged[0]}
    assert stall.time_s < nudged[0]
    assert len(record.stalls) == 1


def test_a_tired_feeder_starves_a_train_at_rest() -> None:
    """30 ohm at rest; behind 95 ohm and 12 V that is 12·30/125 = 2.9 V of the 3 V it needs."""
    made = faulty(ROUND, 'on = "drop+"\nwhat = "tired"\nohm = 95\nat_s = 0')
    record = run(made, 1)
    assert record.stalls[0].kind == "starved"
    assert any("drop+" in line for line in cause_lines(record.stalls[0].cause))
    fine = run(faulty(ROUND, 'on = "drop+"\nwhat = "tired"\nohm = 95\nat_s = 0\nfor_s = 5'), 1)
    assert fine.legs[-1].outcome != "stalled"


def test_what_fails_once_an_hour_is_drawn_by_the_hour() -> None:
    text = ROUND.replace("duration_s = 60", "duration_s = 14400")
    fault = 'on = "far/P/joiner-east-*"\nwhat = "open"\nchance = 0.5\nper = "hour"\nfor_s = 60'
    made = faulty(text.replace('do = "circulate", laps = 2', 'do = "wait", for_s = 9'), fault)
    counts = []
    for seed in range(60):
        times = [t for t, what, *_ in told(run(made, seed)) if what == "fault"]
        counts.append(len(times))
        assert all(0 <= t < 14400 for t in times)
    # 2 joiners, 4 hours, 60 runs: 480 draws of one half; six deviations are 66.
    assert abs(sum(counts) - 240) < 66


def test_open_from_the_start_by_chance() -> None:
    made = faulty(ROUND, 'on = "*joiner*"\nwhat = "open"\nchance = 0.3\nper = "run"')
    joiners = [e for e in made.layout.elements if e.kind == "joiner"]
    assert {e.opens for e in joiners} == {0.3}
    assert is_random(made)
    opened = [len(told(run(made, seed), "fault")) for seed in range(40)]
    # Six joiners in 40 runs: 240 draws; six deviations are 43.
    assert abs(sum(opened) - 0.3 * len(joiners) * 40) < 43
    record = run(made, 2)
    assert run(made, 2) == record


def test_dirt_lies_where_the_seed_says() -> None:
    made = faulty(
        ROUND, 'on = "far/*"\nwhat = "dirt"\nchance = 0.8\nper = "metre"\nlength_mm = 30'
    )
    assert is_random(made)
    found = 0
    for seed in range(30):
        dirty = with_dirt(made, seed)
        assert dirty == with_dirt(made, seed)
        for route, before in zip(dirty.layout.routes, made.layout.routes, strict=True):
            assert route.spans[0].from_um == 0
            assert route.spans[-1].to_um == before.length_um
            for a, b in zip(route.spans, route.spans[1:], strict=False):
                assert a.to_um == b.from_um
            found += sum(
                (s.to_um - s.from_um) * ((s.left == -1) + (s.right == -1))
                for s in route.spans
                if route.id.startswith("far/")
            )
            if not route.id.startswith("far/"):
                assert route == before
    # 1.5 m and two rails: 0.8 and 0.4 places on each; 72 in 30 runs, six deviations are 30.
    assert 41 <= found / 30_000 <= 102


def test_dirt_is_not_cut_off_at_the_end_of_its_piece() -> None:
    """Every place of it has its whole length, however near the end it was drawn."""
    made = faulty(
        ROUND, 'on = "far/*"\nwhat = "dirt"\nchance = 1\nper = "metre"\nlength_mm = 400'
    )
    for seed in range(30):
        for route in with_dirt(made, seed).layout.routes:
            for side in ("left", "right"):
                dirty = [s for s in route.spans if getattr(s, side) == -1]
                length_um = sum(s.to_um - s.from_um for s in dirty)
                assert length_um >= 400_000 or not route.id.startswith("far/")


def test_dirt_longer_than_the_pickups_reach_stalls() -> None:
    sure = 'on = "far/*"\nwhat = "dirt"\nchance = 1\nper = "metre"\nlength_mm = 40'
    record = run(faulty(ROUND, sure), 1)
    assert record.stalls
    assert record.stalls[0].kind == "insulated"
    assert any("plastic or dirt" in line for line in cause_lines(record.stalls[0].cause))
    short = run(faulty(ROUND, sure.replace("= 40", "= 15")), 1)
    assert short.stalls == ()  # 30 mm of pickups reach over 15 mm


def test_dirty_wheels() -> None:
    made = faulty(ROUND, 'on = "local"\nwhat = "dirt"\nchance = 1\nper = "run"')
    (train,) = with_dirt(made, 1).trains
    assert train.vehicles[0].pickups_left_mm == ()
    half = faulty(ROUND, 'on = "local"\nwhat = "dirt"\nchance = 0.5\nper = "run"')
    left = [
        len(v.pickups_left_mm) + len(v.pickups_right_mm)
        for seed in range(50)
        for v in with_dirt(half, seed).trains[0].vehicles
    ]
    assert abs(sum(left) - 100) < 43  # 200 pickups, six deviations


def test_a_fix_that_solders_or_cleans_ends_the_fault() -> None:
    text = (
        ROUND
        + '[[fault]]\non = "*joiner*"\nwhat = "open"\nchance = 0.3\nper = "run"\n'
        + '[[fault]]\non = "m/T/[td]*[gh]"\nwhat = "open"\nchance = 0.2\nper = "throw"\n'
        + '[[fix]]\nname = "care"\nsolder = ["*joiner*"]\nclean = ["m/T/[td]*[gh]"]\n'
    )
    built, cared = case(text), case(text, "care")
    assert {e.opens for e in built.layout.elements if e.kind == "contact"} == {0.2}
    assert {e.opens for e in cared.layout.elements} == {0.0}
    assert not is_random(cared)


def test_two_cases_meet_the_same_fault_at_the_same_throw() -> None:
    """Draws hang on seed, part and ordinal only, so a jumper more changes none of them."""
    text = OVAL.replace("contact_opens = 0", "contact_opens = 0.4")
    jumper = '[[jumper]]\nfrom = "m/home/north"\nto = "far/P/north"\n'
    one, other = run(case(text), 5), run(case(text + jumper), 5)
    assert told(one, "stayed open") == told(other, "stayed open")
    assert told(one, "stayed open")


@pytest.mark.parametrize(
    ("fault", "expected"),
    [
        ('on = "m/T/lever"\nwhat = "open"\nat_s = 1', "the id of a contact or joiner"),
        ('on = "drop+"\nwhat = "open"\nchance = 0.1\nper = "throw"', "per run or hour"),
        ('on = "cab"\nwhat = "off"', "just one of chance, at_s, at_throw"),
        ('on = "cab"\nwhat = "off"\nchance = 0.1', "'per' beside 'chance'"),
        ('on = "cab"\nwhat = "off"\nchance = 0.1\nper = "pass"', "per = 'run' or 'hour'"),
        ('on = "cab"\nwhat = "off"\nat_s = 1\nohm = 3', "ohm for 'tired' only"),
        ('on = "local"\nwhat = "dirt"\nchance = 0.1\nper = "metre"', "per run on the pickups"),
        ('on = "far/P"\nwhat = "dirt"\nat_s = 1', "a chance for dirt"),
        ('on = "m/T/lever"\nwhat = "stays"\nat_s = 1', "chance or at_throw"),
        ('on = "m/T/lever"\nwhat = "stays"\nat_throw = 1\nfor_s = 2', "where a fault lasts"),
    ],
)
def test_rules_that_make_no_sense(fault: str, expected: str) -> None:
    with pytest.raises(ScenarioError) as caught:
        scenario_from_text(ROUND + f"[[fault]]\n{fault}\n")
    assert expected in str(caught.value.problems[0])
    assert caught.value.problems[0].where.startswith("fault[0]")


def test_a_case_without_faults_is_as_before() -> None:
    plain = case(ROUND)
    assert plain.wear == ()
    assert run(plain, 1) == run(replace(plain, wear=()), 1)
    assert told(run(plain, 1)) == []


def touched(family: str, contact: str, more: str = "") -> Record:
    """A train round the oval, over the turnout set through."""
    rule = f'on = "m/T/{contact}"\nwhat = "touched"\nchance = 1\nper = "pass"\n{more}'
    text = ROUND.replace("insulated frog, power routing", family)
    return run(faulty(text, rule), 1)


@pytest.mark.parametrize(
    ("family", "shorts"),
    [
        # Set through, the north blade stands off SN, and is what power.md, 3 says of it:
        ("live frog", True),  # one section with frog and south blade: the other pole
        ("insulated frog, power routing", False),  # only its own closure rail, which floats
    ],
)
def test_a_wheel_back_on_an_open_blade(family: str, shorts: bool) -> None:
    """power.md, 2: 'a wheel's back on an open blade of a live frog is a common short'."""
    record = touched(family, "diverging")
    came, went = told(record, "fault"), told(record, "mended")
    assert came and came[0][2:] == ("m/T/diverging", "touched")
    on = [p for p in record.passes if p.route.startswith("m/T/")]
    assert came[0][0] == on[0].enter_s
    assert bool(record.trips) == shorts
    if shorts:
        assert on[0].enter_s < record.trips[0].time_s  # after the breaker's own time
        assert any(time_s > record.trips[0].time_s for time_s, *_ in went)  # moved by hand
    else:
        assert [t for t, *_ in went] == [p.leave_s for p in on if p.leave_s is not None]
        assert {leg.outcome for leg in record.legs} == {"clean"}


def test_wheels_that_touch_are_told_apart_from_what_others_see() -> None:
    """It takes a train: no survey goes through it, and no reading finds it."""
    made = faulty(OVAL, 'on = "m/T/diverging"\nwhat = "touched"\nchance = 1\nper = "pass"')
    assert "contact touched" not in {h.faults[0].kind for h in survey(made).single}
    assert "contact touched" not in FOUND
    assert left_out(made.wear) == ("m/T/diverging: touched, 1 per pass",)
    with pytest.raises(ScenarioError, match="per = 'pass' for 'touched'"):
        faulty(OVAL, 'on = "m/T/diverging"\nwhat = "touched"\nchance = 1\nper = "hour"')
    with pytest.raises(ScenarioError, match="a chance for touched"):
        faulty(OVAL, 'on = "m/T/diverging"\nwhat = "touched"\nat_s = 2')
