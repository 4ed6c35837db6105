"""The part of a fix that travels with a module, and what stays elsewhere."""

from __future__ import annotations

from typing import Any

from sim.layout.report import matching
from sim.neighbours.board import Board
from sim.neighbours.feeding import WEST, supply_name
from sim.neighbours.neighbourhoods import Neighbourhood
from sim.scenario.document import Scenario
from sim.scenario.fixes import FixTable
from sim.scenario.load import frozen
from sim.seek.fixes import data_of

_BY_END = ("from", "to", "at", "plus", "minus", "piece", "section", "lever")


def localised(board: Board, place: Neighbourhood, fix: FixTable) -> FixTable:
    """The fix's changes on this module, with its feeders on this neighbourhood's supplies."""
    data = data_of(fix)
    made: dict[str, Any] = {"name": fix.name}
    prefix = f"{board.name}/"
    for field, value in data.items():
        if field in ("name", "note", "reverse", "energy_store", "rewire"):
            continue
        if isinstance(value, list):
            kept = [item for item in value if _is_own(item, prefix)]
            if kept:
                made[field] = kept
        else:
            made[field] = value
    for feeder in made.get("feeder", ()):
        bus = {b.name: b.supply for b in board.scenario.bus}
        supply = feeder.get("supply") or bus.get(feeder.pop("bus", ""), "")
        feeder["supply"] = supply_name(place, supply, WEST)
    result: FixTable = FixTable.model_validate(frozen(made))
    return result


def _is_own(item: Any, prefix: str) -> bool:
    if isinstance(item, str):
        return item.startswith(prefix)
    return all(str(item[key]).startswith(prefix) for key in _BY_END if key in item)


def elsewhere(board: Board, fix: FixTable) -> list[str]:
    """What a fix does that does not travel with the module, in words."""
    prefix = f"{board.name}/"
    words = [f"the phase of {name} turned at the supply" for name in fix.reverse]
    words += [f"an energy store in {store.train}" for store in fix.energy_store]
    words += [f"{rewire.wire} in the place of the wire of {rewire.of}" for rewire in fix.rewire]
    data = data_of(fix)
    for field, value in data.items():
        if field in ("reverse", "energy_store", "rewire") or not isinstance(value, list):
            continue
        gone = [item for item in value if not _is_own(item, prefix)]
        if gone:
            words.append(f"{len(gone)} of {len(value)} under '{field}', on other modules")
    return words


def modules_of(scenario: Scenario, fix: FixTable) -> list[str]:
    """Modules that a fix changes, in the order of the file."""
    data = data_of(fix)
    texts = [
        str(text)
        for value in data.values()
        if isinstance(value, list)
        for item in value
        for text in ([item] if isinstance(item, str) else item.values())
    ]
    names = [m.name for m in scenario.module]
    found = {
        name
        for name in names
        for text in texts
        if text.startswith(f"{name}/") or ("*" in text and matching(text, [f"{name}/x/x"]))
    }
    return [name for name in names if name in found]
