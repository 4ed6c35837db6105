"""The meter table: what every pair of places reads on a board by itself, in every setting."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import combinations

from sim.circuit.elements import Drain, Resistance
from sim.circuit.network import RAIL, Network, build_network
from sim.circuit.solve import solve
from sim.diagnose.next_reading import settings_near
from sim.diagnose.states import Columns, States
from sim.layout.model import Layout
from sim.power.graph import is_closed
from sim.power.settings import rest_positions
from sim.power.wiring import Forest
from sim.readings.model import Positions
from sim.readings.words import control_words
from sim.worksheet.model import LEADS_OHM, SPARE_OHM, Expected, MeterRow, MeterTable, Spot

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
