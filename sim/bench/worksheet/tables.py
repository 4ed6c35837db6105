"""The meter table and the lamp table: what should be read before and after the work.

The meter table: what every pair of places reads on a board by itself, in every setting.

The lamp table: what a load across the rails shows along each route, supply on.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import combinations

from sim.bench.diagnosis.next_reading import settings_near
from sim.bench.diagnosis.states import Columns, States
from sim.bench.readings.model import Positions, control_words, setting_words
from sim.bench.worksheet.model import (
    GOOD_SHARE,
    LEADS_OHM,
    LOAD_OHM,
    SPARE_OHM,
    Expected,
    LampRow,
    Lit,
    MeterRow,
    MeterTable,
    Spot,
)
from sim.circuit.network import RAIL, Network, build_network
from sim.circuit.nodal import Drain, Resistance, solve
from sim.circuit.reduction import Reduction
from sim.layout.model import PLASTIC, UM_PER_MM, Layout, Span
from sim.power.graph import is_closed
from sim.power.settings import rest_positions
from sim.power.trace import Traced, trace
from sim.power.wiring import Forest

#: Settings in a table at most: more does not fit a sheet of paper.
SETTINGS_AT_MOST = 16


class Bench:
    """One board by itself, in one case: nets and resistances between places."""

    def __init__(self, layout: Layout, board: str) -> None:
        self.layout, self.board = layout, board
        self._states = States(layout, ())
        self._columns = Columns((), [()])
        self._node = {name: k for k, name in enumerate(layout.nodes)}
        self._network: Network = build_network(layout)
        inside = {k for k, n in enumerate(layout.nodes) if n.startswith(f"{board}/")}
        net = self._network
        self._nodes = [k for k, s in enumerate(net.section) if s in inside]
        self._local = {node: k for k, node in enumerate(self._nodes)}
        self._branches = [b for b in net.branches if b.a in self._local and b.b in self._local]

    def expected(self, a: str, b: str, positions: Positions) -> Expected | None:
        """What a meter reads between two sections; None where one of them is not there."""
        if a not in self._node or b not in self._node:
            return None
        one, other = self._node[a], self._node[b]
        view = self._states.meter(self._columns, positions, self.board)
        if one != other and not view.answers(one, other)["joined"]:
            return Expected(False)
        ohm = round(self._ohm(one, other, positions) + LEADS_OHM, 2)
        return Expected(True, ohm, round(ohm + SPARE_OHM, 1))

    def joins(self, a: str, b: str, positions: Positions) -> bool:
        """Whether two sections of the board are joined, whatever the resistance."""
        one, other = self._node[a], self._node[b]
        view = self._states.meter(self._columns, positions, self.board)
        return one == other or bool(view.answers(one, other)["joined"])

    def _ohm(self, one: int, other: int, positions: Positions) -> float:
        """Resistance between the middles of two sections, leads left out."""
        if one == other:
            return 0.0
        lines = self._network.lines
        a, b = (self._local[self._network.station(n, lines.middle(n))] for n in (one, other))
        made = [
            Resistance(self._local[x.a], self._local[x.b], x.ohm)
            for x in self._branches
            if x.element == RAIL or is_closed(self.layout.elements[x.element], positions)
        ]
        volts = solve(len(self._nodes), made, drains=[Drain(a, b, 1.0)]).volts
        return abs(float(volts[a] - volts[b]))


def meter_table(before: Layout, after: Layout, board: str, spots: Sequence[Spot]) -> MeterTable:
    """Every pair of places of ``board`` on different sections."""
    levers = [k for k, x in enumerate(after.levers) if x.id.startswith(f"{board}/")]
    rest = tuple(rest_positions(after))
    every = settings_near(after, levers, rest)
    settings, later = every[:SETTINGS_AT_MOST], every[SETTINGS_AT_MOST:]
    benches = Bench(before, board), Bench(after, board)
    first: dict[str, Spot] = {}
    for spot in spots:
        if spot.ref.startswith(f"{board}/"):
            first.setdefault(spot.section, spot)
    rows, isolation = [], []
    for one, other in combinations(first.values(), 2):
        cells: list[list[Expected | None]] = [[], []]
        for positions in settings:
            there = _in(before, after, positions)
            for bench, at, into in zip(benches, (there, positions), cells, strict=True):
                into.append(bench.expected(one.section, other.section, at))
        row = MeterRow(one.number, other.number, tuple(cells[0]), tuple(cells[1]))
        rows.append(row)
        # Nothing that is joined in a setting for which the sheet has no column stays open.
        if row.stays_open and not any(
            benches[1].joins(one.section, other.section, s) for s in later
        ):
            isolation.append(row)
    return MeterTable(
        board,
        tuple(control_words(after, s, board) for s in settings),
        tuple(r for r in rows if r not in isolation),
        tuple(_once(isolation, rows)),
        len(every) - len(settings),
    )


def _once(isolation: Sequence[MeterRow], rows: Sequence[MeterRow]) -> list[MeterRow]:
    """One reading for each pair of nets: places always joined need not be read twice."""
    highest = max((max(r.a, r.b) for r in rows), default=0)
    forest = Forest(highest + 1)
    for r in rows:
        if all(e is not None and e.joined for e in r.after):
            forest.join(r.a, r.b)
    found: dict[tuple[int, int], MeterRow] = {}
    for r in isolation:
        low, high = sorted((forest.find(r.a), forest.find(r.b)))
        found.setdefault((low, high), r)
    return list(found.values())


def _in(before: Layout, after: Layout, positions: Positions) -> Positions:
    """The same setting of the layout without the fix."""
    at = {x.id: x.positions[p] for x, p in zip(after.levers, positions, strict=True)}
    return tuple(
        x.positions.index(at[x.id]) if at.get(x.id) in x.positions else x.rest
        for x in before.levers
    )


#: Rows at most: more nobody measures.
ROWS_AT_MOST = 120


class Fed:
    """One case with its supplies on: what a load shows between two sections."""

    def __init__(self, layout: Layout, settings: Sequence[Positions]) -> None:
        self.layout = layout
        self._traced: Traced[int] = trace(layout, settings)
        self._network = build_network(layout)
        self._reduction = Reduction(self._network)
        self._settings = tuple(settings)
        self._volts = [-s.voltage_v if s.reversed else s.voltage_v for s in layout.supplies]
        self._set = -1

    def shows(self, left: int, right: int, k: int) -> Lit:
        """What a load between two nodes shows in setting number ``k``."""
        verdicts = self._traced.verdicts(left, right)
        state = next(v for v, bits in verdicts.items() if bits >> k & 1)
        if state is not None:
            return Lit(state)
        if self._set != k:
            self._reduction.set(self._network.closed(self._settings[k]))
            self._set = k
        lines = self._network.lines
        at = [self._network.station(n, lines.middle(n)) for n in (left, right)]
        ports = self._reduction.ports(at)
        open_v = sum(
            (one - other) * v
            for one, other, v in zip(*ports.share[:2], self._volts, strict=True)
        )
        ohm = ports.ohm[0][0] + ports.ohm[1][1] - ports.ohm[0][1] - ports.ohm[1][0]
        volts = abs(open_v) * LOAD_OHM / (LOAD_OHM + ohm)
        return Lit("live", round(volts, 2), round(volts * (1 - GOOD_SHARE), 1),
                   round(abs(open_v), 1))  # fmt: skip


def lamp_rows(
    before: Layout, after: Layout, pieces: Sequence[str]
) -> tuple[list[LampRow], int]:
    """Stretches of the routes of ``pieces`` in each setting that sets them; and how many
    more there are.

    A lever elsewhere may decide what a stretch shows. Settings in which a stretch shows the
    same are one row, that of the first of them.
    """
    chosen = [k for k, p in enumerate(after.pieces) if p.id in set(pieces)]
    levers = [x for k in chosen for x in after.pieces[k].levers]
    settings = settings_near(after, levers, tuple(rest_positions(after)))
    fed = Fed(after, settings)
    old = Fed(before, [_within(before, after, s) for s in settings])
    old_node = {name: k for k, name in enumerate(before.nodes)}
    rows: dict[tuple[object, ...], LampRow] = {}
    for k, positions in enumerate(settings):
        for r, low, high, left, right in _set_stretches(after, chosen, positions):
            names = after.nodes[left], after.nodes[right]
            was = [old_node.get(name) for name in names]
            first = None
            if was[0] is not None and was[1] is not None:
                first = old.shows(was[0], was[1], k)
            now = fed.shows(left, right, k)
            piece = after.pieces[after.routes[r].piece]
            own = tuple(positions[x] for x in piece.levers)
            seen = (r, low, own, first and first.state, now.state)
            if seen not in rows:
                said = setting_words(after, positions, piece.id)
                reach = low / UM_PER_MM, high / UM_PER_MM
                rows[seen] = LampRow(after.routes[r].id, said, *reach, *names, first, now)
    found = list(rows.values())
    return found[:ROWS_AT_MOST], max(0, len(found) - ROWS_AT_MOST)


def _set_stretches(
    layout: Layout, pieces: Sequence[int], positions: Positions
) -> Iterator[tuple[int, int, int, int, int]]:
    """Route, from, to (µm) and both sections of each stretch of the routes that are set."""
    for piece in pieces:
        for r in layout.pieces[piece].routes:
            route = layout.routes[r]
            if all(positions[p.lever] == p.position for p in route.points):
                for low, high, left, right in _stretches(route.spans):
                    yield r, low, high, left, right


def _stretches(spans: Sequence[Span]) -> list[tuple[int, int, int, int]]:
    """Stretches with metal on both sides: the longest for each pair of sections."""
    best: dict[tuple[int, int], tuple[int, int, int, int]] = {}
    for span in spans:
        if PLASTIC in (span.left, span.right):
            continue
        known = best.get((span.left, span.right))
        if known is None or span.to_um - span.from_um > known[1] - known[0]:
            best[span.left, span.right] = span.from_um, span.to_um, span.left, span.right
    return list(best.values())


def _within(before: Layout, after: Layout, positions: Positions) -> Positions:
    at = {x.id: x.positions[p] for x, p in zip(after.levers, positions, strict=True)}
    return tuple(
        x.positions.index(at[x.id]) if at.get(x.id) in x.positions else x.rest
        for x in before.levers
    )
