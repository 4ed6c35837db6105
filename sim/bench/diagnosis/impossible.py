"""Readings that contradict one another, whatever is wrong with the metal.

In one setting, at one where, what is joined to the same thing is joined to each
other.  Which readings are wrong is diagnosed by the same engine as faults: the parts
are the readings, and a loop of joined ones that an open one closes is a conflict.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Sequence

import numpy as np

from sim.bench.diagnosis.engine import minimal_diagnoses
from sim.bench.readings.model import Reading
from sim.power.wiring import Forest

#: So many wrong readings are looked for in one setting, all ways of choosing them.
WRONG_AT_MOST = 6
SETS_AT_MOST = 3000
#: Readings of the shortest contradiction of two different pairs or more.
SHORTEST = 3
#: So many ways of choosing them are told.
WAYS_TOLD = 12


class ReadingConsequences:
    """Readings of one setting as :class:`sim.bench.diagnosis.engine.Consequences`."""

    def __init__(self, readings: Sequence[Reading]) -> None:
        self._joined = [r for r in readings if "open" not in r.allows]
        self._open = [r for r in readings if r.allows == {"open"}]

    def together(self, faults: frozenset[int], fault: int) -> bool:
        """Any readings may be wrong together."""
        return True

    def conflict(self, faults: frozenset[int]) -> list[int] | None:
        """Numbers of the readings of the shortest contradiction without ``faults``."""
        joined = [r for r in self._joined if r.number not in faults]
        number_of = {frozenset((r.probe.a, r.probe.b)): r.number for r in joined}
        beside: dict[int, set[int]] = {}
        for r in joined:
            beside.setdefault(r.probe.a, set()).add(r.probe.b)
            beside.setdefault(r.probe.b, set()).add(r.probe.a)
        best: list[int] | None = None
        for r in self._open:
            a, b = r.probe.a, r.probe.b
            if r.number in faults or a not in beside or b not in beside:
                continue
            if frozenset((a, b)) in number_of:  # the same two places, read twice
                return [r.number, number_of[frozenset((a, b))]]
            shared = beside[a] & beside[b]
            if shared and (best is None or len(best) > SHORTEST):
                c = min(shared)
                ends = (frozenset((a, c)), frozenset((c, b)))
                best = [r.number, *(number_of[pair] for pair in ends)]
        return best if best is not None else self._longer(faults, number_of)

    def _longer(
        self, faults: frozenset[int], number_of: dict[frozenset[int], int]
    ) -> list[int] | None:
        """The shortest contradiction where none has only three readings."""
        touching: dict[int, list[tuple[int, int]]] = {}
        forest = Forest(1 + max((max(pair) for pair in number_of), default=0))
        for pair, number in number_of.items():
            a, b = sorted(pair)
            forest.join(a, b)
            touching.setdefault(a, []).append((b, number))
            touching.setdefault(b, []).append((a, number))
        best: list[int] | None = None
        for r in self._open:
            a, b = r.probe.a, r.probe.b
            if r.number in faults or a not in touching or b not in touching:
                continue
            if forest.find(a) == forest.find(b):
                path = _path(touching, a, b)
                if path is not None and (best is None or len(path) + 1 < len(best)):
                    best = [r.number, *path]
        return best


def _path(touching: dict[int, list[tuple[int, int]]], a: int, b: int) -> list[int] | None:
    came: dict[int, tuple[int, int]] = {a: (-1, -1)}
    todo = deque([a])
    while todo and b not in came:
        here = todo.popleft()
        for there, number in touching.get(here, ()):
            if there not in came:
                came[there] = here, number
                todo.append(there)
    if b not in came:
        return None
    found = []
    here, number = came[b]
    while here >= 0:
        found.append(number)
        here, number = came[here]
    return found


def wrong_readings(readings: Sequence[Reading]) -> tuple[list[frozenset[int]], bool]:
    """Smallest sets of readings, by number, that must be wrong; and whether all are told.

    Empty where no readings contradict one another.  Settings are independent of each
    other, so what must be taken again is a choice for each of them.
    """
    groups: dict[tuple[str, tuple[int, ...]], list[Reading]] = {}
    for r in readings:
        if r.probe.what == "meter":
            groups.setdefault((r.probe.where, r.probe.positions), []).append(r)
    ways: list[frozenset[int]] = [frozenset()]
    complete = True
    for group in groups.values():
        model = ReadingConsequences(group)
        if model.conflict(frozenset()) is None:
            continue
        found = minimal_diagnoses(model, WRONG_AT_MOST, SETS_AT_MOST)
        sets = list(found.sets)
        if not sets:
            sets, complete = [_greedy(group)], False
        least = min(len(s) for s in sets)
        smallest = [s for s in sets if len(s) == least]
        more = [way | s for way in ways for s in smallest]
        complete = complete and len(more) <= WAYS_TOLD
        ways = more[:WAYS_TOLD]
    return ([] if ways == [frozenset()] else ways), complete


def _greedy(readings: Sequence[Reading]) -> frozenset[int]:
    """Some set that resolves every contradiction: always the reading in most of them."""
    number: dict[tuple[int, int], int] = {}
    size = 1 + max(max(r.probe.a, r.probe.b) for r in readings)
    joined = np.zeros((size, size), np.int32)
    apart = np.zeros((size, size), np.int32)
    for r in readings:
        table = apart if r.allows == {"open"} else joined if "open" not in r.allows else None
        if table is not None:
            a, b = sorted((r.probe.a, r.probe.b))
            number[a, b] = r.number
            table[a, b] = table[b, a] = 1
    wrong: set[int] = set()
    while True:
        mixed = joined @ apart
        loops = joined * (mixed + mixed.T) + apart * (joined @ joined)
        worst = int(np.argmax(np.triu(loops, 1)))
        a, b = divmod(worst, size)
        if loops[a, b] == 0:
            break
        wrong.add(number[a, b])
        joined[a, b] = joined[b, a] = apart[a, b] = apart[b, a] = 0
    model = ReadingConsequences(readings)
    while (conflict := model.conflict(frozenset(wrong))) is not None:
        wrong.add(conflict[0])
    return frozenset(wrong)
