"""The layout as resistances between places on rails, wires and poles.

To a tracer a rail section is a node; to the circuit it is a line.  Its places are whole
micrometres along the longest route that runs over it.  Places that other routes give are
brought over by the end that the routes share, or by the middle of the section where they
share none.  A section that branches (the rails of a live frog) is taken as one line too:
at worst that leaves out the length of the shorter branch, less than 20 mΩ on a piece of
track as long as a hand.

Every section becomes a chain: a node at each place where an element is joined to it, and
one in the middle of each of its *cells*, where pickups are taken to stand.  A cell is at
most :data:`CELL_UM` long, so a pickup is nowhere further than half of that from where it
is counted: at 57 mΩ/m and 0.4 A through both rails that is less than 12 mV.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from math import ceil
from operator import attrgetter

from sim.layout.model import PLASTIC, Element, Layout, PlacedPiece
from sim.pieces.geometry import Pose, walk
from sim.pieces.model import Pad, Piece
from sim.pieces.model import Route as PieceRoute
from sim.power.graph import is_closed

Reach = tuple[int, int]  #: from and to, in micrometres along a section
UM_PER_MM = 1000
CELL_UM = 500_000  #: length of a cell at most
RAIL = -1  #: element of a branch that is a stretch of rail
#: What an element whose resistance nobody has given is worth (ohm).
UNKNOWN_OHM = 0.005
#: Below this a resistance counts as this: far below any joint of metal (ohm).
LEAST_OHM = 1e-6
_STEP_MM = 5.0  #: pads are put at the nearest of places this far apart
_FROM = attrgetter("from_um")


# -- sections as lines -----------------------------------------------------------------------


class Lines:
    """The rail sections of a layout as lines."""

    def __init__(self, layout: Layout) -> None:
        self._layout = layout
        #: by section: by route, the stretch of the route that the section lies on
        self._on: dict[int, dict[int, Reach]] = {}
        #: by section and route: place on the section = offset + sign * place on the route
        self._way: dict[tuple[int, int], tuple[int, int]] = {}
        self.reach: dict[int, Reach] = {}
        for number, route in enumerate(layout.routes):
            for span in route.spans:
                for node in {span.left, span.right} - {PLASTIC}:
                    self._widen(node, number, span.from_um, span.to_um)
        for node, routes in self._on.items():
            self._lay(node, routes)

    def _widen(self, node: int, route: int, start: int, end: int) -> None:
        routes = self._on.setdefault(node, {})
        low, high = routes.get(route, (start, end))
        routes[route] = min(low, start), max(high, end)

    def _lay(self, node: int, routes: dict[int, Reach]) -> None:
        """Choose the longest route as the line and bring the others over to it."""
        base = max(routes, key=lambda r: (routes[r][1] - routes[r][0], -r))
        low, high = routes[base]
        for route, (start, end) in routes.items():
            way = self._over(base, route, (low + high) // 2, (start + end) // 2)
            self._way[node, route] = way
            a, b = (way[0] + way[1] * x for x in (start, end))
            low, high = min(low, a, b), max(high, a, b)
        self.reach[node] = low, high

    def _over(self, base: int, route: int, base_mid: int, mid: int) -> tuple[int, int]:
        to, of = self._layout.routes[base], self._layout.routes[route]
        if of.start == to.start:
            return 0, 1
        if of.finish == to.finish:
            return to.length_um - of.length_um, 1
        if of.start == to.finish:
            return to.length_um, -1
        if of.finish == to.start:
            return of.length_um, -1
        return base_mid - mid, 1

    def middle(self, node: int) -> int:
        """The middle of a section; 0 for one that no wheel runs on."""
        low, high = self.reach.get(node, (0, 0))
        return (low + high) // 2

    def along(self, node: int, route: int, place_um: int) -> int:
        """The place on section ``node`` that lies ``place_um`` from the start of ``route``."""
        way = self._way.get((node, route))
        if way is None:
            return self.middle(node)
        low, high = self.reach[node]
        return min(max(way[0] + way[1] * place_um, low), high)

    def at_end(self, node: int, end: int) -> int:
        """Where section ``node`` ends at ``end`` of its piece."""
        for number in self._on.get(node, ()):
            route = self._layout.routes[number]
            if end == route.start and node in (route.spans[0].left, route.spans[0].right):
                return self.along(node, number, 0)
            if end == route.finish and node in (route.spans[-1].left, route.spans[-1].right):
                return self.along(node, number, route.length_um)
        return self.middle(node)

    def between(self, a: int, b: int) -> tuple[int, int]:
        """Where two sections of one piece come nearest to each other."""
        shared = [r for r in self._on.get(a, ()) if r in self._on.get(b, ())]
        if not shared:
            return self.middle(a), self.middle(b)
        route = min(shared, key=lambda r: (self._apart(a, b, r), r))
        (a_from, a_to), (b_from, b_to) = self._on[a][route], self._on[b][route]
        if a_to <= b_from:
            places = a_to, b_from
        elif b_to <= a_from:
            places = a_from, b_to
        else:
            places = ((max(a_from, b_from) + min(a_to, b_to)) // 2,) * 2
        return self.along(a, route, places[0]), self.along(b, route, places[1])

    def _apart(self, a: int, b: int, route: int) -> int:
        (a_from, a_to), (b_from, b_to) = self._on[a][route], self._on[b][route]
        return max(a_from - b_to, b_from - a_to, 0)

    def at_pad(self, node: int, placed: PlacedPiece, pad: Pad) -> int:
        """The place on section ``node`` nearest to ``pad``."""
        best: tuple[float, int] | None = None
        for number, route in zip(placed.routes, placed.piece.routes, strict=True):
            if number not in self._on.get(node, ()):
                continue
            low, high = (x / 1000 for x in self._on[node][number])
            for x, y, along in _dots(placed.piece, route, low, high):
                # To a micrometre: trigonometry must not decide between two machines.
                far = round((x - pad.x_mm) ** 2 + (y - pad.y_mm) ** 2, 3)
                place = self.along(node, number, round(along * 1000))
                if best is None or far < best[0]:
                    best = far, place
        return self.middle(node) if best is None else best[1]


def _dots(
    piece: Piece, route: PieceRoute, low_mm: float, high_mm: float
) -> list[tuple[float, float, float]]:
    """Places along a route between two distances: x, y and the distance, in mm."""
    ends = {end.name: end for end in piece.ends}
    start, finish = ends[route.start], ends[route.finish]
    count = max(1, round((high_mm - low_mm) / _STEP_MM))
    dots = []
    for k in range(count + 1):
        along = round(low_mm + (high_mm - low_mm) * k / count, 3)
        if route.course:
            begin = Pose(start.x_mm, start.y_mm, start.heading_deg + 180.0)
            pose = walk(route.course, begin, along)
            dots.append((pose.x_mm, pose.y_mm, along))
        else:
            share = along / route.length_mm if route.length_mm else 0.0
            x = start.x_mm + share * (finish.x_mm - start.x_mm)
            y = start.y_mm + share * (finish.y_mm - start.y_mm)
            dots.append((x, y, along))
    return dots


class Taps:
    """The two places at which each element is joined to its sections."""

    def __init__(self, layout: Layout, lines: Lines) -> None:
        self._layout, self._lines = layout, lines
        self._end_of = {end.id: number for number, end in enumerate(layout.ends)}
        self._pads: dict[str, tuple[int, PlacedPiece, Pad]] = {}
        nodes = dict(layout.pads)
        for placed in layout.pieces:
            for pad in placed.piece.pads:
                name = f"{placed.id}/{pad.name}"
                if name in nodes:
                    self._pads[name] = nodes[name], placed, pad

    def of(self, element: Element) -> tuple[int, int]:
        """Places on the sections ``a`` and ``b`` of an element."""
        lines = self._lines
        if element.kind == "joiner":
            end = self._end_of.get(joiner_end(element.id), -1)
            if end >= 0:
                mate = self._layout.ends[end].joined
                return lines.at_end(element.a, end), lines.at_end(element.b, mate)
        if element.kind in ("bond", "contact", "joiner"):
            return lines.between(element.a, element.b)
        a, b = (
            self._at(n, t) for n, t in zip((element.a, element.b), element.taps, strict=True)
        )
        return a, b

    def _at(self, node: int, name: str) -> int:
        if name in self._pads:
            return self._lines.at_pad(*self._pads[name])
        return self._lines.middle(node)


def joiner_end(name: str) -> str:
    """The end that a joiner is named after: ``m/p/joiner-west-north`` is ``m/p/west``."""
    piece, _, rest = name.rpartition("/joiner-")
    return f"{piece}/{rest.removesuffix('-north').removesuffix('-south')}"


# -- nodes and branches ----------------------------------------------------------------------


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
