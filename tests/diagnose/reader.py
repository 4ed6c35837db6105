"""What a meter, lamp or train would say, worked out by the slow twin, fault by fault."""

from __future__ import annotations

from collections.abc import Sequence

from sim.bench.readings.model import Probe
from sim.faults.possible import Fault
from sim.layout.model import PLASTIC, Layout
from tests.twin import LayoutTwin, closed_in


def says(layout: Layout, faults: Sequence[Fault], probe: Probe) -> str:
    """The outcome of ``probe`` while ``faults`` are there."""
    return _meter(layout, faults, probe) if probe.what == "meter" else _fed(
        layout, faults, probe
    )  # fmt: skip


def _closed(layout: Layout, faults: Sequence[Fault], probe: Probe, well: bool) -> list[int]:
    positions = list(probe.positions)
    for f in faults:
        if f.kind == "lever does not follow":
            count = len(layout.levers[f.index].positions)
            positions[f.index] = (positions[f.index] + f.turn) % count
    closed = set(closed_in(layout, positions))
    for f in faults:
        if f.kind in ("contact never opens", "gap bridged"):
            closed.add(f.index)
        elif f.kind in ("lever does not follow", "supply off"):
            continue
        elif well or not f.kind.endswith("tired"):
            closed.discard(f.index)
    if probe.where != "layout":
        inside = {k for k, n in enumerate(layout.nodes) if n.startswith(probe.where + "/")}
        closed = {i for i in closed if {layout.elements[i].a, layout.elements[i].b} <= inside}
    return sorted(closed)


def _meter(layout: Layout, faults: Sequence[Fault], probe: Probe) -> str:
    for word, well in (("joined", True), ("tired", False)):
        net = LayoutTwin(layout, _closed(layout, faults, probe, well)).net
        if net[probe.a] == net[probe.b]:
            return word
    return "open"


def _fed(layout: Layout, faults: Sequence[Fault], probe: Probe) -> str:
    pairs = [p for p in probe.pairs or ((probe.a, probe.b),) if PLASTIC not in p]
    off = [f.index for f in faults if f.kind == "supply off"]
    through = LayoutTwin(layout, _closed(layout, faults, probe, False), off=off)
    well = LayoutTwin(layout, _closed(layout, faults, probe, True), off=off)
    kinds = [through.kind(*p) for p in pairs]
    if "short" in kinds:
        return "short"
    if any(k is not None for k in kinds):
        return "dead"
    return "weak" if any(well.kind(*p) is not None for p in pairs) else "live"
