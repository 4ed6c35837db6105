"""Making again only what has changed comes to the same as making everything anew."""

from __future__ import annotations

from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from sim.drive.in_order import InOrder, JudgedCase
from sim.layout.assemble import assemble
from sim.layout.traffic import Case
from sim.scenario.read import read_scenario
from tests.drive.slow import PLAYER, Told, drives_one_by_one
from tests.run.lots import plans
from tests.run.plans import Plan

DEMOS = Path(__file__).parents[2] / "scenarios"


def told(found: InOrder) -> list[Told]:
    """By setting, as the slow way tells it; each drive once."""
    for setting in found.settings:
        assert len(set(setting.drives)) == len(setting.drives)
    return [(s.positions, frozenset(s.drives)) for s in found.settings]


def assert_counted(found: InOrder) -> None:
    """The counts are those of the drives, which were added up otherwise."""
    drives = [d for s in found.settings for d in s.drives]
    outcomes = [d.outcome for d in drives]
    counts = found.counts
    assert counts.clear == outcomes.count("clear")
    assert counts.hesitates == outcomes.count("hesitates")
    assert counts.stops_at_crawl == outcomes.count("stops at crawl")
    assert counts.stops == outcomes.count("stops")
    assert counts.shorts == outcomes.count("shorts")
    assert counts.joining == sum(bool(d.joins) for d in drives)
    every = ("clear", "hesitates", "stops at crawl", "stops", "shorts")
    different = [d for _, d in found.different(*every)]
    assert set(different) == set(drives)


@pytest.mark.parametrize("file", ["club-loops", "branch-terminus", "loose-gang", "well-fed"])
@pytest.mark.parametrize("every", [False, True])
def test_on_the_demos(file: str, every: bool) -> None:
    scenario = read_scenario(DEMOS / f"{file}.toml")
    for fix in (None, *scenario.fix_names)[:2]:
        case = assemble(scenario, fix)
        if every and len(case.layout.controls) > 4:
            return  # too many settings to be made one by one
        found = JudgedCase(case, every, PLAYER).in_order()
        assert told(found) == drives_one_by_one(case, every)
        assert_counted(found)


def faults(data: st.DataObject, case: Case) -> dict[str, object]:
    """One or two faults of any kind."""
    layout = case.layout
    contacts = [n for n, e in enumerate(layout.elements) if e.kind == "contact"]
    loose = [n for n, e in enumerate(layout.elements) if e.kind != "gap"]
    found: dict[str, object] = {}
    names = st.sampled_from(["failed", "welded", "stuck"])
    kinds = data.draw(st.lists(names, min_size=1, max_size=2))
    for kind in kinds:
        if kind == "stuck" and layout.levers:
            lever = data.draw(st.integers(0, len(layout.levers) - 1))
            positions = len(layout.levers[lever].positions)
            found["stuck"] = {lever: data.draw(st.integers(0, positions - 1))}
        elif kind == "welded" and contacts:
            found["welded"] = {data.draw(st.sampled_from(contacts))}
        else:
            found["failed"] = {data.draw(st.sampled_from(loose))}
    return found


@settings(
    max_examples=40,
    deadline=None,
    suppress_health_check=[HealthCheck.too_slow, HealthCheck.filter_too_much],
)
@given(plans(most_trains=2), st.data())
def test_on_random_layouts_and_faults(plan: Plan, data: st.DataObject) -> None:
    case = plan.case(ring=data.draw(st.booleans(), "ring"))
    every = len(case.layout.controls) <= 3 and data.draw(st.booleans(), "every")
    judged = JudgedCase(case, every, PLAYER)
    found = judged.in_order()
    assert told(found) == drives_one_by_one(case, every)
    assert_counted(found)
    for _ in range(3):
        fault = faults(data, case)
        with_it = judged.in_order(**fault)  # type: ignore[arg-type]
        slowly = drives_one_by_one(case, every, **fault)  # type: ignore[arg-type]
        assert told(with_it) == slowly
        assert_counted(with_it)
    assert told(judged.in_order()) == told(found)
