"""A kind of supply is one entry, and what it needs besides is named when it is missing."""

from __future__ import annotations

import inspect
import re
from typing import get_args

import pytest

import sim.begin.first
from sim.layout.model import Supply
from sim.layout.supply_kinds import SUPPLY_KINDS, SupplyKindName
from sim.scenario.defaults import defaults_for
from sim.scenario.supplies import SupplyTable
from tests.test_rooms import SIM, VIEWER

#: Modules that may call a kind of supply by its name: its entry, its table, its values, and
#: the first file that is written for a user.
NAMED_IN = {
    "sim.layout.supply_kinds",
    "sim.scenario.supplies",
    "sim.scenario.defaults",
    "sim.begin.first",
}


def test_every_name_has_an_entry_and_a_file_can_give_it() -> None:
    assert list(SUPPLY_KINDS) == list(get_args(SupplyKindName))
    field = SupplyTable.model_fields["kind"]
    assert list(get_args(field.annotation)) == list(SUPPLY_KINDS), "the table's names"
    for name in SUPPLY_KINDS:
        assert f"{name}:" in (field.description or ""), f"what {name!r} is, in the table"
        assert f'"{name}"' in inspect.getsource(sim.begin.first), f"{name!r} in the first file"


@pytest.mark.parametrize("gauge_mm", [9.0, 16.5])
@pytest.mark.parametrize("name", SUPPLY_KINDS)
def test_every_kind_has_its_starting_values(name: str, gauge_mm: float) -> None:
    needed = {
        f"{name}.{f}" for f in ("voltage_v", "internal_ohm", "trip_a", "trip_s", "retry_s")
    }
    missing = needed - set(defaults_for(gauge_mm))
    assert not missing, f"starting values in sim/scenario/defaults.py: {missing}"


def test_who_acts_on_a_kind_asks_what_it_does_and_not_its_name() -> None:
    named = re.compile("|".join(f"[\"']{name}[\"']" for name in SUPPLY_KINDS))
    found = {
        module
        for module, path in (SIM | VIEWER).items()
        if named.search(path.read_text(encoding="utf-8"))
    }
    assert found <= NAMED_IN, "ask supply.acts instead"


def test_what_tells_them_apart() -> None:
    """power.md, 6 and 7: the throttle is the supply's on DC, the train's on digital."""
    dc, digital = (
        Supply("cab", name, 0, 1, 12.0, False, 0.5, 1.0, 2.0, None).acts
        for name in ("dc", "digital")  # type: ignore[arg-type]
    )
    assert (dc.has_throttle, dc.shut_is_open, dc.decodes) == (True, True, False)
    assert (digital.has_throttle, digital.shut_is_open, digital.decodes) == (False, False, True)
