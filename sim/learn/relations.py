"""What readings say of each setting: which places are joined, which are apart.

Joined is passed on: what is joined to the same place is joined to each other, and what
is apart from one place of a net is apart from all of it.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from sim.power.wiring import Forest
from sim.readings.model import Reading


class Relation:
    """Nets of places in one setting, as far as they are known."""

    def __init__(self, places: int) -> None:
        self._forest = Forest(places)
        self._apart: dict[int, set[int]] = {}

    def net(self, place: int) -> int:
        """The lowest place of the net that ``place`` is known to be in."""
        return self._forest.find(place)

    def join(self, a: int, b: int) -> bool:
        """Take two places as joined; False, and nothing done, where they are apart."""
        a, b = self.net(a), self.net(b)
        if a == b:
            return True
        if b in self._apart.get(a, ()):
            return False
        self._forest.join(a, b)
        low, high = (a, b) if self.net(a) == a else (b, a)
        for other in self._apart.pop(high, ()):
            self._apart[other].discard(high)
            self._apart[other].add(low)
            self._apart.setdefault(low, set()).add(other)
        return True

    def part(self, a: int, b: int) -> bool:
        """Take two places as apart; False, and nothing done, where they are joined."""
        a, b = self.net(a), self.net(b)
        if a == b:
            return False
        self._apart.setdefault(a, set()).add(b)
        self._apart.setdefault(b, set()).add(a)
        return True

    def known(self, a: int, b: int) -> bool | None:
        """Whether two places are joined; None where nobody knows."""
        a, b = self.net(a), self.net(b)
        if a == b:
            return True
        return False if b in self._apart.get(a, ()) else None

    def copy(self) -> Relation:
        """The same, to be changed."""
        made = Relation(0)
        made._forest = Forest(0)
        made._forest.parent = list(self._forest.parent)
        made._apart = {a: set(others) for a, others in self._apart.items()}
        return made


def relations_of(
    readings: Iterable[Reading], settings: Sequence[tuple[int, ...]], places: int
) -> list[Relation]:
    """The relation of each setting. Readings must not contradict one another."""
    found = {positions: Relation(places) for positions in settings}
    some = list(readings)
    for r in some:
        if "open" not in r.allows:
            found[r.probe.positions].join(r.probe.a, r.probe.b)
    for r in some:
        if r.allows == {"open"}:
            found[r.probe.positions].part(r.probe.a, r.probe.b)
    return [found[positions] for positions in settings]


def resting_alone(readings: Sequence[Reading], places: int) -> list[int]:
    """Numbers of readings that no other readings of the same setting confirm."""
    groups: dict[tuple[int, ...], list[Reading]] = {}
    for r in readings:
        groups.setdefault(r.probe.positions, []).append(r)
    found: list[int] = []
    for positions, group in groups.items():
        for r in group:
            others = [o for o in group if o is not r]
            without = relations_of(others, [positions], places)[0]
            if without.known(r.probe.a, r.probe.b) is None:
                found.append(r.number)
    return sorted(found)
