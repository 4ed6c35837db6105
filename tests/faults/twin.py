"""A slow twin of fault tracing: one union-find pass over arrays for each state.

Shares no code with sim.power or sim.analyses.survey; it reads the layout alone.  Made as
fast as such a pass can be, since a bench compares with it: arrays are allocated
once, finding halves its paths, elements are filtered once for each fault set.
"""

from __future__ import annotations

from collections.abc import Sequence

from sim.layout.model import PLASTIC, Layout

#: (kind, index, turn), as in a fault.
Plain = tuple[str, int, int]


class Twin:
    """Traces states of one layout, one by one."""

    def __init__(self, layout: Layout) -> None:
        self.layout = layout
        self._parent = list(range(len(layout.nodes)))
        self._fresh = list(range(len(layout.nodes)))
        self._rows = [
            (i, e.a, e.b, e.when if e.kind == "contact" else None)
            for i, e in enumerate(layout.elements)
            if e.kind != "gap"
        ]
        self.dead: set[int] = set()  #: supplies that are off, their wires joined at the poles
        self._pairs = [
            list(dict.fromkeys((s.left, s.right) for s in route.spans))
            for route in layout.routes
        ]

    def find(self, x: int) -> int:
        parent = self._parent
        while parent[x] != x:
            parent[x] = parent[parent[x]]
            x = parent[x]
        return x

    def nets(self, asked: Sequence[int], faults: Sequence[Plain]) -> None:
        """Join all that conducts, with the levers asked for and these faults."""
        parent = self._parent
        parent[:] = self._fresh
        find = self.find
        positions = list(asked)
        off: set[int] = set()
        self.dead = set()
        stuck: set[int] = set()
        for kind, index, turn in faults:
            if kind == "lever does not follow":
                count = len(self.layout.levers[index].positions)
                positions[index] = (positions[index] + turn) % count
            elif kind == "contact never opens":
                stuck.add(index)
            elif kind == "supply off":
                self.dead.add(index)
            else:
                off.add(index)
        for i, a, b, when in self._rows:
            if i in off:
                continue
            if when is not None and i not in stuck:
                for clause in when:
                    if all(positions[lever] == p for lever, p in clause):
                        break
                else:
                    continue
            a, b = find(a), find(b)
            if a != b:
                parent[b] = a

    def short_supplies(self) -> set[int]:
        """Supplies with both poles in one net, or in a loop of two that disagree.

        Enough for one supply and for two; more need the loops of a graph.
        """
        nets = [(self.find(s.plus), self.find(s.minus)) for s in self.layout.supplies]
        if self.dead:
            return {i for i, (a, b) in enumerate(nets) if a == b and i not in self.dead}
        found = {i for i, (a, b) in enumerate(nets) if a == b}
        volts = [-s.voltage_v if s.reversed else s.voltage_v for s in self.layout.supplies]
        assert len(nets) <= 2
        if len(nets) == 2 and not found and set(nets[0]) == set(nets[1]):
            sign = 1 if nets[0] == nets[1] else -1
            if volts[0] != sign * volts[1]:
                found = {0, 1}
        return found

    def routes(self) -> list[str]:
        """For each route ``live``, ``dead`` or ``short``, as last joined."""
        find, supplies = self.find, self.layout.supplies
        shorted = self.short_supplies()
        hot = {find(n) for i in shorted for n in (supplies[i].plus, supplies[i].minus)}
        volts = self._volts()
        usable = {abs(s.voltage_v) for i, s in enumerate(supplies) if i not in self.dead}
        found = []
        for pairs in self._pairs:
            worst = "live"
            for left, right in pairs:
                nets = [find(n) for n in (left, right) if n != PLASTIC]
                if any(n in hot for n in nets):
                    worst = "short"
                    break
                if len(nets) == 2 and not self._live(nets[0], nets[1], volts, usable):
                    worst = "dead"
            found.append(worst)
        return found

    def _live(
        self, a: int, b: int, volts: dict[int, tuple[int, float]], usable: set[float]
    ) -> bool:
        if a not in volts or b not in volts:
            return False
        (island, high), (other, low) = volts[a], volts[b]
        return island == other and any(abs(abs(high - low) - v) < 1e-9 for v in usable)

    def _volts(self) -> dict[int, tuple[int, float]]:
        """By net with poles: its island and its volts there, walked supply by supply."""
        found: dict[int, tuple[int, float]] = {}
        supplies = self.layout.supplies
        nets = [(self.find(s.plus), self.find(s.minus)) for s in supplies]
        for start, (_, minus) in enumerate(nets):
            if minus in found:
                continue
            found[minus] = start, 0.0
            grown = True
            while grown:
                grown = False
                for number, ((a, b), s) in enumerate(zip(nets, supplies, strict=True)):
                    if number in self.dead:
                        continue
                    rise = -s.voltage_v if s.reversed else s.voltage_v
                    if b in found and a not in found:
                        found[a] = found[b][0], found[b][1] + rise
                        grown = True
                    elif a in found and b not in found:
                        found[b] = found[a][0], found[a][1] - rise
                        grown = True
        return found
