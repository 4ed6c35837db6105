"""Numbered places, and the wires between them: how long, how thick, how sleeved.

Numbered places: pads that wires are soldered to, and rails at which tests are made.

The wires of a fix: from where to where, how long, how thick, with which sleeve.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from math import cos, radians, sin

from sim.analyses.handwork.hazards import Refusal
from sim.analyses.handwork.pads import (
    INSULATION_MM,
    Place,
    apart_mm,
    bare_mm,
    cut_length_mm,
    in_the_way,
    is_covered,
    places,
    refusal,
)
from sim.bench.worksheet.model import Spot, WireRow
from sim.layout.model import NOWHERE, Layout
from sim.scenario.defaults import FEEDER_WIRE, JUMPER_WIRE, defaults_for
from sim.scenario.fixes import FixTable
from sim.scenario.supplies import FeederTable, JumperTable


def wire_ends(fix: FixTable) -> Iterator[tuple[str, str]]:
    """(what is soldered to, wire size) of each soldered end of the fix's wires."""
    for jumper in fix.jumper:
        for ref in (jumper.start, jumper.to):
            yield ref, jumper.wire or JUMPER_WIRE
    for feeder in fix.feeder:
        for ref in (feeder.plus, feeder.minus):
            yield ref, feeder.wire or FEEDER_WIRE
    for changeover in fix.changeover:
        for ref in (changeover.section, *changeover.to.values()):
            yield ref, JUMPER_WIRE


class Numbering:
    """Gives every place of the sheet its number, in the order in which it is met."""

    def __init__(self, layout: Layout) -> None:
        self.layout = layout
        self._places = list(places(layout))
        self._by_ref = {p.ref: p for p in self._places}
        self._node = {name: k for k, name in enumerate(layout.nodes)}
        self._of_node: dict[int, list[Place]] = {}
        for place in self._places:
            self._of_node.setdefault(place.node, []).append(place)
        self.spots: list[Spot] = []
        self._number: dict[str, int] = {}

    def pad_of(self, ref: str) -> Place | None:
        """The pad that is meant: itself, or the first of a section that can be used."""
        if ref in self._by_ref:
            return self._by_ref[ref]
        own = self._of_node.get(self._node.get(ref, -1), [])
        usable = [p for p in own if refusal(self.layout, p) is None]
        return next(iter(usable or own), None)

    def solder(self, ref: str, wire: str) -> int | None:
        """Number of the pad that a wire is soldered to; None where the piece has no pad."""
        place = self.pad_of(ref)
        if place is None:
            return None
        return self._add(
            place.ref, place.node, place.piece, (place.pad.x_mm, place.pad.y_mm),
            place.pad.face, solder=True, iron_s=place.pad.iron_s,
            refused=refusal(self.layout, place, wire), words=place.ref,
        )  # fmt: skip

    def test(self, node: int) -> None:
        """A pad of a section to hold a meter's lead to, if the section has one."""
        own = self._of_node.get(node, [])
        usable = [p for p in own if refusal(self.layout, p) is None]
        for place in (usable or own)[:1]:
            at = place.pad.x_mm, place.pad.y_mm
            self._add(place.ref, node, place.piece, at, place.pad.face, words=place.ref)

    def ends_of(self, module: str) -> None:
        """The rails at the open ends of a board."""
        for number, placed in enumerate(self.layout.pieces):
            if placed.module != module:
                continue
            for k, end in enumerate(placed.piece.ends):
                mate = self.layout.ends[placed.ends[k]].joined
                inside = (
                    mate != NOWHERE
                    and self.layout.pieces[self.layout.ends[mate].piece].module == module
                )
                if inside or not end.joinable:
                    continue
                for side, section in (("north", end.north), ("south", end.south)):
                    # North of an end that looks west lies on its right.
                    left = (side == "north") == (end.outward == "east")
                    half = placed.piece.gauge_mm / 2.0 * (1.0 if left else -1.0)
                    turn = radians(end.heading_deg + 90.0)
                    x = round(end.x_mm + half * cos(turn), 3) + 0.0
                    y = round(end.y_mm + half * sin(turn), 3) + 0.0
                    ref = f"{placed.id}/{end.name}/{side}"
                    node = self._node[f"{placed.id}/{section}"]
                    self._add(ref, node, number, (x, y), "top", words=f"{side} rail at "
                              f"{placed.id}/{end.name}")  # fmt: skip

    def _add(
        self, ref: str, node: int, piece: int, at: tuple[float, float], face: str,
        solder: bool = False, iron_s: float | None = None, refused: Refusal | None = None,
        words: str = "",
    ) -> int:  # fmt: skip
        if ref in self._number:
            return self._number[ref]
        number = self._number[ref] = len(self.spots) + 1
        self.spots.append(
            Spot(
                number, ref, self.layout.nodes[node], self.layout.pieces[piece].id,
                at[0], at[1], "top" if face == "top" else "underside", solder, iron_s,
                refused, words,
            )
        )  # fmt: skip
        return number


def modules_of(layout: Layout, refs: Iterable[str]) -> list[str]:
    """Boards that ids lie on, in order of boards."""
    heads = {ref.partition("/")[0] for ref in refs}
    return [m.name for m in layout.modules if m.name in heads]


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
