"""Readings as a file again, so that a session at the terminal can be kept."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

import tomli_w

from sim.layout.model import Layout
from sim.power.settings import rest_positions
from sim.readings.model import Reading


def readings_text(
    layout: Layout,
    readings: Sequence[Reading],
    fix: str | None = None,
    odds: Mapping[str, float] | None = None,
) -> str:
    """TOML that :func:`sim.readings.file.load_readings` reads."""
    data: dict[str, Any] = {"format": 1}
    if fix is not None:
        data["fix"] = fix
    if odds:
        data["odds"] = dict(odds)
    meters = [_meter(layout, r) for r in readings if r.probe.what != "train"]
    trains = [_train(layout, r) for r in readings if r.probe.what == "train"]
    if meters:
        data["reading"] = meters
    if trains:
        data["train"] = trains
    return tomli_w.dumps(data)


def _levers(layout: Layout, reading: Reading) -> dict[str, str]:
    rest = rest_positions(layout)
    return {
        x.id: x.positions[p]
        for x, p, usual in zip(layout.levers, reading.probe.positions, rest, strict=True)
        if p != usual
    }


def _meter(layout: Layout, reading: Reading) -> dict[str, Any]:
    probe = reading.probe
    where = "layout"
    if probe.where != "layout":
        where = "bench" if "/" in probe.where else "board"
    said: str | float = reading.said
    if reading.said.endswith(" ohm"):
        said = float(reading.said.removesuffix(" ohm"))
    return {
        "from": layout.nodes[probe.a],
        "to": layout.nodes[probe.b],
        "levers": _levers(layout, reading),
        "where": where,
        "supply": "on" if probe.what == "lamp" else "off",
        "read": said,
    }


def _train(layout: Layout, reading: Reading) -> dict[str, Any]:
    """The first route that has all the pairs, over the stretch in which they lie."""
    probe = reading.probe
    for route in layout.routes:
        spans = [s for s in route.spans if (s.left, s.right) in probe.pairs]
        if {(s.left, s.right) for s in spans} == set(probe.pairs):
            # Spans touch at their ends; a stretch inside them takes in no neighbour.
            low, high = spans[0].from_um + 1, spans[-1].to_um - 1
            return {
                "route": route.id,
                "levers": {
                    x.id: x.positions[p]
                    for x, p in zip(layout.levers, probe.positions, strict=True)
                },
                "from_mm": low / 1000,
                "to_mm": high / 1000,
                "saw": reading.said,
            }
    raise ValueError("a train on no route")
