"""Put a worksheet together for one fix of a scenario."""

from __future__ import annotations

from collections.abc import Iterable

from sim.handwork.measures import handwork
from sim.layout.assemble import assemble
from sim.layout.model import Layout
from sim.layout.report import matching
from sim.layout.traffic import Assumption, Case
from sim.power.chart import chart
from sim.scenario.document import Scenario
from sim.scenario.fixes import FixTable
from sim.worksheet.lamp import lamp_rows
from sim.worksheet.meter import meter_table
from sim.worksheet.model import (
    GOOD_SHARE,
    LEADS_OHM,
    LOAD_OHM,
    SPARE_OHM,
    MeterTable,
    Worksheet,
)
from sim.worksheet.spots import Numbering, modules_of, wire_ends
from sim.worksheet.steps import CAUTIONS, steps, trial
from sim.worksheet.wires import wire_rows

PRACTICE = "common practice, no source"
OURS = "our starting value, no source"
#: Settings in which the fix shorts that are told.
SHORTS_TOLD = 6


def make_worksheet(scenario: Scenario, fix: FixTable) -> Worksheet:
    """The worksheet of ``fix``."""
    before, after = assemble(scenario, None), assemble(scenario, fix.name)
    layout = after.layout
    work = handwork(layout, fix)
    numbering = Numbering(layout)
    wires = wire_rows(layout, fix, numbering)
    refs = _touched(layout, fix)
    _test_contacts(layout, fix, numbering)
    boards = modules_of(layout, refs)
    for board in boards:
        numbering.ends_of(board)
    spots = tuple(numbering.spots)
    pieces = _pieces(layout, refs, [s.piece for s in spots if s.solder])
    rows, more = lamp_rows(before.layout, layout, pieces)
    tables = [meter_table(before.layout, layout, board, spots) for board in boards]
    return Worksheet(
        scenario=scenario.title,
        fix=fix.name,
        note=fix.note,
        pieces=pieces,
        spots=spots,
        wires=tuple(wires),
        steps=tuple(steps(fix, wires, spots, work)),
        trial=tuple(trial(fix, wires, _shorts(before, after))),
        meter=tuple(t for t in tables if _says(t)),
        lamp=tuple(rows),
        lamp_left_out=more,
        cautions=CAUTIONS,
        refused=tuple(work.refused),
        # How long the iron may stay is told in the order of work.
        hints=tuple(c for c in work.cautions if not c.startswith("the iron on ")),
        assumptions=(*after.assumptions, *_own()),
    )


def _touched(layout: Layout, fix: FixTable) -> list[str]:
    """Ids of everything that the fix touches."""
    found = [ref for ref, _ in wire_ends(fix)]
    found += [a.at for a in fix.added_length] + [a.piece for a in fix.alter]
    found += [g.at for g in fix.gap] + list(fix.cut)
    ids = [e.id for e in layout.elements]
    for pattern in (*fix.solder, *fix.clean):
        found += matching(pattern, ids)
    return found


def _test_contacts(layout: Layout, fix: FixTable, numbering: Numbering) -> None:
    """Number a place on each side of every contact that is cleaned."""
    contacts = [e for e in layout.elements if e.kind == "contact"]
    for pattern in fix.clean:
        meant = set(matching(pattern, [e.id for e in contacts]))
        for element in contacts:
            if element.id in meant:
                numbering.test(element.a)
                numbering.test(element.b)


def _pieces(layout: Layout, refs: Iterable[str], soldered: Iterable[str]) -> tuple[str, ...]:
    """Ids of the pieces that work is done on, in order of pieces."""
    touched = set(soldered)
    for ref in refs:
        touched |= {p.id for p in layout.pieces if ref == p.id or ref.startswith(f"{p.id}/")}
    return tuple(p.id for p in layout.pieces if p.id in touched)


def _shorts(before: Case, after: Case) -> list[str]:
    """Settings that short with the fix and did not without it, in words."""
    old = {s.levers for s in chart(before).settings if s.short}
    new = [s for s in chart(after).settings if s.short and s.levers not in old]
    said = [", ".join(f"{name} {word}" for name, word in s.levers) for s in new[:SHORTS_TOLD]]
    return [*said, f"and {len(new) - SHORTS_TOLD} more"] if len(new) > SHORTS_TOLD else said


def _says(table: MeterTable) -> bool:
    return bool(table.rows or table.isolation)


def _own() -> tuple[Assumption, ...]:
    return (
        Assumption("what a meter's leads read", f"{LEADS_OHM:g} ohm", PRACTICE),
        Assumption(
            "a reading above the expected that still is good", f"{SPARE_OHM:g} ohm", OURS
        ),
        Assumption("load of the lamp table", f"{LOAD_OHM:g} ohm 10 W", PRACTICE),
        Assumption("volts below the expected that still are good", f"{GOOD_SHARE:.0%}", OURS),
    )
