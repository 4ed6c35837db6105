"""The document of volts, drops and coin tests."""

from __future__ import annotations

from collections.abc import Sequence

from sim.circuit.volts import FarEnd, SettingVolts, VoltsReport, Weakest
from sim.layout.traffic import Assumption
from sim.pages.documents import FORMAT_VERSION, Asked, Document, assumptions_list, mm


def volts_document(
    asked: Asked, report: VoltsReport, assumptions: Sequence[Assumption] = ()
) -> Document:
    """Every setting: its sections, its modules, and what costs most."""
    return {
        "format_version": FORMAT_VERSION,
        "scenario": report.scenario,
        "fix": report.fix,
        "command": asked.command,
        "total": report.total,
        "skipped": report.skipped,
        "starting_train": {
            "whose": report.train.whose,
            "ohm": round(report.train.ohm, 6),
            "starting_a": report.train.amps,
        },
        "settings": [_setting(s) for s in report.settings],
        "assumptions": assumptions_list(assumptions),
    }


def _setting(setting: SettingVolts) -> Document:
    worst = setting.weakest
    return {
        "levers": dict(setting.levers),
        "weakest": None if worst is None else {"section": worst.section, **_place(worst)},
        "sections": {s.section: _place(s) for s in setting.sections},
        "modules": {m.module: _far_end(m) for m in setting.modules},
        "shorted": [
            {"supply": s.supply, "current_a": s.amps, "trips": s.trips} for s in setting.shorted
        ],
        "costs": [{"what": what, "volts": volts} for what, volts in setting.costs],
        "costs_by_kind": dict(setting.kinds),
    }


def _place(place: Weakest) -> Document:
    return {
        "route": place.route,
        "place_mm": mm(place.place_mm),
        "open_v": place.open_v,
        "volts": place.volts,
        "drop_percent": round(100 * place.drop, 2),
    }


def _far_end(end: FarEnd) -> Document:
    return {
        "route": end.route,
        "place_mm": mm(end.place_mm),
        "open_v": end.open_v,
        "loop_ohm": end.loop_ohm,
        "short_a": end.short_a,
        "trips": list(end.trips),
        "does_not_trip": list(end.weak),
    }
