"""Put a worksheet together for one fix of a scenario, with the order of work.

The order of work, the trial with loose wires, and the cautions.

Common practice of soldering and wiring, no source, unless a standard is named.

Put a worksheet together for one fix of a scenario.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence

from sim.analyses.handwork.measures import Handwork, altered_words, handwork
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
from sim.layout.assembly_log import is_glob, matching
from sim.layout.model import Layout
from sim.layout.project import Project
from sim.layout.traffic import Assumption, Case
from sim.power.chart import chart
from sim.scenario.fixes import FixTable

CAUTIONS = (
    "Supply off and unplugged from the wall before anything is touched with iron, meter or "
    "screwdriver; lift the trains off.",
    "The mains side of a supply stays closed: it is for licensed people, by the rules of the "
    "place. What is on this sheet is only the low-volt side.",
    "Low volts are not low energy: a shorted supply of a few amps makes wires and rails hot "
    "enough to burn fingers and melt sleepers. First power after the work: a current-limited "
    "supply, then the layout's own.",
    "The iron is hotter than 300 degrees C: a stand, a clear bench, and it is put away before "
    "meters come out.",
    "Fumes of rosin flux are bad for the lungs (UK HSE: limit 0.05 mg/m3 over 8 h, asthma "
    "risk): air from the side, face away.",
    "Eyes: spectacles while soldering, cutting wire and drilling; cut ends fly.",
    "Solder with lead: wash hands, no food on the bench; no acid flux on track or wire.",
)
TRIAL = "Do the trial with loose wires."


def trial(fix: FixTable, wires: Sequence[WireRow], shorts: Sequence[str]) -> list[str]:
    """Prove the fix with loose clip leads before anything is soldered.

    What is cut or changed in the track comes first: the wires are for what that leaves.
    """
    if not fix.jumper and not fix.feeder:
        return []
    said = ["Supply off. Take clip leads for the wires of the list; nothing is soldered yet."]
    if _works_on_track(fix):
        said.insert(0, "Not before the step Track is done: without it the wires may short.")
    said += [
        f"{wire.name}: clip from {_clip(wire.start, wire.start_words)} to "
        f"{_clip(wire.to, wire.to_words)}, at rail tops or ends, clear of the wheels."
        for wire in wires
    ]
    said.append(
        "Current-limited supply on. Run one engine over every route both ways, each lever "
        "position; stop on each piece and start again."
    )
    if shorts:
        said.append(
            "The fix is expected to short with: " + "; ".join(shorts) + ". Leave these out of "
            "the trial, and think again before going on."
        )
    else:
        said.append(
            "No lever position should trip the supply. If one does, stop: do not solder."
        )
    said.append("Take the leads off again: the dead stretches must be back, or something else "
                "cured it.")  # fmt: skip
    return said


def _clip(number: int | None, words: str) -> str:
    return words if number is None else f"the rail of {words} (place {number})"


def steps(
    fix: FixTable, wires: Sequence[WireRow], spots: Sequence[Spot], work: Handwork
) -> list[StepOfWork]:
    """What to do, in order."""
    later = _works_on_track(fix)
    before = ["Fill in the tables of readings, column before."]
    if not wires:
        before.append("Note which routes are dead in which setting.")
    elif not later:
        before.append(TRIAL)
    found = [StepOfWork("Before", tuple(before))]
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
    found.append(
        StepOfWork(
            "Test before closing",
            ("Every row of the meter table, column after; every isolation reading open.",
             "Move every lever by hand: no wire binds, nothing is held down."),
        )
    )  # fmt: skip
    if work.opened:
        found.append(StepOfWork("Close", tuple(f"Close {name}." for name in work.opened)))
    found.append(
        StepOfWork(
            "Power",
            ("Current-limited supply first; touch a coin across the rails at the far end of "
             "each stretch: the supply must trip.",
             f"Lamp or {LOAD_OHM:g} ohm 10 W across the rails: the lamp table, column after.",
             "Then one engine over every route both ways.",
             "Write the change on the module's card."),
        )
    )  # fmt: skip
    return found


def _open(work: Handwork) -> Iterator[StepOfWork]:
    if work.opened:
        yield StepOfWork(
            "Open",
            (
                *(f"Lift out and open {name}." for name in work.opened),
                "Photograph every stage; keep one end closed until the other is understood.",
                "The underside drawing is what you see now: north and south changed places.",
            ),
        )


def _works_on_track(fix: FixTable) -> bool:
    return bool(fix.added_length or fix.alter or fix.gap or fix.cut)


def _track(fix: FixTable, then: Sequence[str]) -> Iterator[StepOfWork]:
    said = [
        f"Put a length of {a.length_mm:g} mm, '{a.name}', at {a.at}." for a in fix.added_length
    ]
    for alter in fix.alter:
        new = ", ".join(altered_words(key, value) for key, value in alter.set.items())
        marked = " Strokes across its rails are its gaps." if "gap" in new else ""
        said.append(f"Change {alter.piece}: {new}.{marked}")
    for gap in fix.gap:
        rails = "both rails" if gap.rails == "both" else f"the {gap.rails} rail"
        said.append(f"Insulated joiners at {gap.at}, {rails}.")
    said += [f"Cut {name}." for name in fix.cut]
    if said:
        yield StepOfWork("Track", (*said, *then))


def _cut(wires: Sequence[WireRow]) -> StepOfWork:
    return StepOfWork(
        "Cut the wires",
        (
            *(f"{w.name}: {w.cut_mm:.0f} mm of {w.wire}." for w in wires),
            "Strip 3 mm, twist, tin; slip the sleeves on before the second joint.",
        ),
    )


def _solder(spots: Sequence[Spot]) -> StepOfWork:
    return StepOfWork(
        "Solder",
        (
            "Tin each pad and each wire first; the least solder that wets; one touch.",
            *(
                f"Place {s.number}: the iron for {s.iron_s:g} s or less, then let it cool."
                for s in spots
                if s.refused is None
            ),
            *(f"Place {s.number}: NOT here, {s.refused}." for s in spots if s.refused),
            "Keep off moving contacts, tie bar, frog underside and the inside of the rails.",
            "A blob under a metal cover is a short: look along it from the side.",
        ),
    )


def _lay(wires: Sequence[WireRow], work: Handwork) -> StepOfWork:
    return StepOfWork(
        "Lay the wires",
        (
            *(f"{w.name}: {w.way}." for w in wires),
            "Shrink the sleeves; tie the wires so that no lever can catch them.",
            *(f"A hole beside the rail: only where marked ({work.holes} in all)."
              for _ in range(1) if work.holes),
        ),
    )  # fmt: skip


def _others(fix: FixTable) -> Iterator[StepOfWork]:
    said = [f"Solder joiner {name}." for name in fix.solder]
    said += [
        f"Clean every contact of {name}." if is_glob(name) else f"Clean contact {name}."
        for name in fix.clean
    ]
    said += [
        f"Replace the wire of {r.of} by {r.wire}"
        + ("." if r.length is None else f", {r.length:g} mm each.")
        for r in fix.rewire
    ]
    said += [
        f"Reverse supply {name}: unplug it and swap its two wires at its terminals."
        for name in fix.reverse
    ]
    said += [
        f"Put an energy store of {s.energy_store_s:g} s into the engine of {s.train}."
        for s in fix.energy_store
    ]
    if said:
        yield StepOfWork("Other work", tuple(said))


PRACTICE = "common practice, no source"
OURS = "our starting value, no source"
#: Settings in which the fix shorts that are told.
SHORTS_TOLD = 6


def make_worksheet(project: Project, fix: FixTable) -> Worksheet:
    """The worksheet of ``fix``."""
    before, after = project.case(), project.case(fix.name)
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
        scenario=project.scenario.title,
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
