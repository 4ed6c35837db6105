"""Take a contracted case apart into parts that can be searched one by one."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from sim.layout.traffic import Case
from sim.power.wiring import Forest
from sim.seek.contracted import Need
from sim.seek.model import Asked, Change
from sim.seek.part import Part
from sim.seek.tables import Tables


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
