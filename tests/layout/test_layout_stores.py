"""An energy store belongs behind a decoder."""

from __future__ import annotations

import pytest

from sim.layout.assemble import survey
from sim.scenario.read import scenario_from_text
from tests.run.plans import Plan


@pytest.mark.parametrize(
    ("kind", "store", "warned"), [("dc", 5, True), ("digital", 5, False), ("dc", 0, False)]
)
def test_an_energy_store_on_dc_is_warned_of(kind: str, store: int, warned: bool) -> None:
    plan = Plan().supply(kind=kind).straight("a", 900.0, "cab").train(energy_store_s=store)
    plan.add(
        "[[fix]]", name="store", energy_store=[{"train": "local", "energy_store_s": store}]
    )
    scenario = scenario_from_text(plan.text())
    for fix, where in ((None, "train[0]"), ("store", "fix[0].energy_store[0]")):
        found = [p for p in survey(scenario, fix)[1] if p.code == "energy-store-on-dc"]
        assert any(where in p.where for p in found) is warned
        assert all(p.severity == "warning" for p in found)
