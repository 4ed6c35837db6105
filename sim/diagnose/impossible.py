"""Readings that contradict one another, whatever is wrong with the metal.

In one setting, at one where, what is joined to the same thing is joined to each
other.  Which readings are wrong is diagnosed by the same engine as faults: the parts
are the readings, and a loop of joined ones that an open one closes is a conflict.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Sequence

from sim.diagnose.engine import minimal_diagnoses
from sim.readings.model import Reading

#: So many wrong readings are looked for in one setting, all ways of choosing them.
WRONG_AT_MOST = 3
SETS_AT_MOST = 3000
#: So many ways of choosing them are told.
WAYS_TOLD = 12


class ReadingConsequences:
    """Readings of one setting as :class:`sim.diagnose.engine.Consequences`."""

    def __init__(self, readings: Sequence[Reading]) -> None:
        self._joined = [r for r in readings if "open" not in r.allows]
        self._open = [r for r in readings if r.allows == {"open"}]

    def together(self, faults: frozenset[int], fault: int) -> bool:
        """Any readings may be wrong together."""
        return True

    def conflict(self, faults: frozenset[int]) -> list[int] | None:
        """Numbers of the readings of the shortest contradiction without ``faults``."""
        touching: dict[int, list[tuple[int, int]]] = {}
        for r in self._joined:
            if r.number not in faults:
                touching.setdefault(r.probe.a, []).append((r.probe.b, r.number))
                touching.setdefault(r.probe.b, []).append((r.probe.a, r.number))
        best: list[int] | None = None
        for r in self._open:
            if r.number in faults:
                continue
            path = _path(touching, r.probe.a, r.probe.b)
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
            sets, complete = [_greedy(model)], False
        least = min(len(s) for s in sets)
        smallest = [s for s in sets if len(s) == least]
        more = [way | s for way in ways for s in smallest]
        complete = complete and len(more) <= WAYS_TOLD
        ways = more[:WAYS_TOLD]
    return ([] if ways == [frozenset()] else ways), complete


def _greedy(model: ReadingConsequences) -> frozenset[int]:
    """Some set that resolves every contradiction: the reading in most of them, repeatedly."""
    wrong: set[int] = set()
    while (conflict := model.conflict(frozenset(wrong))) is not None:
        wrong.add(min(conflict, key=lambda n: (_left(model, wrong | {n}), n)))
    return frozenset(wrong)


def _left(model: ReadingConsequences, wrong: set[int]) -> int:
    """Open readings that are still contradicted."""
    count, gone = 0, set(wrong)
    while (conflict := model.conflict(frozenset(gone))) is not None:
        gone.add(conflict[0])
        count += 1
    return count
