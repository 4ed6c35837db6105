"""Drives in documents and on pages: fields for programs, counts for people."""

from __future__ import annotations

from collections.abc import Sequence

from sim.drive.drive import Drive
from sim.drive.in_order import InOrder
from sim.judge.verdict import count
from sim.layout.model import Layout
from sim.power.chart import Chart, Setting

DriveFields = dict[str, object]


def drive_fields(layout: Layout, drive: Drive) -> DriveFields:
    """One drive with ids; places in mm from the start of the route ``at``."""
    return {
        "train": drive.train,
        "route": layout.routes[drive.route].id,
        "direction": drive.direction,
        "outcome": drive.outcome,
        "at": layout.routes[drive.at].id if drive.at >= 0 else None,
        "place_mm": drive.place_mm,
        "side": drive.side,
        "kind": drive.kind,
        "elements": [layout.elements[e].id for e in drive.elements],
        "joins": [_pole(layout, p) for p in drive.joins],
        "shorted": [layout.supplies[s].name for s in drive.shorted],
        "trips": drive.trips,
    }


def _pole(layout: Layout, pole: int) -> str:
    return layout.supplies[pole // 2].name + "+-"[pole % 2]


def drives_of_settings(layout: Layout, chart: Chart, found: InOrder) -> list[list[DriveFields]]:
    """By setting of the chart: drives over its routes, where the setting is in use.

    A chart tells each group of levers by itself; of settings in use that are the same
    for a group the first is taken.
    """
    told: list[list[DriveFields]] = []
    words = [
        {
            lever.id: lever.positions[p]
            for lever, p in zip(layout.levers, setting.positions, strict=True)
        }
        for setting in found.settings
    ]
    numbers = {route.id: n for n, route in enumerate(layout.routes)}
    for setting in chart.settings:
        routes = {numbers[r.route] for r in setting.routes}
        place = _first_like(setting, words, found, routes)
        drives = () if place is None else found.settings[place].drives
        told.append([drive_fields(layout, d) for d in drives if d.route in routes])
    return told


def _first_like(
    setting: Setting, words: Sequence[dict[str, str]], found: InOrder, routes: set[int]
) -> int | None:
    wanted = dict(setting.levers).items()
    for place, lying in enumerate(words):
        # Without a timetable every group has settings of its own, which drive its routes.
        if wanted <= lying.items() and (found.by_timetable or _drives(found, place, routes)):
            return place
    return None


def _drives(found: InOrder, place: int, routes: set[int]) -> bool:
    return any(d.route in routes for d in found.settings[place].drives)


def counted(found: InOrder) -> str:
    """What the drives in use come to, in one sentence."""
    counts = found.counts
    kinds = (
        (counts.shorts, "shorts", "short"),
        (counts.stops, "stops", "stop"),
        (counts.stops_at_crawl, "stops at a crawl", "stop at a crawl"),
        (counts.hesitates, "hesitates", "hesitate"),
        (counts.clear, "is clear", "are clear"),
    )
    said = [f"{n} {one if n == 1 else many}" for n, one, many in kinds if n]
    settings = count(len(found.settings), "setting")
    whose = "that the timetable uses" if found.by_timetable else "of the levers"
    if not said:
        return f"No train is driven over anything in the {settings} {whose}."
    drives = count(counts.total, "drive")
    return f"{drives} in the {settings} {whose}: {', '.join(said)}."
