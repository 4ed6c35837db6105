"""Numbered places: pads that wires are soldered to, and rails at which tests are made."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from math import cos, radians, sin

from sim.handwork.pads import Place, places, refusal
from sim.layout.model import NOWHERE, Layout
from sim.scenario.defaults import FEEDER_WIRE, JUMPER_WIRE
from sim.scenario.fixes import FixTable
from sim.worksheet.model import Spot


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
        solder: bool = False, iron_s: float | None = None, refused: str | None = None,
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
