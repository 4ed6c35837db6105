"""The layout as resistances between places on rails, wires and poles.

Every section becomes a chain: a node at each place where an element is joined to
it, and one in the middle of each of its *cells*, where pickups are taken to
stand.  A cell is at most :data:`CELL_UM` long, so a pickup is nowhere further
than half of that from where it is counted: at 57 mΩ/m and 0.4 A through both
rails that is less than 12 mV.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from math import ceil
from operator import attrgetter

from sim.circuit.lines import Lines, Taps
from sim.layout.model import PLASTIC, Layout
from sim.power.graph import is_closed

CELL_UM = 500_000
_FROM = attrgetter("from_um")
UM_PER_MM = 1000
RAIL = -1  #: element of a branch that is a stretch of rail
#: What an element whose resistance nobody has given is worth.
UNKNOWN_OHM = 0.005
#: Below this a resistance counts as this: far below any joint of metal (ohm).
LEAST_OHM = 1e-6


@dataclass(frozen=True, slots=True)
class Branch:
    """A resistance between two nodes; ``element`` is its index, :data:`RAIL` for rail."""

    a: int
    b: int
    ohm: float
    element: int


@dataclass(frozen=True, slots=True)
class Cell:
    """A stretch of a section, and the node at which pickups on it are counted."""

    from_um: int
    to_um: int
    node: int


@dataclass(frozen=True, slots=True)
class Network:
    """Nodes and branches of one layout, all contacts and faults left open to choice.

    ``names``, ``section`` (index into ``layout.nodes``) and ``place_um`` are by
    node; ``branch_of`` gives the branch of each element (none for a gap);
    ``poles`` are nodes, two for each supply; ``cells`` are by section.
    """

    layout: Layout
    lines: Lines
    names: tuple[str, ...]
    section: tuple[int, ...]
    place_um: tuple[int, ...]
    branches: tuple[Branch, ...]
    branch_of: dict[int, int]
    poles: tuple[int, ...]
    cells: tuple[tuple[Cell, ...], ...]
    taps: tuple[tuple[int, int], ...]  #: by element: the nodes that it joins
    contacts: frozenset[int]  #: branches that are contacts

    def station(self, section: int, place_um: int) -> int:
        """The node at which a pickup at that place of ``section`` is counted."""
        cells = self.cells[section]
        if len(cells) == 1:
            return cells[0].node
        return cells[max(0, bisect_right(cells, place_um, key=_FROM) - 1)].node

    def stations(self) -> list[int]:
        """Every node at which a pickup can be counted, in order."""
        return [cell.node for cells in self.cells for cell in cells]

    def siemens(self, branch: int) -> float:
        """What a branch conducts as built."""
        return 1.0 / max(self.branches[branch].ohm, LEAST_OHM)

    def closed(self, positions: Sequence[int]) -> dict[int, float | None]:
        """What each contact's branch is worth in one setting: ohms, or None for open."""
        worth: dict[int, float | None] = {}
        for number, branch in self.branch_of.items():
            element = self.layout.elements[number]
            if element.kind == "contact":
                shut = is_closed(element, positions)
                worth[branch] = self.branches[branch].ohm if shut else None
        return worth


def build_network(layout: Layout, cell_um: int = CELL_UM) -> Network:
    """Lay out every section as a chain and every element as a branch.

    Raises nothing: every layout has a network, if only of lone sections.
    """
    lines = Lines(layout)
    taps = Taps(layout, lines)
    places = [_whole(*taps.of(e)) if e.kind != "gap" else (0, 0) for e in layout.elements]
    chain = _chained(layout, lines, places, cell_um)
    branches = chain.branches
    branch_of: dict[int, int] = {}
    joined: list[tuple[int, int]] = []
    for number, (element, (a, b)) in enumerate(zip(layout.elements, places, strict=True)):
        if element.kind == "gap":
            joined.append((-1, -1))
            continue
        ends = chain.at[element.a, a], chain.at[element.b, b]
        joined.append(ends)
        branch_of[number] = len(branches)
        ohm = UNKNOWN_OHM if element.resistance_ohm is None else element.resistance_ohm
        branches.append(Branch(*ends, ohm, number))
    poles = [chain.first[p] for s in layout.supplies for p in (s.plus, s.minus)]
    return Network(
        layout,
        lines,
        tuple(chain.names),
        tuple(chain.section),
        tuple(chain.place),
        tuple(branches),
        branch_of,
        tuple(poles),
        tuple(chain.cells),
        tuple(joined),
        frozenset(b for e, b in branch_of.items() if layout.elements[e].kind == "contact"),
    )


def _chained(
    layout: Layout, lines: Lines, places: Sequence[tuple[int, ...]], cell_um: int
) -> _Chain:
    """Every section as a chain; ``places`` are those that each element joins."""
    wanted: list[set[int]] = [set() for _ in layout.nodes]
    for element, (a, b) in zip(layout.elements, places, strict=True):
        if element.kind != "gap":
            wanted[element.a].add(a)
            wanted[element.b].add(b)
    on_rails = {n for r in layout.routes for s in r.spans for n in (s.left, s.right)}
    on_rails.discard(PLASTIC)
    chain = _Chain(layout, lines, cell_um)
    for section in range(len(layout.nodes)):
        chain.add(section, wanted[section], section in on_rails)
    return chain


def _whole(*places_um: int) -> tuple[int, ...]:
    """Places to a millimetre: nearer than that they are one, as a solder joint is."""
    return tuple(round(place / UM_PER_MM) * UM_PER_MM for place in places_um)


class _Chain:
    """Nodes and rail branches, section after section."""

    def __init__(self, layout: Layout, lines: Lines, cell_um: int) -> None:
        self._layout, self._lines, self._cell_um = layout, lines, cell_um
        self.names: list[str] = []
        self.section: list[int] = []
        self.place: list[int] = []
        self.branches: list[Branch] = []
        self.at: dict[tuple[int, int], int] = {}
        self.first: list[int] = []
        self.cells: list[tuple[Cell, ...]] = []

    def add(self, section: int, taps: set[int], is_rail: bool) -> None:
        """The nodes of one section; a pole or a bus has one."""
        low, high = self._lines.reach.get(section, (0, 0))
        count = max(1, ceil((high - low) / self._cell_um))
        edges = [low + (high - low) * k // count for k in range(count + 1)]
        middles = _whole(*((a + b) // 2 for a, b in pairwise(edges)))
        places = sorted({*taps, *(middles if is_rail or not taps else ())})
        self.first.append(len(self.names))
        before: int | None = None
        for place in places:
            node = len(self.names)
            self.at[section, place] = node
            where = f" at {place / 1000:g} mm" if high > low else ""
            self.names.append(f"{self._layout.nodes[section]}{where}")
            self.section.append(section)
            self.place.append(place)
            if before is not None:
                length_m = (place - self.place[before]) / 1e6
                ohm = length_m * self._layout.rail_ohm_m
                self.branches.append(Branch(before, node, ohm, RAIL))
            before = node
        self.cells.append(
            tuple(
                Cell(a, b, self.at[section, middle])
                for (a, b), middle in zip(pairwise(edges), middles, strict=True)
                if is_rail
            )
        )
