"""Put a worksheet together for one fix of a scenario: order of work, trial, tables.

Common practice of soldering and wiring, no source, unless a standard is named.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence

from sim.analyses.handwork.measures import Handwork, handwork
from sim.analyses.handwork.tasks import Task
from sim.bench.worksheet.model import (
    GOOD_SHARE,
    LEADS_OHM,
    LOAD_OHM,
    SPARE_OHM,
    MeterTable,
    Spot,
    StepOfWork,
    WireRow,
    Worksheet,
)
from sim.bench.worksheet.tables import lamp_rows, meter_table
from sim.bench.worksheet.wires import Numbering, modules_of, wire_ends, wire_rows
from sim.layout.assemble import assemble
from sim.layout.assembly_log import is_glob, matching
from sim.layout.model import Layout
from sim.layout.traffic import Assumption, Case
from sim.power.chart import chart
from sim.scenario.document import Scenario
from sim.scenario.fixes import FixTable

TRIAL = Task("do the trial")


def trial(fix: FixTable, wires: Sequence[WireRow], shorts: Sequence[str]) -> list[Task]:
    """Prove the fix with loose clip leads before anything is soldered.

    What is cut or changed in the track comes first: the wires are for what that leaves.
    """
    if not fix.jumper and not fix.feeder:
        return []
    found = [Task("after track")] if _works_on_track(fix) else []
    found.append(Task("take leads"))
    found += [
        Task(
            "clip",
            who=wire.name,
            ids=(wire.start_words, wire.to_words),
            numbers=(float(wire.start or 0), float(wire.to or 0)),
        )
        for wire in wires
    ]
    found.append(Task("try all"))
    if shorts:
        found.append(Task("shorts expected", settings=tuple(shorts)))
    else:
        found.append(Task("no short expected"))
    found.append(Task("take off"))
    return found


def steps(
    fix: FixTable, wires: Sequence[WireRow], spots: Sequence[Spot], work: Handwork
) -> list[StepOfWork]:
    """What to do, in order."""
    later = _works_on_track(fix)
    before = [Task("fill in tables")]
    if not wires:
        before.append(Task("note dead routes"))
    elif not later:
        before.append(TRIAL)
    found = [StepOfWork("before", tuple(before))]
    found += list(_open(work))
    found += list(_track(fix, (TRIAL,) if wires and later else ()))
    soldered = [s for s in spots if s.solder]
    if wires:
        found.append(_cut(wires))
    if soldered:
        found.append(_solder(soldered))
    if wires:
        found.append(_lay(wires, work))
    found += list(_others(fix))
    found.append(StepOfWork("test", (Task("read all"), Task("move levers"))))
    if work.opened:
        found.append(StepOfWork("close", tuple(Task("close", who=n) for n in work.opened)))
    power = Task("coin"), Task("lamp", numbers=(LOAD_OHM,)), Task("one engine")
    found.append(StepOfWork("power", (*power, Task("write card"))))
    return found


def _open(work: Handwork) -> Iterator[StepOfWork]:
    if work.opened:
        pieces = tuple(Task("open", who=name) for name in work.opened)
        yield StepOfWork("open", (*pieces, Task("photograph"), Task("seen from below")))


def _works_on_track(fix: FixTable) -> bool:
    return bool(fix.added_length or fix.alter or fix.gap or fix.cut)


def _track(fix: FixTable, then: Sequence[Task]) -> Iterator[StepOfWork]:
    found = [
        Task("put length", who=a.name, ids=(a.at,), numbers=(a.length_mm,))
        for a in fix.added_length
    ]
    found += [Task("alter", ids=(a.piece,), changes=tuple(a.set.items())) for a in fix.alter]
    found += [Task("insulate", who=gap.rails, ids=(gap.at,)) for gap in fix.gap]
    found += [Task("cut", ids=(name,)) for name in fix.cut]
    if found:
        yield StepOfWork("track", (*found, *then))


def _cut(wires: Sequence[WireRow]) -> StepOfWork:
    cut = (Task("cut wire", who=w.name, numbers=(w.cut_mm,), wire=w.wire) for w in wires)
    return StepOfWork("cut", (*cut, Task("strip")))


def _solder(spots: Sequence[Spot]) -> StepOfWork:
    return StepOfWork(
        "solder",
        (
            Task("tin"),
            *(
                Task("iron", numbers=(float(s.number), s.iron_s or 0.0))
                for s in spots
                if s.refused is None
            ),
            *(
                Task("no iron", numbers=(float(s.number),), refused=s.refused)
                for s in spots
                if s.refused is not None
            ),
            Task("keep off"),
            Task("look for blobs"),
        ),
    )


def _lay(wires: Sequence[WireRow], work: Handwork) -> StepOfWork:
    found = [Task("lay wire", who=w.name, wire=w.way) for w in wires]
    found.append(Task("sleeves"))
    if work.holes:
        found.append(Task("holes", numbers=(float(work.holes),)))
    return StepOfWork("lay", tuple(found))


def _others(fix: FixTable) -> Iterator[StepOfWork]:
    found = [Task("solder joiner", ids=(name,)) for name in fix.solder]
    found += [Task("clean all" if is_glob(n) else "clean", ids=(n,)) for n in fix.clean]
    found += [
        Task("rewire", who=r.of, wire=r.wire, numbers=() if r.length is None else (r.length,))
        for r in fix.rewire
    ]
    found += [Task("reverse", who=name) for name in fix.reverse]
    found += [
        Task("energy store", who=s.train, numbers=(s.energy_store_s,)) for s in fix.energy_store
    ]
    if found:
        yield StepOfWork("other", tuple(found))


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
        refused=tuple(work.refused),
        # How long the iron may stay is told in the order of work.
        hints=tuple(c for c in work.cautions if c.kind != "short with the iron"),
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
