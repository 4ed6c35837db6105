"""Ways of making a change, and found changes as fixes that a scenario can hold.

Found changes as fixes: tables that a scenario can hold, and their text.

Ways of making a change: which pads, how long a wire, what to mind.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from itertools import product
from typing import Any

from sim.analyses.handwork.pads import (
    Place,
    apart_mm,
    cut_length_mm,
    in_the_way,
    is_covered,
    spare_mm,
)
from sim.analyses.search.changes import Ground
from sim.analyses.search.model import Change, Option, Parts, Way
from sim.analyses.search.tables import Plan
from sim.layout.model import PLASTIC
from sim.scenario.fixes import FixTable
from sim.scenario.load import frozen

_LENGTH_TEXTS = ("length",)  #: fields of wires that must be written with their unit


def fix_from(name: str, note: str, parts: Parts, base: FixTable | None = None) -> FixTable:
    """A fix of these parts, each once, on top of what ``base`` does already."""
    data: dict[str, Any] = {} if base is None else data_of(base)
    for field, item in parts:
        held = data.setdefault(field, [])
        if item not in held:
            held.append(item)
    made: FixTable = FixTable.model_validate(frozen({**data, "name": name, "note": note}))
    return made


def data_of(fix: FixTable) -> dict[str, Any]:
    """The fix as a file would hold it: only what was said, lengths with their unit."""
    data: dict[str, Any] = _plain(fix.model_dump(by_alias=True, exclude_unset=True))
    for field in ("jumper", "feeder"):
        for wire in data.get(field, ()):
            for key in _LENGTH_TEXTS:
                if isinstance(wire.get(key), float | int):
                    wire[key] = f"{wire[key]:g} mm"
    return {key: value for key, value in data.items() if value not in ([], None)}


def _plain(value: Any) -> Any:
    if isinstance(value, dict):
        return {key: _plain(item) for key, item in value.items() if item is not None}
    return [_plain(item) for item in value] if isinstance(value, list | tuple) else value


def toml_of(fixes: Iterable[FixTable], heading: Sequence[str] = ()) -> str:
    """``[[fix]]`` tables, ready to be put at the end of a scenario file."""
    import tomli_w

    lines = "".join(f"# {line}\n" if line else "#\n" for line in heading)
    return lines + tomli_w.dumps({"fix": [data_of(fix) for fix in fixes]})


def free_name(wanted: str, taken: Iterable[str]) -> str:
    """``wanted``, or the first of ``wanted 2``, ``wanted 3``, … that is not taken."""
    known = set(taken)
    name, number = wanted, 1
    while name in known:
        number += 1
        name = f"{wanted} {number}"
    return name


#: Ways in the order in which fixes are made of them.
ORDER: tuple[Way, ...] = ("inside", "under the board", "added lengths", "feeder", "changeover")
#: Length of an added feeder length, mm (common practice, no source).
ADDED_MM = 62.0
#: Pads of one net on one board that are tried in pairs, nearest the front of the file.
PADS_AT_MOST = 40
#: What wires through the board do to a piece with levers.
HELD = "the wires hold it down, it can no longer be lifted out"


class Ways:
    """Finds the ways of making the changes of one plan."""

    def __init__(self, plan: Plan, ground: Ground, buses: Sequence[str]) -> None:
        self.plan, self.ground, self.layout = plan, ground, plan.layout
        self.buses = set(buses)
        self.use = set(plan.asked.use)
        self.nodes = {name: n for n, name in enumerate(self.layout.nodes)}

    def of(self, change: Change, beside: Sequence[Change] = ()) -> tuple[Option, ...]:
        """Every way of making one change of a set, the plainest first.

        ``beside`` are the set's other changes: a feeder may serve two of them.
        """
        if not change.is_wire:
            return (self._changeover(change),)
        join = change.joins[0]
        pair = self.plan.clusters[join.a], self.plan.clusters[join.b]
        boards = self._boards(*pair)
        found: list[Option | None] = []
        if "jumper" in self.use:
            found += [self._inside(*pair, board) for board in boards]
            found += [self._under(*pair, board) for board in boards]
        if "length" in self.use:
            found += self._lengths(*pair)
        if "feeder" in self.use:
            found.append(self._feeder(pair, beside))
        return tuple(option for option in found if option is not None)

    def words(self, change: Change) -> str:
        """The change in terms of sections."""
        if not change.is_wire:
            option = self._changeover(change)
            return f"changeover on {option.start} {option.to}"
        join = change.joins[0]
        return f"{self.section(join.a, join.b)} to {self.section(join.b, join.a)}"

    def section(self, node: int, near: int) -> str:
        """A section that stands for a net: one on a board where the other net is too."""
        here = self.ground.by_cluster.get(self.plan.clusters[node], [])
        there = self.ground.by_cluster.get(self.plan.clusters[near], [])
        boards = {self.layout.pieces[p.piece].module for p in there}
        pieces = {p.piece for p in there}
        if not here:
            return self.layout.nodes[node]

        def rank(place: Place) -> int:
            placed = self.layout.pieces[place.piece]
            if place.piece in pieces and placed.levers:
                return 0
            return 1 if placed.module in boards else 2

        return self.layout.nodes[min(here, key=rank).node]

    # --- jumpers ----------------------------------------------------------------

    def _boards(self, a: int, b: int) -> list[str]:
        """Boards that have pads of both nets, in the order of the file."""
        found = []
        for cluster in (a, b):
            here = self.ground.by_cluster.get(cluster, ())
            found.append(dict.fromkeys(self.layout.pieces[p.piece].module for p in here))
        return [board for board in found[0] if board in found[1]]

    def _pairs(self, a: int, b: int, board: str) -> Iterator[tuple[Place, Place]]:
        """Pads of the two nets on one board."""
        here, there = (
            [
                p for p in self.ground.by_cluster.get(cluster, ())
                if self.layout.pieces[p.piece].module == board
            ][:PADS_AT_MOST]
            for cluster in (a, b)
        )  # fmt: skip
        yield from product(here, there)

    def _inside(self, a: int, b: int, board: str) -> Option | None:
        """Between two pads of one piece, without a hole."""
        best: tuple[tuple[float, ...], Place, Place, list[str]] | None = None
        for one, other in self._pairs(a, b, board):
            if one.piece != other.piece or not self._is_inner(one, other):
                continue
            bars = in_the_way(self.layout.pieces[one.piece].piece, one, other)
            rank = (float(len(bars)), apart_mm(one, other) or 0.0)
            if best is None or rank < best[0]:
                best = (rank, one, other, bars)
        if best is None:
            return None
        (_, straight), one, other, bars = best
        return self._jumper("inside", one, other, straight, bars)

    def _is_inner(self, one: Place, other: Place) -> bool:
        covered = is_covered(self.layout, one) and is_covered(self.layout, other)
        return covered or not (one.pad.drill and other.pad.drill)

    def _under(self, a: int, b: int, board: str) -> Option | None:
        """Down through the board and up again, on plain track where there is any."""
        best: tuple[tuple[float, ...], Place, Place] | None = None
        for one, other in self._pairs(a, b, board):
            if not (one.pad.drill and other.pad.drill):
                continue
            apart = apart_mm(one, other)
            covered = is_covered(self.layout, one) + is_covered(self.layout, other)
            rank = (float(covered), float(apart is None), apart or 0.0)
            if best is None or rank < best[0]:
                best = (rank, one, other)
        if best is None:
            return None
        (_, unknown, straight), one, other = best
        return self._jumper("under the board", one, other, None if unknown else straight, [])

    def _jumper(
        self, way: Way, one: Place, other: Place, straight: float | None, bars: Sequence[str]
    ) -> Option:
        data: dict[str, object] = {"from": one.ref, "to": other.ref}
        if way in ("inside", "under the board"):
            data["way"] = way
        length = None
        if straight is not None:
            length = cut_length_mm(straight, len(bars), way == "under the board")
            data["length"] = f"{length:g} mm"
        cautions = [f"lead it round the tie bar of {bar}" for bar in bars]
        for place in (one, other):
            spare = spare_mm(self.layout, place)
            if spare is not None and way == "inside":
                cautions.append(f"{place.ref}: {spare:.1f} mm are left under the cover")
        return Option(way, one.ref, other.ref, length, tuple(cautions), (("jumper", data),))

    # --- feeders ----------------------------------------------------------------

    def _feeder(self, pair: tuple[int, int], beside: Sequence[Change]) -> Option | None:
        """Two wires from a supply or a bus to both rails at one place, plain track first."""
        for plain, (source, target) in product((True, False), (pair, pair[::-1])):
            for node in self.ground.sources.get(source, ())[::-1]:
                name = self.layout.nodes[node]
                for one, other in self._rails(target, self._partners(name, beside), plain):
                    refs = {name[-1]: one.ref, "-" if name[-1] == "+" else "+": other.ref}
                    kind = "bus" if name[:-1] in self.buses else "supply"
                    data = {
                        "name": f"feed {self.layout.pieces[one.piece].id.replace('/', ' ')}",
                        kind: name[:-1],
                        "plus": refs["+"],
                        "minus": refs["-"],
                    }
                    start = f"{kind} {name[:-1]}"
                    to = f"{refs['+']} (+) and {refs['-']} (-)"
                    minds = () if plain else (f"{self.layout.pieces[one.piece].id}: {HELD}",)
                    return Option("feeder", start, to, None, minds, (("feeder", data),))
        return None

    def _partners(self, name: str, beside: Sequence[Change]) -> set[int]:
        """Clusters that the other wire of a feeder from ``name`` may be put to."""
        other_name = name[:-1] + ("-" if name[-1] == "+" else "+")
        other = self.plan.clusters[self.nodes[other_name]]
        found = {other}
        for change in beside:
            ends = {self.plan.clusters[n] for n in (change.joins[0].a, change.joins[0].b)}
            if change.is_wire and other in ends:
                found |= ends
        return found

    def _rails(
        self, target: int, partners: set[int], plain: bool
    ) -> Iterator[tuple[Place, Place]]:
        """Pads of the two rails of one place on plain track, or else on a piece with levers."""
        for one in self.ground.by_cluster.get(target, ()):
            placed = self.layout.pieces[one.piece]
            if bool(placed.levers) == plain or not one.pad.drill:
                continue
            across = self._across(one, placed.routes)
            for cluster in sorted(partners):
                for other in self.ground.by_cluster.get(cluster, ()):
                    if other.piece == one.piece and other.node in across and other.pad.drill:
                        yield one, other

    def _across(self, place: Place, routes: Sequence[int]) -> set[int]:
        """Sections that lie opposite a pad's section."""
        found: set[int] = set()
        for route in routes:
            for span in self.layout.routes[route].spans:
                if place.node in (span.left, span.right):
                    found |= {span.left, span.right}
        return found - {place.node, PLASTIC}

    # --- added lengths ------------------------------------------------------------

    def _lengths(self, a: int, b: int) -> list[Option]:
        """Feeder lengths at both ends of a piece, tied under the board."""
        found = []
        for number, placed in enumerate(self.layout.pieces):
            ends = self._ends_on(number, a, b) if placed.levers else None
            if ends is not None:
                found.append(self._tied(number, *ends))
        return found

    def _ends_on(
        self, number: int, a: int, b: int
    ) -> tuple[tuple[int, str], tuple[int, str]] | None:
        """(end, rail) of one piece where net ``a`` leaves it, and where ``b`` does."""
        placed = self.layout.pieces[number]
        allowed = {p.piece for places in self.ground.by_cluster.values() for p in places}
        if number not in allowed:
            return None
        at: dict[int, tuple[int, str]] = {}
        for place, end in enumerate(placed.piece.ends):
            for rail, section in (("north", end.north), ("south", end.south)):
                cluster = self.plan.clusters[self.nodes[f"{placed.id}/{section}"]]
                if cluster in (a, b) and self.layout.ends[placed.ends[place]].joined >= 0:
                    at.setdefault(cluster, (place, rail))
        return (at[a], at[b]) if a in at and b in at and at[a][0] != at[b][0] else None

    def _tied(self, number: int, one: tuple[int, str], other: tuple[int, str]) -> Option:
        placed = self.layout.pieces[number]
        sides = {placed.piece.ends[place].outward for place, _ in (one, other)}
        short = placed.id.partition("/")[2]
        names = {
            place: f"{short} {end.name} feed"
            for place, end in enumerate(placed.piece.ends)
            if end.outward in sides
        }
        parts: list[tuple[str, dict[str, object]]] = [
            (
                "added_length",
                {
                    "at": f"{placed.id}/{placed.piece.ends[place].name}",
                    "name": name,
                    "length_mm": ADDED_MM,
                },
            )
            for place, name in names.items()
        ]
        refs = [f"{placed.module}/{names[place]}/pad-{rail}-1" for place, rail in (one, other)]
        length = cut_length_mm(self._between(number, one[0], other[0]), 0, True)
        data: dict[str, object] = {"from": refs[0], "to": refs[1], "length": f"{length:g} mm",
                "way": "under the board"}  # fmt: skip
        parts.append(("jumper", data))
        cautions = (f"{len(names)} lengths of {ADDED_MM:g} mm: see whether the board has room",)
        return Option("added lengths", refs[0], refs[1], length, cautions, tuple(parts))

    def _between(self, number: int, one: int, other: int) -> float:
        ends = self.layout.pieces[number].piece.ends
        return float(abs(ends[one].x_mm - ends[other].x_mm) + ADDED_MM)

    # --- changeovers ----------------------------------------------------------------

    def _changeover(self, change: Change) -> Option:
        first = change.joins[0]
        assert first.when is not None
        lever = self.layout.levers[first.when[0]]
        piece = lever.piece
        to = {}
        for join in change.joins:
            assert join.when is not None
            to[lever.positions[join.when[1]]] = self._on_piece(piece, join.b)
        section = self._on_piece(piece, first.a)
        data = {"section": section, "lever": lever.id, "to": to}
        words = "feeding " + section + ": " + ", ".join(f"{w} {n}" for w, n in to.items())
        cautions = ("three joints, and room for a microswitch that the lever moves",)
        return Option("changeover", lever.id, words, None, cautions, (("changeover", data),))

    def _on_piece(self, piece: int, cluster: int) -> str:
        """A section of a net on that piece."""
        for place in self.ground.by_cluster.get(cluster, ()):
            if place.piece == piece:
                return self.layout.nodes[place.node]
        prefix = f"{self.layout.pieces[piece].id}/"
        for node, name in enumerate(self.layout.nodes):
            if self.plan.clusters[node] == cluster and name.startswith(prefix):
                return name
        return self.layout.nodes[cluster]
