"""Minimal cut sets and path sets, as families of sets that share their parts.

A family is a diagram too: a node asks whether its element is in the set; ``low``
leads to the sets without it, ``high`` to the rest of those with it.

Minimal solutions are found on the decision diagram itself: A. Rauzy, Reliability
Engineering and System Safety 40 (1993), from memory.
"""

from __future__ import annotations

from collections.abc import Iterator

from sim.analyses.odds.decision_diagrams import ALWAYS, BOTTOM, NEVER, Diagrams

EMPTY = 0  #: no set at all
UNIT = 1  #: the one set without elements


class Families:
    """Families over the variables of ``diagrams``."""

    def __init__(self, diagrams: Diagrams) -> None:
        self._diagrams = diagrams
        self._level = [BOTTOM, BOTTOM]
        self._low = [EMPTY, UNIT]
        self._high = [EMPTY, UNIT]
        self._unique: dict[tuple[int, int, int], int] = {}
        self._cuts: dict[int, int] = {NEVER: EMPTY, ALWAYS: UNIT}
        self._paths: dict[int, int] = {NEVER: EMPTY, ALWAYS: UNIT}
        self._without: dict[tuple[int, int], int] = {}
        self._with: dict[tuple[int, int], int] = {}
        self._as_diagram: dict[int, int] = {EMPTY: NEVER, UNIT: ALWAYS}
        self._count: dict[int, int] = {EMPTY: 0, UNIT: 1}
        self._least: dict[int, int] = {EMPTY: BOTTOM, UNIT: 0}

    def _node(self, level: int, low: int, high: int) -> int:
        if high == EMPTY:
            return low
        key = (level, low, high)
        known = self._unique.get(key)
        if known is None:
            known = self._unique[key] = len(self._level)
            self._level.append(level)
            self._low.append(low)
            self._high.append(high)
        return known

    def cuts(self, event: int) -> int:
        """Minimal cut sets: the smallest sets that make ``event`` happen by themselves.

        That is, with these elements failed and all others good, and with no fewer
        of them.  Where a further failure can undo the event, as an open contact
        undoes a short, the definition stays the same.
        """
        known = self._cuts.get(event)
        if known is None:
            d = self._diagrams
            low, high = self.cuts(d.low[event]), self.cuts(d.high[event])
            known = self._node(d.level[event], low, self.without(high, low))
            self._cuts[event] = known
        return known

    def paths(self, good: int) -> int:
        """Minimal path sets: the smallest sets that keep ``good`` true by being good.

        As long as these elements are good, whatever the others do, and with no
        fewer of them.
        """
        known = self._paths.get(good)
        if known is None:
            d = self._diagrams
            low, high = d.low[good], d.high[good]
            needless = self.paths(d.both(low, high))
            needed = self.without(self.paths(low), needless)
            known = self._node(d.level[good], needless, needed)
            self._paths[good] = known
        return known

    def without(self, a: int, b: int) -> int:
        """The sets of ``a`` that hold no set of ``b``."""
        if EMPTY in (a, b):
            return a
        if a == b or self._has_unit(b):
            return EMPTY
        if a == UNIT:
            return UNIT
        known = self._without.get((a, b))
        if known is None:
            level_a, level_b = self._level[a], self._level[b]
            if level_b < level_a:
                known = self.without(a, self._low[b])
            elif level_a < level_b:
                low = self.without(self._low[a], b)
                known = self._node(level_a, low, self.without(self._high[a], b))
            else:
                low = self.without(self._low[a], self._low[b])
                high = self.without(self._high[a], self._low[b])
                known = self._node(level_a, low, self.without(high, self._high[b]))
            self._without[a, b] = known
        return known

    def _has_unit(self, family: int) -> bool:
        while family > UNIT:
            family = self._low[family]
        return family == UNIT

    def with_(self, family: int, variable: int) -> int:
        """The sets of ``family`` that ``variable`` is in."""
        level = self._level[family]
        if level > variable:
            return EMPTY
        known = self._with.get((family, variable))
        if known is None:
            if level == variable:
                known = self._node(level, EMPTY, self._high[family])
            else:
                low = self.with_(self._low[family], variable)
                known = self._node(level, low, self.with_(self._high[family], variable))
            self._with[family, variable] = known
        return known

    def as_diagram(self, family: int) -> int:
        """When all elements of some set of ``family`` have failed."""
        known = self._as_diagram.get(family)
        if known is None:
            d = self._diagrams
            low = self.as_diagram(self._low[family])
            high = d.either(low, self.as_diagram(self._high[family]))
            known = self._as_diagram[family] = d.node(self._level[family], low, high)
        return known

    def count(self, family: int) -> int:
        """How many sets there are."""
        known = self._count.get(family)
        if known is None:
            known = self.count(self._low[family]) + self.count(self._high[family])
            self._count[family] = known
        return known

    def smallest(self, family: int, at_most: int) -> list[tuple[int, ...]]:
        """Up to ``at_most`` sets, those with the fewest elements first, then in order."""
        found: list[tuple[int, ...]] = []
        size = self._least_size(family)
        while size < BOTTOM and len(found) < min(at_most, self.count(family)):
            for one in self._of_size(family, size):
                found.append(one)
                if len(found) == at_most:
                    break
            size += 1
        return found

    def _least_size(self, family: int) -> int:
        known = self._least.get(family)
        if known is None:
            with_it = self._least_size(self._high[family]) + 1
            known = min(self._least_size(self._low[family]), with_it)
            self._least[family] = known
        return known

    def _of_size(self, family: int, size: int) -> Iterator[tuple[int, ...]]:
        if self._least_size(family) > size:
            return
        if family == UNIT:
            if size == 0:
                yield ()
            return
        for rest in self._of_size(self._high[family], size - 1):
            yield (self._level[family], *rest)
        yield from self._of_size(self._low[family], size)
