"""Find every smallest set of changes in one part, and prove that none is smaller.

A dead place names what every cure must contain: a change with one end in the
net that lacks a pole.  The search branches on those changes only; of two
changes in one branch the second excludes the first, so no set is met twice.
Adding wire only ever joins, so a set that shorts has no good superset, and a
good one is not looked beyond.
"""

from __future__ import annotations

from collections.abc import Iterator
from math import comb

import numpy as np

from sim.analyses.search.model import Figures
from sim.analyses.search.nets import FLOATING
from sim.analyses.search.parts import Look, Part, State
from sim.power.trace import Positions

#: Sets kept of one part; more are counted as found but not listed.
SETS_AT_MOST = 2000
#: States looked at in one part before the search gives up proving.
EXAMINED_AT_MOST = 400_000

Chosen = tuple[int, ...]


class TooLargeError(Exception):
    """The search became larger than its stated limit."""


class PartSearch:
    """Search of one part. Sets are tuples of numbers of ``part.changes``, ascending."""

    def __init__(self, part: Part, figures: Figures) -> None:
        self.part, self.figures = part, figures
        self.usable = self._harmless()
        self._examined = 0
        self._counts: dict[int, int] | None = None

    def _harmless(self) -> list[int]:
        """Changes that are not by themselves beyond cure."""
        part, good = self.part, []
        if part.look(part.start).bad is not None:
            return []
        for number, change in enumerate(part.changes):
            if part.look(part.add(part.start, change)).bad is None:
                good.append(number)
            else:
                self.figures.refused += 1
        return good

    def needs_nothing(self) -> bool:
        """Whether all demands are met as it is."""
        return self.part.look(self.part.start).good

    def is_hopeless(self) -> bool:
        """Whether no wire can meet the demands, however many are added."""
        return self.part.look(self.part.start).bad is not None

    def smallest(self, most: int) -> list[Chosen]:
        """Every set of the smallest size that is good; none up to ``most``: empty."""
        for size in range(most + 1):
            found = sorted(self._sets(size))
            if found:
                return found
        return []

    def minimal(self, most: int) -> list[Chosen]:
        """Every good set up to ``most`` of which no change can be left out."""
        return sorted((s for s in self._sets(most) if self.is_minimal(s)),
                      key=lambda s: (len(s), s))  # fmt: skip

    def is_minimal(self, chosen: Chosen) -> bool:
        """Whether leaving out any one change makes the set bad."""
        for left_out in chosen:
            state = self.part.start
            for number in chosen:
                if number != left_out:
                    state = self.part.add(state, self.part.changes[number])
            if self.part.look(state).good:
                return False
        return True

    def floating_in(self, setting: Positions) -> int:
        """Nets without a pole, on routes that are set, in one setting as it is."""
        at = [tuple((lever, setting[lever]) for lever, _ in c.positions)
              for c in self.part.columns]  # fmt: skip
        column = [
            k for k, c in enumerate(self.part.columns)
            if c.positions == at[k] and self.part.demand[k] == "live"
        ]  # fmt: skip
        return max((self._floating().get(k, 0) for k in column), default=0)

    def floating_at_most(self) -> int:
        """The most nets without a pole in any one state as it is."""
        return max(self._floating().values(), default=0)

    def _floating(self) -> dict[int, int]:
        """Nets without a pole by column, as it is."""
        if self._counts is None:
            look = self.part.look(self.part.start)
            self._counts = _count_floating(self.part, self.part.start, look)
        return self._counts

    def possible(self, most: int) -> int:
        """How many sets of up to ``most`` changes there are."""
        return sum(comb(len(self.part.changes), size) for size in range(most + 1))

    def _sets(self, most: int) -> Iterator[Chosen]:
        yield from self._branch(self.part.start, (), frozenset(), most)

    def _branch(
        self, state: State, chosen: Chosen, without: frozenset[int], left: int
    ) -> Iterator[Chosen]:
        look = self._look(state)
        if look.bad is not None:
            self.figures.prune(look.bad)
            return
        if look.good:
            yield tuple(sorted(chosen))
            return
        if left == 0 or self._at_least(state, look) > left:
            self.figures.prune("needs more changes than allowed")
            return
        options = self._options(state, look, without)
        if not options:
            self.figures.prune("has nothing left to reach a dead place with")
        for place, number in enumerate(options):
            yield from self._branch(
                self.part.add(state, self.part.changes[number]),
                (*chosen, number),
                without | set(options[:place]),
                left - 1,
            )

    def _look(self, state: State) -> Look:
        self.figures.examined += 1
        self._examined += 1
        if self._examined > EXAMINED_AT_MOST:
            raise TooLargeError
        return self.part.look(state)

    def _at_least(self, state: State, look: Look) -> int:
        """A lower bound: nets without a pole in one state each need a change."""
        return max(_count_floating(self.part, state, look).values(), default=1)

    def _options(self, state: State, look: Look, without: frozenset[int]) -> list[int]:
        """Changes of which every cure of this state has one: the shortest such list."""
        best: list[int] | None = None
        for net, column in self._dead_nets(state, look):
            found = [
                number
                for number in self.usable
                if number not in without and self._reaches(state, number, net, column)
            ]
            if best is None or len(found) < len(best):
                best = found
            if len(best) <= 1:
                break
        return best or []

    def _dead_nets(self, state: State, look: Look) -> list[tuple[int | None, int]]:
        """(label of a net without a pole, column); None where only two islands are apart."""
        poles = len(self.part.pole_rows)
        found: dict[tuple[int | None, int], None] = {}
        for row, column in zip(*np.nonzero(look.unmet), strict=True):
            sides = (self.part.left[row], self.part.right[row])
            labels = [int(state.labels[side, column]) for side in sides]
            dead = [label for label in labels if label >= poles]
            for label in dead:
                found[label, int(column)] = None
            if not dead:
                found[None, int(column)] = None
            if len(found) > 60:  # enough to choose a short list from
                break
        return list(found)

    def _reaches(self, state: State, number: int, net: int | None, column: int) -> bool:
        for join in self.part.changes[number].joins:
            if join.where is not None and not join.where[column]:
                continue
            a, b = int(state.labels[join.a, column]), int(state.labels[join.b, column])
            if a != b and (net is None or net in (a, b)):
                return True
        return False


def _count_floating(part: Part, state: State, look: Look) -> dict[int, int]:
    """By column: how many nets without a pole lie under a pair that must be live."""
    poles = len(part.pole_rows)
    rows, columns = np.nonzero(look.unmet & (look.codes == FLOATING))
    if not len(rows):
        return {}
    most = int(state.labels.max()) + 1
    keys = []
    for side in (part.left, part.right):
        labels = state.labels[side[rows], columns]
        dead = labels >= poles
        keys.append(columns[dead].astype(np.int64) * most + labels[dead])
    nets = np.unique(np.concatenate(keys)) // most
    counted, counts = np.unique(nets, return_counts=True)
    return {int(c): int(n) for c, n in zip(counted, counts, strict=True)}
