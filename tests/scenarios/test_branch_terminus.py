"""Demo (b): live frogs, one feed; what a feed from beyond does, and what gaps do.

What must come out is common practice, no source: a live frog takes the rails past
it to one pole or the other, so they may be fed from beyond only past a gap.
"""

from __future__ import annotations

import pytest

from sim.run.run import is_random
from tests.scenarios.demos import case, record, scenario, states

DEMO = "branch-terminus"
CURES = ("gaps and feeders", "all-live turnouts")


@pytest.mark.parametrize("fix", [None, *scenario(DEMO).fix_names])
def test_nothing_is_left_to_chance(fix: str | None) -> None:
    assert not is_random(case(DEMO, fix))
    one, two = record(DEMO, fix, 1), record(DEMO, fix, 2)
    assert (one.legs, one.stalls, one.trips) == (two.legs, two.stalls, two.trips)


def test_as_built_the_road_that_is_not_set_has_one_pole_on_both_rails() -> None:
    through = states(DEMO).settings[0]
    assert {p for _, p in through.levers} == {"through"}
    fed = dict(through.fed_by)
    assert fed["station/B/north"] == fed["station/B/south"] == ("station-",)
    kinds = {(s.train, s.kind) for s in record(DEMO).stalls}
    assert kinds == {("tank engine", "same pole"), ("railcar", "floating")}
    assert not record(DEMO).trips


def test_the_railcar_stalls_past_the_gap_of_the_crossover() -> None:
    found = [s for s in record(DEMO).stalls if s.train == "railcar"]
    assert {s.route for s in found} == {"station/crossover/A-west-B-east"}
    assert {s.section for s in found} == {"station/crossover/B-inner-east"}


def test_feeders_without_gaps_short_in_every_setting_and_stop_the_line() -> None:
    charted = states(DEMO, "feeders only").settings
    assert all(s.shorts for s in charted)
    done = record(DEMO, "feeders only")
    assert [t.supply for t in done.trips] == ["station"]  # a short that stays is one trip
    assert done.trips[0].cause.kind == "by the wiring"
    assert {leg.outcome for leg in done.legs} == {"tripped"}


def test_gaps_without_feeders_short_nowhere_and_feed_nothing() -> None:
    charted = states(DEMO, "gaps only").settings
    assert not any(s.shorts for s in charted)
    assert all(s.dead for s in charted)
    done = record(DEMO, "gaps only")
    assert {s.kind for s in done.stalls} == {"floating"}
    assert not done.trips


@pytest.mark.parametrize("fix", CURES)
def test_cures_leave_every_setting_live_and_nothing_stalls(fix: str) -> None:
    for setting in states(DEMO, fix, each=True).settings:
        assert not setting.shorts
        assert not setting.dead
    done = record(DEMO, fix)
    assert not done.stalls
    assert not done.trips
    assert len(done.legs) > len(record(DEMO).legs)
    routes = {p.route for p in done.passes}
    assert "station/crossover/A-west-B-east" in routes  # crossed over
    assert "station/crossover/A-west-A-east" in routes


def test_an_energy_store_does_not_cure_a_dead_road() -> None:
    done = record(DEMO, "energy store")
    assert {s.train for s in done.stalls} == {"railcar", "tank engine"}


def test_engines_reach_over_the_plastic_frogs_of_the_other_turnouts() -> None:
    spans = [
        s.to_mm - s.from_mm
        for setting in states(DEMO, "all-live turnouts").settings
        for route in setting.routes
        for s in route.insulated
    ]
    assert spans
    assert max(spans) == pytest.approx(18.0, abs=0.05)
    for train in case(DEMO).trains:
        places = train.vehicles[0].pickups_left_mm
        assert max(places) - min(places) > 18.0
