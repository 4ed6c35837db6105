"""Which states each demand asks about, seen by the levers of one part."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from itertools import product
from math import prod

import numpy as np

from sim.layout.model import Control, Layout
from sim.power.settings import rest_positions
from sim.power.trace import Positions
from sim.seek.model import SETTINGS_AT_MOST, Change, Demand
from sim.seek.nets import Mask
from sim.seek.part import Column

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
