"""Conflicts of a network of rails: paths that should break, cuts that should close.

When a meter says *open* where metal should join two places, something on each path
between them is at fault: one path is a conflict.  When it says *joined* where nothing
should, something that crosses the border of the net at fault has closed: the border
is a conflict.  Contacts bring their levers in.  A lamp or train that has no supply
where it should blames its ways to the poles; one that has supply where it should not
blames everything, which is no small conflict, but a true one.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Collection, Iterable, Iterator, Sequence

from sim.bench.diagnosis.model import FaultSet, may_be_together
from sim.bench.diagnosis.states import LAYOUT, Columns, States
from sim.bench.readings.model import Probe, Reading
from sim.faults.possible import Fault
from sim.layout.model import PLASTIC

_WORSE = {"joined": 0, "tired": 1, "open": 2}


class NetConsequences:
    """Rails and wires as :class:`sim.bench.diagnosis.engine.Consequences` of faults."""

    def __init__(self, states: States, readings: Sequence[Reading]) -> None:
        self._states, self._readings = states, tuple(readings)
        self._faults = states.faults
        self._of_element: dict[int, list[int]] = {}
        self._of_lever: dict[int, list[int]] = {}
        for k, fault in enumerate(self._faults):
            if fault.of == "lever":
                self._of_lever.setdefault(fault.index, []).append(k)
            elif fault.of != "supply":
                self._of_element.setdefault(fault.index, []).append(k)
        self._of_supplies = [k for k, f in enumerate(self._faults) if f.of == "supply"]
        self._closing = [
            k for k, f in enumerate(self._faults) if f.effect in ("closes", "stays")
        ]
        self._touching: dict[str, list[list[tuple[int, int]]]] = {}

    def together(self, faults: frozenset[int], fault: int) -> bool:
        """See :class:`sim.bench.diagnosis.engine.Consequences`."""
        part = self._faults[fault].part
        return all(self._faults[f].part != part for f in faults)

    def conflict(self, faults: frozenset[int]) -> list[int] | None:
        """The smallest conflict among the readings that ``faults`` do not explain."""
        best = min(self.conflicts(faults), key=len, default=None)
        if best is not None:
            best.sort(key=lambda k: (-self._faults[k].weight, k))
        return best

    def conflicts(self, faults: frozenset[int]) -> Iterator[list[int]]:
        """One conflict for each reading that ``faults`` do not explain."""
        columns = Columns(self._faults, [tuple(sorted(faults))])
        for reading in self._readings:
            answers = self._states.answers(columns, reading.probe)
            said = next(outcome for outcome, bits in answers.items() if bits)
            if said not in reading.allows:
                yield self._of(columns, reading, said)

    def _of(self, columns: Columns, reading: Reading, said: str) -> list[int]:
        probe = reading.probe
        if probe.what != "meter":
            return self._of_supply(columns, probe, said)
        should_part = min(_WORSE[o] for o in reading.allows) > _WORSE[said]
        well_only = said == "joined" if should_part else reading.allows == {"joined"}
        conducting = self._conducting(columns, probe, well_only)
        if should_part:
            elements = self._path(probe, conducting)
            kinds = "breaks"
        else:
            elements = self._border(probe, conducting)
            kinds = "closes"
        return self._faults_at(elements, kinds)

    def _of_supply(self, columns: Columns, probe: Probe, said: str) -> list[int]:
        """Of a lamp or train that should have had supply: its ways to the poles.

        Closing something may take supply away too, but then by a short, which is read
        as one; what two supplies can do to each other besides is left out.
        """
        if said not in ("live", "weak"):
            return list(range(len(self._faults)))
        conducting = self._conducting(columns, probe, said == "live")
        off = {f.index for f, _ in columns.by_fault if f.of == "supply"}
        giving = [s for i, s in enumerate(self._states.layout.supplies) if i not in off]
        poles = {pole for s in giving for pole in (s.plus, s.minus)}
        found: dict[int, None] = {}
        for pair in probe.pairs or ((probe.a, probe.b),):
            for node in pair:
                if node != PLASTIC:
                    way = self._way(node, poles, LAYOUT, conducting)
                    found.update(dict.fromkeys(self._faults_at(way, "breaks")))
        found.update(dict.fromkeys(self._of_supplies))
        if not {"live", "weak", "dead"} >= self._allowed(probe):
            found.update(dict.fromkeys(self._closing))
        return list(found)

    def _allowed(self, probe: Probe) -> frozenset[str]:
        return next(r.allows for r in self._readings if r.probe is probe)

    def _conducting(self, columns: Columns, probe: Probe, well_only: bool) -> set[int]:
        bits, effects = self._states.conducting(
            columns, probe.positions, self._states.elements_at(probe.where)
        )
        return {i for i, b in bits.items() if b and not (well_only and effects.tired.get(i))}

    def _neighbours(self, where: str) -> list[list[tuple[int, int]]]:
        if where not in self._touching:
            layout = self._states.layout
            touching: list[list[tuple[int, int]]] = [[] for _ in layout.nodes]
            for i in self._states.elements_at(where):
                e = layout.elements[i]
                touching[e.a].append((e.b, i))
                touching[e.b].append((e.a, i))
            self._touching[where] = touching
        return self._touching[where]

    def _path(self, probe: Probe, conducting: set[int]) -> list[int]:
        """Elements of a shortest path between the two places."""
        return self._way(probe.a, {probe.b}, probe.where, conducting)

    def _way(
        self, start: int, goals: Collection[int], where: str, conducting: set[int]
    ) -> list[int]:
        """Elements of a shortest path from ``start`` to one of ``goals``; [] without one."""
        touching = self._neighbours(where)
        came: dict[int, tuple[int, int]] = {start: (-1, -1)}
        todo = deque([start])
        while todo:
            here = todo.popleft()
            if here in goals:
                return _back(came, here)
            for there, element in touching[here]:
                if element in conducting and there not in came:
                    came[there] = here, element
                    todo.append(there)
        return []

    def _border(self, probe: Probe, conducting: set[int]) -> list[int]:
        """What leaves the net of one of the two places: the smaller of the two borders."""
        borders = [self._around(n, probe.where, conducting) for n in (probe.a, probe.b)]
        return min(borders, key=len)

    def _around(self, node: int, where: str, conducting: set[int]) -> list[int]:
        touching = self._neighbours(where)
        net, todo = {node}, [node]
        border: dict[int, None] = {}
        while todo:
            for there, element in touching[todo.pop()]:
                if element in conducting:
                    if there not in net:
                        net.add(there)
                        todo.append(there)
                else:
                    border[element] = None
        return list(border)

    def _faults_at(self, elements: Iterable[int], kinds: str) -> list[int]:
        found: dict[int, None] = {}
        for i in elements:
            for k in self._of_element.get(i, ()):
                if (self._faults[k].effect == "closes") == (kinds == "closes"):
                    found[k] = None
            for clause in self._states.layout.elements[i].when:
                for lever, _ in clause:
                    found.update(dict.fromkeys(self._of_lever.get(lever, ())))
        return list(found)


def _back(came: dict[int, tuple[int, int]], here: int) -> list[int]:
    found = []
    here, element = came[here]
    while here >= 0:
        found.append(element)
        here, element = came[here]
    return found


def every_set(faults: Sequence[Fault], size: int) -> list[FaultSet]:
    """All sets of one fault or of two that can be together."""
    if size == 1:
        return [(k,) for k in range(len(faults))]
    some = tuple(faults)
    return [
        (i, k)
        for i in range(len(some))
        for k in range(i + 1, len(some))
        if may_be_together(some, (i, k))
    ]
