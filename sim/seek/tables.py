"""Make the tables of one part: states, labels, what must be live, what may be joined."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from sim.seek.columns import Columns, Table, columns_of, each_setting, gang_settings
from sim.seek.contracted import Contracted, Need
from sim.seek.model import Change, Demand
from sim.seek.nets import Labels, Mask, join_in_place
from sim.seek.part import Column, Part, PartChange, RowJoin, State


class _States:
    """States as a table, and those in which an added contact is open."""

    def __init__(self, states: Sequence[Column]) -> None:
        self.table = Table([s.positions for s in states])
        self._spares: dict[tuple[int, int], list[int]] = {}
        for column, state in enumerate(states):
            if state.spare is not None:
                self._spares.setdefault(state.spare, []).append(column)

    def less(self, closed: Mask, contact: tuple[int, int]) -> Mask:
        """``closed`` less the states in which the added ``contact`` stays open."""
        made = closed.copy()
        made[self._spares.get(contact, [])] = False
        return made


class Tables(Contracted):
    """A contracted case that can make the tables of any of its parts."""

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
        levers = self.levers_of(contacts, needs, changes)
        columns = columns_of(layout, levers, contacts, self.live_settings, demands, changes)
        states = tuple(columns.found)
        rows = self._rows(contacts, needs, changes)
        labels = self._labels(rows, states, contacts)
        home_rows, home, home_states, mixed = self._home(contacts, changes, levers)
        own, lifted = _States(states), _States(home_states)
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
                self._rowed(number, change, (rows, home_rows), own, lifted)
                for number, change in enumerate(changes)
            ),
            pairs=tuple((n.left, n.right) for n in needs),
        )

    def levers_of(
        self, contacts: Sequence[int], needs: Sequence[Need], changes: Sequence[Change]
    ) -> list[int]:
        """Levers that bear on any of these, ascending."""
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
        nodes = [n for i in contacts for n in self.ends(i)]
        nodes += [n for c in changes for j in c.joins for n in (j.a, j.b)]
        clusters = {self.clusters[n] for n in nodes}
        clusters |= {c for n in needs for c in (n.left, n.right)}
        order = [*self.pole_of, *sorted(clusters - set(self.pole_of))]
        return {cluster: row for row, cluster in enumerate(order)}

    def _labels(
        self, rows: dict[int, int], states: Sequence[Column], contacts: Sequence[int]
    ) -> Labels:
        poles = len(self.poles)
        first = [self.pole_of.get(c, poles + row) for c, row in rows.items()]
        labels = np.tile(np.array(first, dtype=np.int32)[:, None], (1, len(states)))
        table = Table([s.positions for s in states])
        opened = np.array([s.open for s in states], dtype=np.int64)
        for i in contacts:
            a, b = self.ends(i)
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
        nodes = [n for i in contacts for n in self.ends(i)]
        nodes += [n for c in changes for j in c.joins for n in (j.a, j.b)]
        rows = {c: row for row, c in enumerate(sorted({self.free[n] for n in nodes}))}
        count = len(self.homes.supply)
        first = [self.district_of.get(c, count + row) for c, row in rows.items()]
        labels = np.tile(np.array(first, dtype=np.int32)[:, None], (1, len(states)))
        mixed = False
        table = Table(settings)
        for i in contacts:
            a, b = (rows[self.free[n]] for n in self.ends(i))
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
        rows: tuple[dict[int, int], dict[int, int]],
        states: _States,
        home_states: _States,
    ) -> PartChange:
        own, home = rows
        joins = []
        for place, join in enumerate(change.joins):
            where = home_where = None
            if join.when is not None:
                where = states.less(states.table.at(*join.when), (number, place))
                home_where = home_states.table.at(*join.when)
            joins.append(
                RowJoin(
                    own[self.clusters[join.a]],
                    own[self.clusters[join.b]],
                    where,
                    home[self.free[join.a]],
                    home[self.free[join.b]],
                    home_where,
                )
            )
        return PartChange(change, tuple(joins))
