"""The tables of each part: states, demands, what must be live, what may be joined.

Which states each demand asks about, seen by the levers of one part.

Make the tables of one part: states, labels, what must be live, what may be joined.

Take a contracted case apart into parts that can be searched one by one.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from itertools import product
from math import prod

import numpy as np

from sim.analyses.search.model import SETTINGS_AT_MOST, Asked, Change, Demand
from sim.analyses.search.nets import Labels, Mask, join_in_place
from sim.analyses.search.parts import Column, Contracted, Need, Part, PartChange, RowJoin, State
from sim.layout.model import Control, Layout
from sim.layout.traffic import Case
from sim.power.settings import rest_positions
from sim.power.trace import Positions
from sim.power.wiring import Forest

Projected = tuple[tuple[int, int], ...]


@dataclass(slots=True)
class Columns:
    """States in order, each once, with the demands it serves.

    ``live``: routes that are set must be live there; the demand that asked first.
    """

    found: dict[Column, Demand] = field(default_factory=dict)
    live: set[Column] = field(default_factory=set)
    no_short: set[Column] = field(default_factory=set)
    skipped: bool = False

    def want(self, column: Column, demand: Demand, live: bool, no_short: bool) -> None:
        """Ask about ``column``."""
        self.found.setdefault(column, demand)
        if live:
            self.live.add(column)
        if no_short:
            self.no_short.add(column)


def project(positions: Positions, levers: Sequence[int]) -> Projected:
    """The positions of ``levers`` only."""
    return tuple((lever, positions[lever]) for lever in levers)


def moved_by(layout: Layout, levers: Sequence[int]) -> list[Control]:
    """Controls that move any of ``levers``."""
    wanted = set(levers)
    return [c for c in layout.controls if wanted & set(c.levers)]


def gang_settings(layout: Layout, levers: Sequence[int]) -> list[Projected] | None:
    """Every setting that hands can make of ``levers``; None where they are too many."""
    controls = moved_by(layout, levers)
    if prod(len(c.positions) for c in controls) > SETTINGS_AT_MOST:
        return None
    found: dict[Projected, None] = {}
    for choice in product(*(c.positions for c in controls)):
        positions = rest_positions(layout)
        for control, word in zip(controls, choice, strict=True):
            for lever in control.levers:
                positions[lever] = layout.levers[lever].positions.index(word)
        found[project(tuple(positions), levers)] = None
    return list(found)


def each_setting(layout: Layout, levers: Sequence[int]) -> list[Projected] | None:
    """Every combination of positions, gangs or not; None where they are too many."""
    ways = [range(len(layout.levers[lever].positions)) for lever in levers]
    if prod(len(w) for w in ways) > SETTINGS_AT_MOST:
        return None
    return [tuple(zip(levers, choice, strict=True)) for choice in product(*ways)]


def astray(
    layout: Layout, settings: Iterable[Projected], levers: Sequence[int]
) -> list[tuple[Projected, int]]:
    """Each setting with one member of a gang in another position than its gang."""
    members = {
        lever for c in moved_by(layout, levers) if len(c.levers) > 1 for lever in c.levers
    }
    found: dict[Projected, int] = {}
    for setting in settings:
        for place, (lever, position) in enumerate(setting):
            if lever not in members:
                continue
            for other in range(len(layout.levers[lever].positions)):
                if other != position:
                    moved = (*setting[:place], (lever, other), *setting[place + 1 :])
                    found.setdefault(moved, lever)
    return list(found.items())


def columns_of(
    layout: Layout,
    levers: Sequence[int],
    contacts: Sequence[int],
    live_settings: Sequence[Positions] | None,
    demands: Sequence[Demand],
    changes: Sequence[Change],
) -> Columns:
    """All states of a part. ``live_settings`` is None for every setting of the gangs."""
    columns = Columns()
    gangs = gang_settings(layout, levers)
    columns.skipped = gangs is None
    if live_settings is not None:
        live = list(dict.fromkeys(project(s, levers) for s in live_settings))
    else:
        live = gangs or [project(tuple(rest_positions(layout)), levers)]
    if "live" in demands:
        for s in live:
            columns.want(Column(s), "live", True, False)
    if "no short" in demands:
        for s in [*live, *(gangs or ())]:
            columns.want(Column(s), "no short", False, True)
    if "contact" in demands:
        _open_contacts(layout, live, contacts, changes, columns)
    if "lever" in demands:
        for s, lever in astray(layout, live, levers):
            columns.want(Column(s, astray=lever), "lever", True, True)
    return columns


class Table:
    """Positions of levers by state, to look conditions up in all states at once."""

    def __init__(self, settings: Sequence[Projected]) -> None:
        self.count = len(settings)
        levers = [lever for lever, _ in settings[0]] if settings else []
        values = np.array([[p for _, p in s] for s in settings], dtype=np.int16)
        values = values.reshape(self.count, len(levers))
        self._of = {lever: values[:, k] for k, lever in enumerate(levers)}
        self._nowhere = np.full(self.count, -1, dtype=np.int16)

    def at(self, lever: int, position: int) -> Mask:
        """States with ``lever`` at ``position``."""
        made: Mask = self._of.get(lever, self._nowhere) == position
        return made

    def all_of(self, clause: Iterable[tuple[int, int]]) -> Mask:
        """States in which every (lever, position) holds."""
        made = np.ones(self.count, dtype=np.bool_)
        for lever, position in clause:
            made &= self.at(lever, position)
        return made

    def closed(self, layout: Layout, element: int) -> Mask:
        """States in which a contact in good order is closed."""
        made = np.zeros(self.count, dtype=np.bool_)
        for clause in layout.elements[element].when:
            made |= self.all_of(clause)
        return made


def _open_contacts(
    layout: Layout,
    live: Sequence[Projected],
    contacts: Sequence[int],
    changes: Sequence[Change],
    columns: Columns,
) -> None:
    """A contact that is open anyway makes no difference, so it is not asked about."""
    table = Table(live)
    masks = [table.closed(layout, e) for e in contacts]
    for k, s in enumerate(live):
        for e, mask in zip(contacts, masks, strict=True):
            if mask[k]:
                columns.want(Column(s, open=e), "contact", True, False)
        for number, change in enumerate(changes):
            for place, join in enumerate(change.joins):
                if join.when is not None and dict(s).get(join.when[0]) == join.when[1]:
                    columns.want(Column(s, spare=(number, place)), "contact", True, False)


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


class Plan(Tables):
    """One case with some elements cut, ready to be searched."""

    def __init__(self, case: Case, asked: Asked, cut: Iterable[int] = ()) -> None:
        super().__init__(case, asked, cut)
        self.forest = Forest(len(self.layout.nodes))
        self.contacts_on: dict[int, list[int]] = {}
        for i in self.contacts:
            self._link(self.ends(i))
            for lever in self.levers_of([i], (), ()):
                self.contacts_on.setdefault(lever, []).append(i)
        self.levers_at = self._levers_at()

    def _levers_at(self) -> dict[int, set[int]]:
        """Levers that bear on each group of clusters that contacts link."""
        found: dict[int, set[int]] = {}
        for i in self.contacts:
            for root in self._inner_roots(self.ends(i)):
                found.setdefault(root, set()).update(self.levers_of([i], (), ()))
        return found

    def _link(self, nodes: Sequence[int]) -> None:
        """Clusters that must be searched together; a pole's cluster keeps parts apart."""
        inner = [self.clusters[n] for n in nodes if self.clusters[n] not in self.pole_of]
        for cluster in inner[1:]:
            self.forest.join(inner[0], cluster)

    def parts(self, changes: Sequence[Change]) -> list[Part]:
        """Independent parts with the changes that may be made in each."""
        for change in changes:
            self._link(_nodes(change))
        for need in self.needs:
            self._link((need.left, need.right))
        needs: dict[int, list[Need]] = {}
        for need in self.needs:
            if not self.is_fixed(need) and need.left != need.right:
                needs.setdefault(self._key((need.left, need.right)), []).append(need)
        contacts: dict[int, list[int]] = {}
        for i in self.contacts:
            contacts.setdefault(self._key(self.ends(i)), []).append(i)
        own: dict[int, list[Change]] = {}
        for change in changes:
            own.setdefault(self._key(_nodes(change)), []).append(change)
        keys = dict.fromkeys((*needs, *contacts))
        return [
            self.part(contacts.get(key, ()), needs.get(key, ()), own.get(key, ()))
            for key in keys
        ]

    def _key(self, nodes: Sequence[int]) -> int:
        """The part that nodes belong to; -1 where all are on poles."""
        for n in nodes:
            if self.clusters[n] not in self.pole_of:
                return self.forest.find(self.clusters[n])
        return -1

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
            roots = self._inner_roots(_nodes(change))
            levers = {lever for root in roots for lever in self.levers_at.get(root, ())}
            by_levers.setdefault(tuple(sorted(levers)), []).append(change)
        good: set[Change] = set()
        for names, group in by_levers.items():
            good |= self._harmless_of(set(names), group)
        return [change for change in changes if change in good]

    def _harmless_of(self, levers: set[int], group: Sequence[Change]) -> set[Change]:
        """The good ones of changes that the same levers bear on."""
        demands = tuple(d for d in self.asked.demands if d in ("no short", "apart"))
        contacts = sorted({i for lever in levers for i in self.contacts_on[lever]})
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


def _nodes(change: Change) -> list[int]:
    """Nodes that stand for what a change joins."""
    return [n for join in change.joins for n in (join.a, join.b)]
