"""The documents that commands print for other programs, and how one is written.

Plain data, ready for JSON.  Keys come in a fixed order, numbers are in mm, s, V,
A and Ω, and are rounded (:mod:`sim.pages.plain`), so that the same question gives
the same bytes.  Ids and closed lists are those of the
models; fields are kept from version to version, more may be added.
"""

from __future__ import annotations

import json
import sys
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from pathlib import Path

from sim.layout.traffic import Assumption
from sim.pages.phrases import cause_line, cause_lines
from sim.pages.plain import Document, Plain
from sim.power.chart import Chart, RouteState, Setting
from sim.records.causes import Cause, DerailReason
from sim.records.invariants import whole
from sim.records.model import Leg, Record
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


#: 2: a cause is an object with its kind, ids and text, where 1 had the text alone.
FORMAT_VERSION = 2


@dataclass(frozen=True, slots=True)
class Asked:
    """What was asked: the scenario's title and the command line that asks it again."""

    scenario: str | None
    command: str


_plain = Plain(
    {
        Assumption: "what value whose",
        Problem: "code where line expected found severity",
        Chart: "total groups skipped settings",
        Setting: "levers dead short sections=fed_by routes shorts joined_supplies=joined",
        RouteState: "set state dead insulated_spans=insulated",
        Leg: "train leg outcome start_s end_s",
        Record: "random duration_s legs passes stalls hesitations dropouts trips derailments "
        "run_throughs reversals events",
    },
    {
        "code": lambda code: code or None,
        "levers": dict,
        "sections": lambda fed: {section: {"fed_by": poles} for section, poles in fed},
        "routes": lambda routes: {r.route: r for r in routes},
        "current_a": lambda amps: None if amps is None else round(amps, 3),
        "cause": lambda cause: cause_object(cause),
    },
)


def heading(asked: Asked, **about: str | int | None) -> Document:
    """How every document begins: ``about`` says of what it is."""
    return {"format_version": FORMAT_VERSION, **about, "command": asked.command}


def check_document(
    asked: Asked, problems: Iterable[Problem], assumed: Sequence[Assumption] = ()
) -> Document:
    """Problems of a scenario file, errors and warnings as they were found.

    ``assumed`` is what a verdict hangs on and the file does not give.
    """
    return {
        **heading(asked, scenario=asked.scenario),
        "problems": _plain(list(problems)),
        "assumed": assumptions_list(assumed),
    }


def states_document(
    asked: Asked, chart: Chart, assumptions: Sequence[Assumption] = ()
) -> Document:
    """Every setting: its levers, sections, routes, shorts and joined supplies."""
    return {
        **heading(asked, scenario=chart.scenario, fix=chart.fix),
        **_plain(chart),
        "assumptions": assumptions_list(assumptions),
    }


def run_document(
    asked: Asked, record: Record, assumptions: Sequence[Assumption] = ()
) -> Document:
    """Everything that happened in one run, in order of time."""
    return {
        **heading(asked, scenario=record.scenario, fix=record.fix, seed=record.seed),
        **_plain(record),
        "assumptions": assumptions_list(assumptions),
    }


def cause_object(cause: Cause | DerailReason) -> Document:
    """A cause: kind, ids and lever positions for programs, the chain in words for people."""
    if not isinstance(cause, Cause):
        empty: Document = {"side": None, "elements": [], "levers": {}}
        return {"kind": cause, **empty, "text": [cause_line(cause)]}
    return {
        "kind": cause.kind,
        "side": cause.side or None,
        "elements": list(cause.elements),
        "levers": dict(cause.levers),
        "text": list(cause_lines(cause)),
    }


def assumptions_list(assumptions: Iterable[Assumption]) -> list[Document]:
    """Numbers that a result rests on, and whose they are."""
    return [_plain(a) for a in assumptions]
