"""Contract a case, find what must be live, and take it apart into independent parts."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field

import numpy as np

from sim.layout.model import PLASTIC, Layout
from sim.layout.traffic import Case
from sim.power.poles import pole_state, sources_of
from sim.power.settings import timetable_settings
from sim.power.wiring import Forest, wire
from sim.seek.columns import Columns, Table, columns_of, each_setting, gang_settings
from sim.seek.districts import Homes, homes_of, isolated
from sim.seek.model import Asked, Change, Demand, Join
from sim.seek.nets import Labels, Mask, join_in_place
from sim.seek.part import Column, Part, PartChange, RowJoin, State

_LIFTED = ("feeder", "bus", "common")
Pair = tuple[int, int, tuple[int, int]]
NOT_CROSSING = (-1, -1)


@dataclass(slots=True)
class Need:
    """A pair of clusters that must be live where any of ``routes`` is set."""

    left: int
    right: int
    crossing: tuple[int, int]
    routes: list[int] = field(default_factory=list)


class Plan:
    """One case with some elements cut, contracted to what a search needs.

    ``clusters`` and ``free`` give each node's cluster with the feeders on and with
    them lifted.
    """

    def __init__(self, case: Case, asked: Asked, cut: Iterable[int] = ()) -> None:
        self.case, self.asked, self.layout = case, asked, case.layout
        out = frozenset(cut)
        layout = case.layout
        self.clusters = wire(layout, out).cluster_of
        lifted = {i for i, e in enumerate(layout.elements) if e.kind in _LIFTED}
        self.free = wire(layout, out | lifted).cluster_of
        self.homes = homes_of(layout)
        self.sources = sources_of(layout.supplies)
        self.poles = [n for s in layout.supplies for n in (s.plus, s.minus)]
        self.pole_of = self._pole_of()
        self.district_of, self.mixed = self._district_of()
        self.contacts = [
            i
            for i, e in enumerate(layout.elements)
            if e.kind == "contact" and i not in out
            and self.clusters[e.a] != self.clusters[e.b]
        ]  # fmt: skip
        self.live_settings = None if asked.gangs else timetable_settings(case)
        self.needs = self._needs()
        self.forest = Forest(len(layout.nodes))
        for i in self.contacts:
            self._link((layout.elements[i].a, layout.elements[i].b))
        self.levers_at = self._levers_at()

    def _levers_at(self) -> dict[int, set[int]]:
        """Levers that bear on each group of clusters that contacts link."""
        found: dict[int, set[int]] = {}
        for i in self.contacts:
            for root in self._inner_roots(self._ends(i)):
                found.setdefault(root, set()).update(self._levers([i], (), ()))
        return found

    def _pole_of(self) -> dict[int, int]:
        found: dict[int, int] = {}
        for pole, node in enumerate(self.poles):
            found.setdefault(self.clusters[node], pole)
        return found

    def _district_of(self) -> tuple[dict[int, int], bool]:
        """District of each cluster without feeders, and whether any has two of them."""
        found: dict[int, int] = {}
        mixed = False
        for node, district in self.homes.of.items():
            mixed |= found.setdefault(self.free[node], district) != district
        return found, mixed

    def _link(self, nodes: Sequence[int]) -> None:
        """Clusters that must be searched together; a pole's cluster keeps parts apart."""
        inner = [self.clusters[n] for n in nodes if self.clusters[n] not in self.pole_of]
        for cluster in inner[1:]:
            self.forest.join(inner[0], cluster)

    def _needs(self) -> list[Need]:
        found: dict[Pair, Need] = {}
        for number, route in enumerate(self.layout.routes):
            crossing = crossing_of(self.layout, self.homes, number)
            for span in route.spans:
                if PLASTIC in (span.left, span.right):
                    continue
                left, right = self.clusters[span.left], self.clusters[span.right]
                pair = (min(left, right), max(left, right), crossing)
                need = found.setdefault(pair, Need(*pair))
                if number not in need.routes:
                    need.routes.append(number)
        return list(found.values())

    def base_pattern(self) -> tuple[int, ...]:
        """Lowest pole that shares each pole's cluster."""
        return tuple(self.pole_of[self.clusters[n]] for n in self.poles)

    def is_fixed(self, need: Need) -> bool:
        """Whether both rails are on poles already, whatever is wired elsewhere."""
        return need.left in self.pole_of and need.right in self.pole_of

    def hopeless(self) -> list[Need]:
        """Pairs that are on poles already, and not live: no wire changes that."""
        state = pole_state(self.base_pattern(), self.sources)
        found = []
        for need in self.needs:
            if need.left == need.right:
                found.append(need)
            elif self.is_fixed(need):
                left, right = self.pole_of[need.left], self.pole_of[need.right]
                kind = state.kind(left, right)
                across = tuple(sorted((left // 2, right // 2))) == need.crossing
                if kind is not None and not (kind == "no return" and across):
                    found.append(need)
        return found

    # --- parts ----------------------------------------------------------------

    def parts(self, changes: Sequence[Change]) -> list[Part]:
        """Independent parts with the changes that may be made in each."""
        for change in changes:
            self._link([n for join in change.joins for n in (join.a, join.b)])
        for need in self.needs:
            self._link((need.left, need.right))
        keys: dict[int, None] = {}
        for need in self.needs:
            if not self.is_fixed(need) and need.left != need.right:
                keys[self._key((need.left, need.right))] = None
        for i in self.contacts:
            keys[self._key((self.layout.elements[i].a, self.layout.elements[i].b))] = None
        by_key: dict[int, list[Change]] = {}
        for change in changes:
            nodes = [n for join in change.joins for n in (join.a, join.b)]
            by_key.setdefault(self._key(nodes), []).append(change)
        return [self._part_of(key, by_key.get(key, [])) for key in keys]

    def _key(self, nodes: Sequence[int]) -> int:
        """The part that nodes belong to; -1 where all are on poles."""
        for n in nodes:
            if self.clusters[n] not in self.pole_of:
                return self.forest.find(self.clusters[n])
        return -1

    def _part_of(self, key: int, changes: Sequence[Change]) -> Part:
        ends = [(i, self.layout.elements[i]) for i in self.contacts]
        contacts = [i for i, e in ends if self._key((e.a, e.b)) == key]
        needs = [
            n for n in self.needs
            if not self.is_fixed(n) and n.left != n.right
            and self._key((n.left, n.right)) == key
        ]  # fmt: skip
        return self.part(contacts, needs, changes)

    def part(
        self,
        contacts: Sequence[int],
        needs: Sequence[Need],
        changes: Sequence[Change],
        demands: Sequence[Demand] | None = None,
    ) -> Part:
        """The tables of one part."""
        layout = self.layout
        demands = self.asked.demands if demands is None else demands
        levers = self._levers(contacts, needs, changes)
        columns = columns_of(layout, levers, contacts, self.live_settings, demands, changes)
        states = tuple(columns.found)
        rows = self._rows(contacts, needs, changes)
        labels = self._labels(rows, states, contacts)
        home_rows, home, home_states, mixed = self._home(contacts, changes, levers)
        return Part(
            sources=self.sources,
            columns=states,
            demand=tuple(columns.found.values()),
            start=State(labels, home, mixed or self.mixed),
            pole_rows=np.array([rows[self.clusters[n]] for n in self.poles], dtype=np.int64),
            left=np.array([rows[n.left] for n in needs], dtype=np.int64),
            right=np.array([rows[n.right] for n in needs], dtype=np.int64),
            need=self._need_mask(needs, states, columns),
            low=np.array([n.crossing[0] for n in needs], dtype=np.int64),
            high=np.array([n.crossing[1] for n in needs], dtype=np.int64),
            no_short=np.array([c in columns.no_short for c in states], dtype=np.bool_),
            district_count=len(self.homes.supply),
            apart="apart" in demands,
            changes=tuple(
                self._rowed(number, change, rows, home_rows, states, home_states)
                for number, change in enumerate(changes)
            ),
            pairs=tuple((n.left, n.right) for n in needs),
        )

    def _levers(
        self, contacts: Sequence[int], needs: Sequence[Need], changes: Sequence[Change]
    ) -> list[int]:
        layout = self.layout
        found = {
            lever for i in contacts for clause in layout.elements[i].when for lever, _ in clause
        }
        found |= {p.lever for n in needs for r in n.routes for p in layout.routes[r].points}
        found |= {j.when[0] for c in changes for j in c.joins if j.when is not None}
        return sorted(found)

    def _rows(
        self, contacts: Sequence[int], needs: Sequence[Need], changes: Sequence[Change]
    ) -> dict[int, int]:
        """A row for each cluster; those of poles come first."""
        nodes = [n for i in contacts for n in self._ends(i)]
        nodes += [n for c in changes for j in c.joins for n in (j.a, j.b)]
        clusters = {self.clusters[n] for n in nodes}
        clusters |= {c for n in needs for c in (n.left, n.right)}
        order = [*self.pole_of, *sorted(clusters - set(self.pole_of))]
        return {cluster: row for row, cluster in enumerate(order)}

    def _ends(self, element: int) -> tuple[int, int]:
        return self.layout.elements[element].a, self.layout.elements[element].b

    def _labels(
        self, rows: dict[int, int], states: Sequence[Column], contacts: Sequence[int]
    ) -> Labels:
        poles = len(self.poles)
        first = [self.pole_of.get(c, poles + row) for c, row in rows.items()]
        labels = np.tile(np.array(first, dtype=np.int32)[:, None], (1, len(states)))
        table = Table([s.positions for s in states])
        opened = np.array([s.open for s in states], dtype=np.int64)
        for i in contacts:
            a, b = self._ends(i)
            where = table.closed(self.layout, i) & (opened != i)
            join_in_place(labels, rows[self.clusters[a]], rows[self.clusters[b]], where)
        return labels

    def _home(
        self, contacts: Sequence[int], changes: Sequence[Change], levers: Sequence[int]
    ) -> tuple[dict[int, int], Labels, list[Column], bool]:
        """The table with the feeders lifted: every lever by itself, labels are districts."""
        layout = self.layout
        settings = each_setting(layout, levers) or gang_settings(layout, levers) or []
        states = [Column(s) for s in settings]
        nodes = [n for i in contacts for n in self._ends(i)]
        nodes += [n for c in changes for j in c.joins for n in (j.a, j.b)]
        rows = {c: row for row, c in enumerate(sorted({self.free[n] for n in nodes}))}
        count = len(self.homes.supply)
        first = [self.district_of.get(c, count + row) for c, row in rows.items()]
        labels = np.tile(np.array(first, dtype=np.int32)[:, None], (1, len(states)))
        mixed = False
        table = Table(settings)
        for i in contacts:
            a, b = (rows[self.free[n]] for n in self._ends(i))
            where = table.closed(layout, i)
            both = where & (labels[a] != labels[b]) & (labels[a] < count)
            mixed |= bool((both & (labels[b] < count)).any())
            join_in_place(labels, a, b, where)
        return rows, labels, states, mixed

    def _need_mask(
        self, needs: Sequence[Need], states: Sequence[Column], columns: Columns
    ) -> Mask:
        made = np.zeros((len(needs), len(states)), dtype=np.bool_)
        table = Table([s.positions for s in states])
        asked = np.array([s in columns.live for s in states], dtype=np.bool_)
        for row, need in enumerate(needs):
            for r in need.routes:
                points = self.layout.routes[r].points
                made[row] |= table.all_of((p.lever, p.position) for p in points)
        return made & asked

    def _rowed(
        self,
        number: int,
        change: Change,
        rows: dict[int, int],
        home_rows: dict[int, int],
        states: Sequence[Column],
        home_states: Sequence[Column],
    ) -> PartChange:
        joins = []
        for place, join in enumerate(change.joins):
            where = home_where = None
            if join.when is not None:
                where = _closed_in(join, states, (number, place))
                home_where = _closed_in(join, home_states, None)
            joins.append(
                RowJoin(
                    rows[self.clusters[join.a]],
                    rows[self.clusters[join.b]],
                    where,
                    home_rows[self.free[join.a]],
                    home_rows[self.free[join.b]],
                    home_where,
                )
            )
        return PartChange(change, tuple(joins))

    def _inner_roots(self, nodes: Sequence[int]) -> set[int]:
        clusters = {self.clusters[n] for n in nodes}
        return {self.forest.find(c) for c in clusters if c not in self.pole_of}

    # --- changes that are bad by themselves --------------------------------------

    def harmless(self, changes: Sequence[Change]) -> list[Change]:
        """Those that neither short anything nor join two districts when made alone.

        Adding wire only ever joins, so no set with one of the others is any good.
        """
        by_levers: dict[tuple[int, ...], list[Change]] = {}
        for change in changes:
            nodes = [n for join in change.joins for n in (join.a, join.b)]
            roots = self._inner_roots(nodes)
            levers = {lever for root in roots for lever in self.levers_at.get(root, ())}
            by_levers.setdefault(tuple(sorted(levers)), []).append(change)
        good: set[Change] = set()
        for names, group in by_levers.items():
            good |= self._harmless_of(set(names), group)
        return [change for change in changes if change in good]

    def _harmless_of(self, levers: set[int], group: Sequence[Change]) -> set[Change]:
        """The good ones of changes that the same levers bear on."""
        demands = tuple(d for d in self.asked.demands if d in ("no short", "apart"))
        contacts = [i for i in self.contacts if levers & set(self._levers([i], (), ()))]
        part = self.part(contacts, (), group, demands)
        if part.look(part.start).bad is not None:
            return set(group)  # bad as it is: the search itself will tell
        wires = [made for made in part.changes if made.change.is_wire]
        bad = part.bad_wires(wires)
        good = {made.change for made, no in zip(wires, bad, strict=True) if not no}
        for made in part.changes:
            if not made.change.is_wire and not part.look(part.add(part.start, made)).bad:
                good.add(made.change)
        return good


def _closed_in(join: Join, states: Sequence[Column], spare: tuple[int, int] | None) -> Mask:
    assert join.when is not None
    spared = np.array([spare is not None and s.spare == spare for s in states], dtype=np.bool_)
    return Table([s.positions for s in states]).at(*join.when) & ~spared


def crossing_of(layout: Layout, homes: Homes, route: int) -> tuple[int, int]:
    """The two supplies of a route that leads from one's rails to another's, isolated ones."""
    spans = [s for s in layout.routes[route].spans if PLASTIC not in (s.left, s.right)]
    if not spans:
        return NOT_CROSSING
    ends: list[set[int]] = []
    for span in (spans[0], spans[-1]):
        found = {homes.supply_of(span.left), homes.supply_of(span.right)} - {None}
        ends.append({s for s in found if s is not None})
    if any(len(found) != 1 for found in ends) or ends[0] == ends[1]:
        return NOT_CROSSING
    a, b = sorted(ends[0] | ends[1])
    return (a, b) if isolated(layout, a, b) else NOT_CROSSING
