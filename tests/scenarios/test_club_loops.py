"""Demo (a): one feed, two scissors with centre gaps, half of each loop dead.

What must come out is common practice, no source: only the outer rails pass through
a scissors with centre gaps, so supply reaches the inner rails from one side only.
"""

from __future__ import annotations

import pytest

from sim.layout.assemble import survey
from sim.power.chart import Setting
from tests.checked import scenario_from_text
from tests.scenarios.demos import case, record, records, scenario, stalls, states, text

DEMO = "club-loops"
SEEDS = range(1, 5)
FIXES = ("second feed", "feeder lengths", "two jumpers", "four jumpers")
FAR_SIDE = {  # from the south junction's middle gap on, by way of the west end
    "south junction/{} east/{}",
    "far board/{}/{}",
    "corner 3/{}/{}",
    "corner 4/{}/{}",
    "north junction/{} west/{}",
}


def fed_by(setting: Setting) -> dict[str, tuple[str, ...]]:
    return dict(setting.fed_by)


def all_through(fix: str | None) -> Setting:
    return next(
        s for s in states(DEMO, fix).settings if {p for _, p in s.levers} == {"through"}
    )


def test_it_is_the_layout_that_was_asked_for() -> None:
    made = case(DEMO)
    assert len(made.layout.modules) == 8
    assert len(made.trains) == 4
    assert made.conduct.duration_s == 1200
    crossings = {o.piece for t in made.trains for o in t.orders if o.do == "cross"}
    assert len(crossings) == 2
    assert all(e.opens > 0 for e in made.layout.elements if e.kind == "contact")
    feeders = {e.id.rstrip("+-") for e in made.layout.elements if e.kind == "feeder"}
    nodes = made.layout.nodes
    boards = {nodes[e.b].split("/")[0] for e in made.layout.elements if e.kind == "feeder"}
    assert (len(feeders), boards) == (2, {"feed board"})


def test_exactly_the_inner_rails_of_the_far_side_are_dead_as_built() -> None:
    dead = {s for s, poles in fed_by(all_through(None)).items() if not poles}
    plain = {s for s in dead if "/scissors/" not in s}
    # A lies outside, so its inner rail is the south one; that of B is the north one.
    assert plain == {
        s.format(track, rail)
        for s in FAR_SIDE
        for track, rail in (("A", "south"), ("B", "north"))
    }
    for track in "AB":
        assert f"south junction/scissors/{track}-inner-east" in dead
        assert f"north junction/scissors/{track}-inner-west" in dead
        assert f"south junction/scissors/{track}-inner-west" not in dead
        assert f"north junction/scissors/{track}-inner-east" not in dead


@pytest.mark.parametrize("fix", FIXES)
def test_each_fix_makes_the_far_side_live(fix: str) -> None:
    setting = all_through(fix)
    assert all(poles for poles in fed_by(setting).values())
    assert not setting.dead
    for route in setting.routes:
        assert route.state == "live" or not route.set


def test_no_fix_joins_the_loops() -> None:
    """NMRA MRP-1.3: no rail is shared by two loops."""
    for fix in (None, *FIXES):
        for setting in states(DEMO, fix).settings:
            assert not setting.shorts
            assert not setting.joined


@pytest.mark.parametrize("fix", [None, *FIXES])
def test_only_frog_wires_short_when_turnouts_disagree(fix: str | None) -> None:
    """Common practice, no source: two frogs of one track join its two poles then."""
    charted = states(DEMO, fix, each=True)
    assert len(charted.settings) == 256
    for setting in charted.settings:
        lies = dict(setting.levers)
        disagree = any(
            lies[f"{side} junction/scissors/{track}W"]
            != lies[f"{side} junction/scissors/{track}E"]
            for side in ("north", "south")
            for track in "AB"
        )
        assert bool(setting.shorts) == (fix == "four jumpers" and disagree)


def test_as_built_most_legs_stall_and_the_dead_half_is_why() -> None:
    done = records(DEMO, None, SEEDS)
    legs = [leg for r in done for leg in r.legs]
    assert sum(leg.outcome == "stalled" for leg in legs) > 0.8 * len(legs)
    kinds = [s.kind for r in done for s in r.stalls]
    assert kinds.count("floating") > 0.9 * len(kinds)
    bridged = [s for r in done for s in r.stalls if any("centre" in c for c in s.cause)]
    assert len(bridged) > 0.8 * len(kinds)


def test_fixes_remove_what_their_notes_say() -> None:
    built, two, four = (
        stalls(DEMO, fix, SEEDS) for fix in (None, "two jumpers", "four jumpers")
    )
    assert four < two < built / 2
    # Feeding the far side is the same cure, whichever way the supply gets there.
    assert stalls(DEMO, "second feed", SEEDS) == pytest.approx(two, rel=0.2)
    assert stalls(DEMO, "feeder lengths", SEEDS) == pytest.approx(two, rel=0.2)
    # What is left hangs on a contact that stayed open.
    for done in records(DEMO, "two jumpers", SEEDS):
        for stall in done.stalls:
            assert "stayed open" in " ".join(stall.cause) or stall.kind == "no return"


@pytest.mark.parametrize("fix", FIXES[2:])
def test_crossing_works_both_ways_when_contacts_make(fix: str) -> None:
    """Pickups reach over the 10 mm between the gaps: no return there, and no stall."""
    crossed = {
        p.route.rpartition("/")[2]
        for p in record(DEMO, fix).passes
        if p.outcome == "clean" and p.route.rpartition("/")[2][0] != p.route[-6]
    }
    assert crossed == {"A-west-B-east", "B-west-A-east"}
    charted = states(DEMO, fix).settings
    no_return = {
        d.to_mm - d.from_mm
        for s in charted
        for r in s.routes
        if r.set
        for d in r.dead
        if d.kind == "no return"
    }
    assert no_return == {10.0}
    shortest = min(
        max(v.pickups_left_mm) - min(v.pickups_left_mm)
        for t in case(DEMO).trains
        for v in t.vehicles
        if v.motor
    )
    assert shortest > 10.0


@pytest.mark.parametrize("fix", FIXES)
def test_nothing_trips_while_every_lever_follows(fix: str) -> None:
    for done in records(DEMO, fix, SEEDS):
        assert not done.trips
        assert not done.run_throughs


def test_feeder_lengths_fit_only_where_track_makes_room() -> None:
    """310 + 2 * 62 = 434 mm, more than a board of 310; with what lies beside, 620.

    Common practice, no source: 62 mm lengths, boards of 310 and 620 mm.
    """
    taken = {m.name: m.taken_mm for m in case(DEMO, "feeder lengths").layout.modules}
    assert taken["north junction"] == 620.0
    head, _, rest = text(DEMO).partition("alter = [")
    full = scenario_from_text(head + rest.partition("]\n")[2])
    (problem,) = survey(full, "feeder lengths")[1]
    assert (problem.severity, problem.found) == ("warning", "744 mm, 124 mm over")


def test_loops_run_the_same_way_round() -> None:
    assert {t.heading for t in scenario(DEMO).train} == {"east"}
