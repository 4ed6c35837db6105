"""The lamp table: what a load across the rails shows along each route, supply on."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from sim.circuit.network import build_network
from sim.circuit.reduce import Reduction
from sim.diagnose.next_reading import settings_near
from sim.layout.model import PLASTIC, Layout, Span
from sim.power.settings import rest_positions
from sim.power.trace import Traced, trace
from sim.readings.model import Positions
from sim.readings.words import setting_words
from sim.worksheet.model import GOOD_SHARE, LOAD_OHM, LampRow, Lit

#: Rows at most: more nobody measures.
ROWS_AT_MOST = 120
UM_PER_MM = 1000.0


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
    old = Fed(before, [_in(before, after, s) for s in settings])
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


def _in(before: Layout, after: Layout, positions: Positions) -> Positions:
    at = {x.id: x.positions[p] for x, p in zip(after.levers, positions, strict=True)}
    return tuple(
        x.positions.index(at[x.id]) if at.get(x.id) in x.positions else x.rest
        for x in before.levers
    )
