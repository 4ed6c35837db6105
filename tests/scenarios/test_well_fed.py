"""Demo (d): nothing stalls in any setting, so no fix is needed."""

from __future__ import annotations

import pytest

from sim.judge.compare import compare
from sim.layout.project import Project
from sim.run.run import is_random
from tests.scenarios.demos import case, record, records, scenario, states

DEMO = "well-fed"
SEEDS = range(1, 7)


def test_every_setting_is_live_as_built() -> None:
    charted = states(DEMO, each=True)
    assert len(charted.settings) == 4
    for setting in charted.settings:
        assert not setting.dead
        assert not setting.shorts


@pytest.mark.parametrize("fix", [None, *scenario(DEMO).fix_names])
def test_nothing_stalls_or_even_hesitates(fix: str | None) -> None:
    for done in records(DEMO, fix, SEEDS):
        assert not done.stalls
        assert not done.hesitations
        assert not done.trips
        assert not done.run_throughs
        assert {leg.outcome for leg in done.legs} <= {"clean", "held", "not finished"}


def test_although_contacts_do_stay_open_under_trains() -> None:
    assert is_random(case(DEMO))
    opened = [e.who for r in records(DEMO, None, SEEDS) for e in r.events
              if e.what == "stayed open"]  # fmt: skip
    assert opened


def test_pickups_reach_over_a_dead_frog() -> None:
    """Never lost when pickups span more than the dead rail: L - p of travel else."""
    layout = case(DEMO).layout
    frogs = [
        (s.to_um - s.from_um) / 1000
        for route in layout.routes
        for s in route.spans
        if any(n >= 0 and layout.nodes[n].endswith("/F") for n in (s.left, s.right))
    ]
    assert frogs
    for train in case(DEMO).trains:
        places = train.vehicles[0].pickups_left_mm
        assert max(places) - min(places) > max(frogs)


def test_both_roads_are_used() -> None:
    routes = {p.route for p in record(DEMO).passes}
    for throat in ("west throat", "east throat"):
        assert f"{throat}/points/points-through" in routes
        assert f"{throat}/points/points-diverging" in routes


def test_the_comparison_calls_every_fix_needless() -> None:
    found = compare(Project(scenario(DEMO)), runs=3, seed=1)
    assert [c.stalls for c in found.cases] == [0] * 5
    for difference in found.differences:
        assert difference.stalls_removed == 0.0
