"""One part of a layout that can be searched by itself, as tables ready to be joined.

Parts meet only at clusters that hold a pole, so what is wired in one changes
nothing in another.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from sim.power.poles import Source
from sim.seek.model import Change, Demand
from sim.seek.nets import (
    LIVE,
    NEVER,
    NO_RETURN,
    Codes,
    Labels,
    Mask,
    join_in_place,
    shorting,
    worth,
)

Rows = npt.NDArray[np.int64]


@dataclass(frozen=True, slots=True)
class Column:
    """One state: where levers are, and what does not conduct.

    ``positions`` are (lever, position) of the part's own levers; ``open`` is an
    element, -1 for none; ``spare`` the number of an added contact that is open.
    """

    positions: tuple[tuple[int, int], ...]
    open: int = -1
    spare: tuple[int, int] | None = None
    astray: int = -1


@dataclass(frozen=True, slots=True)
class RowJoin:
    """A join as rows of the two tables, each with the columns in which it is closed."""

    a: int
    b: int
    where: Mask | None
    home_a: int
    home_b: int
    home_where: Mask | None


@dataclass(frozen=True, slots=True)
class PartChange:
    """A change with the rows that it joins."""

    change: Change
    joins: tuple[RowJoin, ...]


@dataclass(frozen=True, slots=True)
class State:
    """Labels after some changes; ``mixed`` once rails of two districts are one net."""

    labels: Labels
    home: Labels
    mixed: bool


@dataclass(frozen=True, slots=True)
class Look:
    """What a state is worth: why it is beyond cure, or what is still dead.

    ``unmet`` has the shape (needs, columns), as ``codes`` has.
    """

    bad: str | None
    unmet: Mask
    codes: Codes

    @property
    def good(self) -> bool:
        """Whether every demand is met."""
        return self.bad is None and not bool(self.unmet.any())


@dataclass(slots=True)
class Part:
    """Tables of one part.

    ``left`` and ``right`` are rows of the pairs of rails that must be live,
    ``need`` (pairs, columns) where; ``low`` and ``high`` are the two supplies of a
    pair on the way from one loop to another, -1 elsewhere.  ``district_count``
    bounds the labels in ``start.home`` that are districts.
    """

    sources: tuple[Source, ...]
    columns: tuple[Column, ...]
    demand: tuple[Demand, ...]
    start: State
    pole_rows: Rows
    left: Rows
    right: Rows
    need: Mask
    low: Rows
    high: Rows
    no_short: Mask
    district_count: int
    apart: bool
    changes: tuple[PartChange, ...]
    pairs: tuple[tuple[int, int], ...] = ()

    def add(self, state: State, change: PartChange) -> State:
        """The state with one more change made."""
        labels, home, mixed = state.labels.copy(), state.home.copy(), state.mixed
        for join in change.joins:
            join_in_place(labels, join.a, join.b, join.where)
            mixed |= self.mixes(home, join.home_a, join.home_b, join.home_where)
            join_in_place(home, join.home_a, join.home_b, join.home_where)
        return State(labels, home, mixed)

    def mixes(self, home: Labels, a: int, b: int, where: Mask | None) -> bool:
        """Whether joining two rows would join rails of two districts anywhere."""
        both = (home[a] != home[b]) & (home[a] < self.district_count)
        both &= home[b] < self.district_count
        if where is not None:
            both &= where
        return bool(both.any())

    def bad_wires(self, wires: Sequence[PartChange]) -> list[bool]:
        """For each wire alone: does it short in a state that is asked, or mix districts?"""
        if not wires:
            return []
        joins = [wire.joins[0] for wire in wires]
        labels, home = self.start.labels, self.start.home
        a, b = (labels[[getattr(j, side) for j in joins]] for side in ("a", "b"))
        bad = (shorting(labels[self.pole_rows], a, b, self.sources) & self.no_short).any(axis=1)
        if self.apart:
            a, b = (home[[getattr(j, side) for j in joins]] for side in ("home_a", "home_b"))
            bad |= ((a != b) & (np.maximum(a, b) < self.district_count)).any(axis=1)
        return [bool(no) for no in np.atleast_1d(bad)]

    def look(self, state: State) -> Look:
        """Judge a state."""
        left, right = state.labels[self.left], state.labels[self.right]
        codes, short = worth(state.labels[self.pole_rows], left, right, self.sources)
        low, high = np.minimum(left, right) // 2, np.maximum(left, right) // 2
        across = (codes == NO_RETURN) & (low == self.low[:, None])
        across &= high == self.high[:, None]
        unmet = self.need & (codes != LIVE) & ~across
        bad = None
        if bool((short & self.no_short).any()):
            bad = "shorts"
        elif state.mixed and self.apart:
            bad = "joins two loops"
        elif bool((unmet & (codes == NEVER)).any()):
            bad = "leaves a place that no wire can cure"
        return Look(bad, unmet, codes)

    def shorted(self, state: State) -> Mask:
        """States in which a supply is shorted, asked about or not."""
        none = np.zeros((0, len(self.columns)), dtype=np.int32)
        return worth(state.labels[self.pole_rows], none, none, self.sources)[1]
