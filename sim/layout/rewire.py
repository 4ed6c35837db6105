"""Put other wire in the place of a scenario's own: what a fix rewires."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TypeVar

from sim.layout.report import Report, is_glob, matching
from sim.scenario.document import Scenario
from sim.scenario.fixes import FixTable, RewireTable
from sim.scenario.problems import shown
from sim.scenario.supplies import BusTable, FeederTable, JumperTable

T = TypeVar("T", BusTable, FeederTable, JumperTable)


def rewired(scenario: Scenario, fix: FixTable | None, where: str, report: Report) -> Scenario:
    """``scenario`` with the wires of its buses, feeders and jumpers that ``fix`` states."""
    if fix is None or not fix.rewire:
        return scenario
    feeder, bus = list(scenario.feeder), list(scenario.bus)
    jumper = list(scenario.jumper)
    jumper_names = [table.name or f"jumper {n + 1}" for n, table in enumerate(jumper)]
    names = [*(b.name for b in bus), *(f.name for f in feeder), *jumper_names]
    for number, table in enumerate(fix.rewire):
        at = f"{where}[{number}].of"
        found = set(matching(table.of, names))
        if not found and is_glob(table.of):
            if not report.broken:
                expected = "a pattern that fits a bus, feeder or jumper"
                report.error(at, expected, f"{shown(table.of)}, fits nothing")
        elif not found:
            report.unknown(at, "the name of a bus, feeder or jumper", table.of, names)
        bus = _with(bus, [b.name for b in bus], found, table)
        feeder = _with(feeder, [f.name for f in feeder], found, table)
        jumper = _with(jumper, jumper_names, found, table)
    new = {"bus": tuple(bus), "feeder": tuple(feeder), "jumper": tuple(jumper)}
    return scenario.model_copy(update=new)


def _with(
    tables: Sequence[T], names: Sequence[str], chosen: set[str], new: RewireTable
) -> list[T]:
    update: dict[str, object] = {"wire": new.wire}
    if new.length is not None:
        update["length"] = new.length
    return [
        table.model_copy(update=update) if name in chosen else table
        for table, name in zip(tables, names, strict=True)
    ]
