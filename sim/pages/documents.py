"""The documents that commands print for other programs, and how one is written.

Write a document: to a file, whole or not at all, or to standard output.

The documents that commands print for other programs.

Plain data, ready for JSON.  Keys come in a fixed order, numbers are in mm, s, V,
A and Ω, and are rounded (times to the microsecond, places to 0.001 mm), so that
the same question gives the same bytes.  Ids and closed lists are those of the
models; fields are kept from version to version, more may be added.
"""

from __future__ import annotations

import json
import sys
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from sim.layout.traffic import Assumption
from sim.power.chart import Chart, RouteState, Setting
from sim.records.invariants import whole
from sim.records.model import Record, Stall
from sim.scenario.problems import Problem

STANDARD_OUTPUT = "-"


def to_json(document: object) -> str:
    """One stable text for one document: keys in the order given, a line feed at the end."""
    return json.dumps(document, indent=2, ensure_ascii=False, allow_nan=False) + "\n"


def write_text_atomically(path: str | Path, text: str) -> None:
    """Write ``text`` as UTF-8 to ``path``, as :func:`sim.records.invariants.whole` does.

    ``-`` is standard output.  Raises ``OSError`` where that is not possible.
    """
    if str(path) == STANDARD_OUTPUT:
        sys.stdout.write(text)
        sys.stdout.flush()
        return
    write_bytes_atomically(path, text.encode("utf-8"))


def write_bytes_atomically(path: str | Path, data: bytes) -> None:
    """The same for bytes, which go to files only."""
    with whole(path) as file:
        file.write_bytes(data)


FORMAT_VERSION = 1

Document = dict[str, Any]


@dataclass(frozen=True, slots=True)
class Asked:
    """What was asked: the scenario's title and the command line that asks it again."""

    scenario: str | None
    command: str


def check_document(asked: Asked, problems: Iterable[Problem]) -> Document:
    """Problems of a scenario file, errors and warnings as they were found."""
    return {
        "format_version": FORMAT_VERSION,
        "scenario": asked.scenario,
        "command": asked.command,
        "problems": [
            {
                "code": p.code or None,
                "where": p.where,
                "line": p.line,
                "expected": p.expected,
                "found": p.found,
                "severity": p.severity,
            }
            for p in problems
        ],
    }


def states_document(
    asked: Asked,
    chart: Chart,
    assumptions: Sequence[Assumption] = (),
    drives: Sequence[Sequence[Mapping[str, object]]] | None = None,
) -> Document:
    """Every setting: its levers, sections, routes, shorts and joined supplies.

    ``drives`` are those of each setting, as :mod:`sim.pages.drives` makes them.
    """
    driven: Sequence[Sequence[Mapping[str, object]]]
    driven = [()] * len(chart.settings) if drives is None else drives
    return {
        "format_version": FORMAT_VERSION,
        "scenario": chart.scenario,
        "fix": chart.fix,
        "command": asked.command,
        "total": chart.total,
        "groups": chart.groups,
        "skipped": chart.skipped,
        "settings": [
            {**_setting(s), "drives": list(d)}
            for s, d in zip(chart.settings, driven, strict=True)
        ],
        "assumptions": assumptions_list(assumptions),
    }


def _setting(setting: Setting) -> Document:
    return {
        "levers": dict(setting.levers),
        "dead": setting.dead,
        "short": setting.short,
        "sections": {s: {"fed_by": list(poles)} for s, poles in setting.fed_by},
        "routes": {r.route: _route(r) for r in setting.routes},
        "shorts": [
            {"poles": list(s.poles), "elements": list(s.elements)} for s in setting.shorts
        ],
        "joined_supplies": [
            {"poles": list(j.poles), "how": j.how, "elements": list(j.elements)}
            for j in setting.joined
        ],
    }


def _route(route: RouteState) -> Document:
    return {
        "set": route.set,
        "state": route.state,
        "dead": [
            {
                "left": d.left,
                "right": d.right,
                "kind": d.kind,
                "from_mm": mm(d.from_mm),
                "to_mm": mm(d.to_mm),
            }
            for d in route.dead
        ],
        "insulated_spans": [
            {"side": s.side, "from_mm": mm(s.from_mm), "to_mm": mm(s.to_mm)}
            for s in route.insulated
        ],
    }


def run_document(
    asked: Asked, record: Record, assumptions: Sequence[Assumption] = ()
) -> Document:
    """Everything that happened in one run, in order of time."""
    return {
        "format_version": FORMAT_VERSION,
        "scenario": record.scenario,
        "fix": record.fix,
        "seed": record.seed,
        "command": asked.command,
        "random": record.random,
        "duration_s": seconds(record.duration_s),
        "legs": [
            {
                "train": x.train,
                "leg": x.leg,
                "outcome": x.outcome,
                "start_s": seconds(x.start_s),
                "end_s": seconds(x.end_s),
            }
            for x in record.legs
        ],
        "passes": [
            {
                "train": p.train,
                "route": p.route,
                "outcome": p.outcome,
                "enter_s": seconds(p.enter_s),
                "leave_s": None if p.leave_s is None else seconds(p.leave_s),
            }
            for p in record.passes
        ],
        "stalls": [_stall(s) for s in record.stalls],
        **_incidents(record),
        "assumptions": assumptions_list(assumptions),
    }


def _stall(stall: Stall) -> Document:
    return {
        "time_s": seconds(stall.time_s),
        "train": stall.train,
        "route": stall.route,
        "section": stall.section,
        "place_mm": mm(stall.place_mm),
        "side": stall.side,
        "kind": stall.kind,
        "cause": list(stall.cause),
        "would_restore": [list(change) for change in stall.would_restore],
        "nudges": stall.nudges,
        "charged_to": stall.charged_to,
    }


def _incidents(record: Record) -> Document:
    return {
        "hesitations": [
            {
                "time_s": seconds(h.time_s),
                "train": h.train,
                "route": h.route,
                "section": h.section,
                "duration_s": seconds(h.duration_s),
            }
            for h in record.hesitations
        ],
        "dropouts": [
            {
                "time_s": seconds(d.time_s),
                "train": d.train,
                "where": d.where,
                "kind": d.kind,
                "duration_s": seconds(d.duration_s),
            }
            for d in record.dropouts
        ],
        "trips": [
            {
                "time_s": seconds(t.time_s),
                "supply": t.supply,
                "current_a": None if t.current_a is None else round(t.current_a, 3),
                "cause": list(t.cause),
                "halted": list(t.halted),
            }
            for t in record.trips
        ],
        **_mishaps(record),
    }


def _mishaps(record: Record) -> Document:
    return {
        "derailments": [
            {
                "time_s": seconds(d.time_s),
                "train": d.train,
                "route": d.route,
                "lever": d.lever,
                "cause": d.cause,
            }
            for d in record.derailments
        ],
        "run_throughs": [
            {
                "time_s": seconds(r.time_s),
                "train": r.train,
                "route": r.route,
                "lever": r.lever,
                "then": r.then,
            }
            for r in record.run_throughs
        ],
        "reversals": [
            {
                "time_s": seconds(r.time_s),
                "train": r.train,
                "route": r.route,
                "place_mm": mm(r.place_mm),
                "supply": r.supply,
            }
            for r in record.reversals
        ],
        "events": [
            {"time_s": seconds(e.time_s), "what": e.what, "who": e.who, "detail": e.detail}
            for e in record.events
        ],
    }


def assumptions_list(assumptions: Iterable[Assumption]) -> list[Document]:
    """Numbers that a result rests on, and whose they are."""
    return [{"what": a.what, "value": a.value, "whose": a.whose} for a in assumptions]


def seconds(time_s: float) -> float:
    """Seconds to the microsecond; never minus zero."""
    return round(float(time_s), 6) + 0.0


def mm(place_mm: float) -> float:
    """Millimetres to 0.001; never minus zero."""
    return round(float(place_mm), 3) + 0.0
