"""What a fix takes with hands: joints, holes, opened pieces, wire, room, and hazards.

Count what a fix takes: joints, holes, opened pieces, wire, room, and hazards.

Every number comes from the fix as stated and from the data of the pieces.  A
wire that is stated between sections is taken to lie on the first pads that can
be soldered, which is said.
"""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass, field

from sim.analyses.handwork.hazards import Caution, Refusal
from sim.analyses.handwork.pads import (
    Place,
    apart_mm,
    cut_length_mm,
    in_the_way,
    is_covered,
    places,
    refusal,
    spare_mm,
)
from sim.layout.assembly_log import matching
from sim.layout.model import Layout
from sim.scenario.defaults import FEEDER_WIRE, JUMPER_WIRE, defaults_for
from sim.scenario.fixes import FixTable
from sim.scenario.supplies import FeederTable, JumperTable

#: More joints than this on one pad do not hold (common practice, no source).
JOINTS_ON_A_PAD = 2
#: Parameters of library pieces that stand for two gaps.
_PAIRED_GAPS = ("frog_gaps", "centre_gap")


@dataclass(slots=True)
class Handwork:
    """The work of one fix.

    ``opened`` are covered pieces and engines that must be opened, ``held_down`` pieces with
    levers that wires through the board hold down afterwards, ``replaced`` pieces
    that are changed or exchanged.  ``spare_mm`` is the least room left under a
    cover, ``board_spare_mm`` the least length left on a board (below 0: it does
    not fit); None where nothing is known to be limited.  ``refused`` are hazards
    that forbid the work, ``cautions`` those to mind.  ``unmeasured`` wires have no
    known length and count with the starting value for their kind.
    """

    joints: int = 0
    holes: int = 0
    cuts: int = 0
    opened: dict[str, None] = field(default_factory=dict)
    held_down: dict[str, None] = field(default_factory=dict)
    replaced: dict[str, None] = field(default_factory=dict)
    wire_mm: float = 0.0
    unmeasured: int = 0
    spare_mm: float | None = None
    board_spare_mm: float | None = None
    refused: dict[Refusal, None] = field(default_factory=dict)
    cautions: dict[Caution, None] = field(default_factory=dict)

    @property
    def fits(self) -> bool:
        """Whether it fits every board."""
        return self.board_spare_mm is None or self.board_spare_mm >= 0


def handwork(layout: Layout, fix: FixTable | None) -> Handwork:
    """The work of ``fix``; ``layout`` has it applied."""
    work = Handwork()
    work.board_spare_mm = board_spare_mm(layout)
    if fix is not None:
        _Counter(layout, work).count(fix)
    return work


def board_spare_mm(layout: Layout) -> float | None:
    """Least length left on any board whose length is known, mm."""
    spare = [m.length_mm - m.taken_mm for m in layout.modules if m.length_mm is not None]
    return round(min(spare), 3) if spare else None


class _Counter:
    """Goes through one fix."""

    def __init__(self, layout: Layout, work: Handwork) -> None:
        self.layout, self.work = layout, work
        self.places = list(places(layout))
        self.by_ref = {place.ref: place for place in self.places}
        self.on_pad: Counter[str] = Counter()
        gauges = [placed.piece.gauge_mm for placed in layout.pieces]
        self.starting_mm = defaults_for(gauges[0] if gauges else 1.0)

    def count(self, fix: FixTable) -> None:
        """Everything that the fix states."""
        for jumper in fix.jumper:
            self._jumper(jumper)
        for feeder in fix.feeder:
            self._feeder(feeder)
        for changeover in fix.changeover:
            self.work.joints += 1 + len(changeover.to)
            for section in (changeover.section, *changeover.to.values()):
                self._open(self._place(section))
            self._caution(Caution("switch needs room", changeover.lever))
        self._joiners(fix)
        self._rewire(fix)
        self.work.cuts += len(fix.cut) + len(fix.gap)
        for alter in fix.alter:
            self.work.replaced[alter.piece] = None
            self.work.cuts += sum(2 for key in _PAIRED_GAPS if alter.set.get(key) is True)
        self._clean(fix)
        for store in fix.energy_store:
            self.work.opened[f"the engine of {store.train}"] = None
        for pad, joints in self.on_pad.items():
            if joints > JOINTS_ON_A_PAD:
                self._caution(Caution("joints on one pad", pad, joints))

    def _place(self, ref: str) -> Place | None:
        """The pad that is meant: itself, or the first of a section that can be used."""
        if ref in self.by_ref:
            return self.by_ref[ref]
        nodes = {name: n for n, name in enumerate(self.layout.nodes)}
        own = [p for p in self.places if p.node == nodes.get(ref)]
        usable = [p for p in own if refusal(self.layout, p) is None]
        if usable:
            self._caution(Caution("pad taken", usable[0].ref))
        return next(iter(usable or own), None)

    def _caution(self, caution: Caution) -> None:
        self.work.cautions[caution] = None

    def _jumper(self, jumper: JumperTable) -> None:
        wire = jumper.wire or JUMPER_WIRE
        ends = [self._place(jumper.start), self._place(jumper.to)]
        inside = self._is_inside(jumper, ends)
        for place in ends:
            self._joint(place, wire)
            if inside:
                self._open(place)
            else:
                self._hole(place)
        bars: list[str] = []
        one, other = ends
        if inside and one is not None and other is not None and one.piece == other.piece:
            placed = self.layout.pieces[one.piece]
            bars = in_the_way(placed.piece, one, other)
            for bar in bars:
                self._caution(Caution("in the way", f"{placed.id}/{bar}"))
        self._length(jumper.length, one, other, len(bars), not inside)

    def _is_inside(self, jumper: JumperTable, ends: list[Place | None]) -> bool:
        if jumper.way is not None:
            return jumper.way == "inside"
        one, other = ends
        if one is None or other is None or one.piece != other.piece:
            return False
        return is_covered(self.layout, one) and is_covered(self.layout, other)

    def _length(
        self,
        stated_mm: float | None,
        one: Place | None,
        other: Place | None,
        detours: int,
        through: bool,
        what: str = "jumper_length_mm",
    ) -> None:
        apart = None if one is None or other is None else apart_mm(one, other)
        if stated_mm is not None:
            self.work.wire_mm += stated_mm
        elif apart is not None:
            self.work.wire_mm += cut_length_mm(apart, detours, through)
        else:
            self.work.wire_mm += self.starting_mm[what].value
            self.work.unmeasured += 1

    def _feeder(self, feeder: FeederTable) -> None:
        for ref in (feeder.plus, feeder.minus):
            place = self._place(ref)
            self._joint(place, feeder.wire or FEEDER_WIRE)
            self._hole(place)
            self._length(feeder.length, None, None, 0, False, "feeder_length_mm")

    def _joint(self, place: Place | None, wire: str) -> None:
        """One soldered joint, with the hazards of its pad."""
        self.work.joints += 1
        if place is None:
            return
        self.on_pad[place.ref] += 1
        why = refusal(self.layout, place, wire)
        if why is not None:
            self.work.refused[why] = None
        self._caution(Caution("short with the iron", place.ref, place.pad.iron_s))

    def _open(self, place: Place | None) -> None:
        if place is None or not is_covered(self.layout, place):
            return
        self.work.opened[self.layout.pieces[place.piece].id] = None
        spare = spare_mm(self.layout, place)
        if spare is not None:
            known = self.work.spare_mm
            self.work.spare_mm = spare if known is None else min(known, spare)

    def _hole(self, place: Place | None) -> None:
        """A wire that goes down through the board beside its pad."""
        self.work.holes += 1
        if place is None:
            return
        placed = self.layout.pieces[place.piece]
        if not place.pad.drill:
            self.work.refused[Refusal("no hole", place.ref)] = None
        if placed.levers:
            self.work.held_down[placed.id] = None

    def _joiners(self, fix: FixTable) -> None:
        ids = [e.id for e in self.layout.elements if e.kind == "joiner"]
        found = {name for pattern in fix.solder for name in matching(pattern, ids)}
        self.work.joints += len(found)

    def _rewire(self, fix: FixTable) -> None:
        """New wires: a joint at each end that is on a rail; a bus ends in terminals."""
        for table in fix.rewire:
            for element in self.layout.elements:
                if element.kind not in ("bus", "feeder", "jumper"):
                    continue
                jumper = element.kind == "jumper"
                if not matching(table.of, [element.id if jumper else element.id[:-1]]):
                    continue
                for tap in filter(None, element.taps):
                    self._joint(self._place(tap), table.wire)
                what = "jumper_length_mm" if jumper else "feeder_length_mm"
                self._length(table.length, None, None, 0, False, what)

    def _clean(self, fix: FixTable) -> None:
        contacts = {e.id: e.piece for e in self.layout.elements if e.kind == "contact"}
        for pattern in fix.clean:
            for name in matching(pattern, contacts):
                placed = self.layout.pieces[contacts[name]]
                if placed.piece.cover != "none":
                    self.work.opened[placed.id] = None
