"""The wires of a fix: from where to where, how long, how thick, with which sleeve."""

from __future__ import annotations

from collections.abc import Iterator

from sim.handwork.moving import in_the_way
from sim.handwork.pads import (
    INSULATION_MM,
    apart_mm,
    bare_mm,
    cut_length_mm,
    is_covered,
)
from sim.layout.model import Layout
from sim.scenario.defaults import FEEDER_WIRE, JUMPER_WIRE, defaults_for
from sim.scenario.fixes import FixTable
from sim.scenario.supplies import FeederTable, JumperTable
from sim.worksheet.model import WireRow
from sim.worksheet.spots import Numbering

#: Heat-shrink sleeves are sold in these inner diameters, mm (common practice, no source).
SLEEVES_MM = (1.2, 1.6, 2.4, 3.2, 4.8, 6.4, 9.5, 12.7)
#: A sleeve has to slip over the wire and its joint with so much to spare (ours).
SLEEVE_SPARE = 1.25


def sleeve_mm(wire: str) -> float:
    """Inner diameter of the sleeve for one end of a wire, before it is shrunk."""
    needed = (bare_mm(wire) + 2.0 * INSULATION_MM) * SLEEVE_SPARE
    return next((s for s in SLEEVES_MM if s >= needed), SLEEVES_MM[-1])


def wire_rows(layout: Layout, fix: FixTable, numbering: Numbering) -> list[WireRow]:
    """Every wire of the fix, in its order."""
    gauges = [p.piece.gauge_mm for p in layout.pieces]
    starting = defaults_for(gauges[0] if gauges else 1.0)
    count = sum(e.kind == "jumper" for e in layout.elements) - len(fix.jumper)
    rows: list[WireRow] = []
    for k, jumper in enumerate(fix.jumper, 1):
        name = jumper.name or f"jumper {count + k}"
        rows.append(
            _jumper(layout, jumper, name, numbering, starting["jumper_length_mm"].value)
        )
    for feeder in fix.feeder:
        rows += _feeder(feeder, numbering, starting["feeder_length_mm"].value)
    rows += list(_changeovers(fix, numbering, starting["jumper_length_mm"].value))
    return rows


def _jumper(
    layout: Layout, jumper: JumperTable, name: str, numbering: Numbering, starting_mm: float
) -> WireRow:
    wire = jumper.wire or JUMPER_WIRE
    one, other = numbering.pad_of(jumper.start), numbering.pad_of(jumper.to)
    inside = jumper.way == "inside" or (
        jumper.way is None
        and one is not None
        and other is not None
        and one.piece == other.piece
        and is_covered(layout, one)
        and is_covered(layout, other)
    )
    detours = 0
    if inside and one is not None and other is not None and one.piece == other.piece:
        detours = len(in_the_way(layout.pieces[one.piece].piece, one, other))
    apart = None if one is None or other is None else apart_mm(one, other)
    if jumper.length is not None:
        cut, measured = jumper.length, True
    elif apart is not None:
        cut, measured = cut_length_mm(apart, detours, not inside), True
    else:
        cut, measured = starting_mm, False
    way = "inside the piece" if inside else "through the board and under it"
    if detours:
        way += ", led round the tie bars"
    return WireRow(
        name, numbering.solder(jumper.start, wire), jumper.start,
        numbering.solder(jumper.to, wire), jumper.to, cut, measured, wire,
        round(bare_mm(wire), 3), sleeve_mm(wire), way,
    )  # fmt: skip


def _feeder(feeder: FeederTable, numbering: Numbering, starting_mm: float) -> Iterator[WireRow]:
    wire = feeder.wire or FEEDER_WIRE
    source = feeder.supply if feeder.supply is not None else f"bus {feeder.bus}"
    for pole, ref in (("+", feeder.plus), ("-", feeder.minus)):
        yield WireRow(
            f"{feeder.name} {pole}", None, f"{source} {pole}", numbering.solder(ref, wire), ref,
            starting_mm if feeder.length is None else feeder.length,
            feeder.length is not None, wire, round(bare_mm(wire), 3), sleeve_mm(wire),
            "through the board and under it",
        )  # fmt: skip


def _changeovers(fix: FixTable, numbering: Numbering, starting_mm: float) -> Iterator[WireRow]:
    for changeover in fix.changeover:
        wire = JUMPER_WIRE
        ends = [("common", changeover.section), *changeover.to.items()]
        for word, ref in ends:
            yield WireRow(
                f"changeover {changeover.lever} {word}", None,
                f"switch on {changeover.lever}, {word}", numbering.solder(ref, wire), ref,
                starting_mm, False, wire, round(bare_mm(wire), 3), sleeve_mm(wire),
                "to the microswitch",
            )  # fmt: skip
