"""Every set of wires up to a size, each judged by itself: slow, and sharing no code.

Reads nothing but a Layout.  Nets are found by joining labels, settings by going
through the gangs, and every set is looked at: nothing is pruned.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import combinations, product

from sim.layout.model import Layout

Set = frozenset[frozenset[int]]
Labels = list[int]


@dataclass
class Compact:
    """One state: labels by group, poles and pairs of rails as places among the groups."""

    labels: Labels
    poles: list[tuple[int, int]]
    pairs: list[tuple[int, int, bool]]
    no_short: bool

    def is_good(self, labels: Labels) -> bool:
        at = [(labels[plus], labels[minus]) for plus, minus in self.poles]
        shorted = any(plus == minus for plus, minus in at)
        shorted |= any(
            one[0] == two[1] and one[1] == two[0] for one, two in combinations(at, 2)
        )
        if shorted:
            return not self.no_short and not self.pairs
        for left, right, crossing in self.pairs:
            a, b = labels[left], labels[right]
            fed = [{n for n, poles in enumerate(at) if x in poles} for x in (a, b)]
            if a == b or not fed[0] or not fed[1] or not (fed[0] & fed[1] or crossing):
                return False
        return True


class Brute:
    """Judges sets of wires between groups of sections that are always one."""

    def __init__(self, layout: Layout, contacts: bool = False, levers: bool = False) -> None:
        self.layout, self.contacts, self.levers = layout, contacts, levers
        self.group = self._groups(lambda kind: kind not in ("contact", "gap"))
        self.free = self._groups(lambda kind: kind in ("bond", "joiner", "jumper"))
        gangs = [
            self._positions(dict(zip(map(id, layout.controls), words, strict=True)))
            for words in product(*(c.positions for c in layout.controls))
        ]
        self.states = [(p, None, True, True) for p in gangs]
        for p in gangs if contacts else ():
            self.states += [(p, i, True, False) for i in self._contacts()]
        for p in gangs if levers else ():
            self.states += [(q, None, True, True) for q in self._astray(p)]
        self.each = list(product(*(range(len(v.positions)) for v in layout.levers)))
        self.start = [self._join_contacts(self.group, p, out) for p, out, _, _ in self.states]
        self.apart = [self._join_contacts(self.free, p, None) for p in self.each]

    def _contacts(self) -> list[int]:
        return [i for i, e in enumerate(self.layout.elements) if e.kind == "contact"]

    def _positions(self, words: dict[int, str]) -> tuple[int, ...]:
        made = [v.rest for v in self.layout.levers]
        for control in self.layout.controls:
            for lever in control.levers:
                names = self.layout.levers[lever].positions
                made[lever] = names.index(words[id(control)])
        return tuple(made)

    def _astray(self, positions: tuple[int, ...]) -> Iterator[tuple[int, ...]]:
        for control in self.layout.controls:
            for lever in control.levers if len(control.levers) > 1 else ():
                for other in range(len(self.layout.levers[lever].positions)):
                    if other != positions[lever]:
                        yield (*positions[:lever], other, *positions[lever + 1 :])

    def _groups(self, keeps) -> Labels:  # type: ignore[no-untyped-def]
        labels = list(range(len(self.layout.nodes)))
        for e in self.layout.elements:
            if keeps(e.kind):
                labels = merge(labels, e.a, e.b)
        return labels

    def _join_contacts(
        self, labels: Labels, positions: Sequence[int], out: int | None
    ) -> Labels:
        for i in self._contacts():
            e = self.layout.elements[i]
            held = any(all(positions[v] == p for v, p in clause) for clause in e.when)
            if held and i != out:
                labels = merge(labels, e.a, e.b)
        return labels

    def candidates(self) -> list[frozenset[int]]:
        """Pairs of groups that both have a pad that may be soldered to."""
        nodes = dict(self.layout.pads)
        good = set()
        for placed in self.layout.pieces:
            for pad in placed.piece.pads:
                if not pad.slides:
                    good.add(self.group[nodes[f"{placed.id}/{pad.name}"]])
        return [frozenset(pair) for pair in combinations(sorted(good), 2)]

    def minimal(self, most: int) -> set[Set]:
        """Good sets of up to ``most`` wires of which every smaller choice is bad.

        Every set is judged, nothing is pruned; only the labels of a set are made
        from those of the set with one wire less.
        """
        pairs = self.candidates()
        states = self._compact()
        good: list[Set] = []

        def walk(first: int, chosen: tuple[int, ...], labels: list[Labels]) -> None:
            if all(state.is_good(made) for state, made in zip(states, labels, strict=True)):
                wires = frozenset(pairs[k] for k in chosen)
                if self.is_good(wires):
                    good.append(wires)
            if len(chosen) == most:
                return
            for k in range(first, len(pairs)):
                a, b = (self.place[g] for g in pairs[k])
                walk(k + 1, (*chosen, k), [merge(made, a, b) for made in labels])

        walk(0, (), [state.labels for state in states])
        return {s for s in good if not any(other < s for other in good)}

    def _compact(self) -> list[Compact]:
        """The states with one label for each group instead of one for each node."""
        groups = sorted(set(self.group))
        self.place = {g: k for k, g in enumerate(groups)}
        made = []
        for (positions, _, live, no_short), labels in zip(self.states, self.start, strict=True):
            short = [self.place[labels[g]] for g in groups]
            poles = [
                (self.place[self.group[s.plus]], self.place[self.group[s.minus]])
                for s in self.layout.supplies
            ]
            pairs = {
                (self.place[self.group[s.left]], self.place[self.group[s.right]],
                 self._is_crossing(route))
                for route in self.layout.routes
                if live and all(positions[p.lever] == p.position for p in route.points)
                for s in route.spans if s.left >= 0 and s.right >= 0
            }  # fmt: skip
            made.append(Compact(short, poles, sorted(pairs), no_short))
        return made

    def is_good(self, wires: Set) -> bool:
        """Whether a set meets the demands."""
        ends = [tuple(sorted(wire)) for wire in sorted(wires, key=sorted)]
        for k, labels in enumerate(self.start):
            for a, b in ends:
                labels = merge(labels, a, b)
            positions, _, live, no_short = self.states[k]
            if no_short and self._is_shorted(labels):
                return False
            if live and not self._is_live(labels, positions):
                return False
        return all(self._keeps_apart(labels, ends) for labels in self.apart)

    def _is_shorted(self, labels: Labels) -> bool:
        supplies = self.layout.supplies
        if any(labels[s.plus] == labels[s.minus] for s in supplies):
            return True
        return any(  # A+ on B- and A- on B+: twice the volts, round a loop
            labels[one.plus] == labels[two.minus] and labels[one.minus] == labels[two.plus]
            for one, two in combinations(supplies, 2)
        )

    def _is_live(self, labels: Labels, positions: Sequence[int]) -> bool:
        return all(
            self._is_worth(labels, span.left, span.right, self._is_crossing(route))
            for route in self.layout.routes
            if all(positions[p.lever] == p.position for p in route.points)
            for span in route.spans
            if span.left >= 0 and span.right >= 0
        )

    def _is_worth(self, labels: Labels, left: int, right: int, crossing: bool) -> bool:
        if self._is_shorted(labels):
            return False
        poles = [
            {(n, sign) for n, s in enumerate(self.layout.supplies)
             for sign, node in (("+", s.plus), ("-", s.minus)) if labels[node] == labels[rail]}
            for rail in (left, right)
        ]  # fmt: skip
        if labels[left] == labels[right] or not poles[0] or not poles[1]:
            return False
        fed = [{n for n, _ in found} for found in poles]
        return bool(fed[0] & fed[1]) or crossing

    def _is_crossing(self, route) -> bool:  # type: ignore[no-untyped-def]
        """From the rails of one loop to those of another."""
        home = {n: d.name for d in self.layout.districts for n in d.nodes}
        ends = [{home.get(s.left), home.get(s.right)} - {None} for s in route.spans]
        return bool(ends[0] and ends[-1] and ends[0] != ends[-1])

    def _keeps_apart(self, labels: Labels, ends: Sequence[tuple[int, ...]]) -> bool:
        for a, b in ends:
            # a group may fall apart when feeders are lifted: all of its pads' rails count
            labels = merge(labels, self._rail(a), self._rail(b))
        home: dict[int, str] = {}
        for d in self.layout.districts:
            for n in d.nodes:
                if home.setdefault(labels[n], d.name) != d.name:
                    return False
        return True

    def _rail(self, group: int) -> int:
        """The first rail of a group: feeders only ever join a pole to one rail here."""
        return next(n for n, g in enumerate(self.group) if g == group)


def merge(labels: Labels, a: int, b: int) -> Labels:
    """``labels`` with the nets of two nodes made one."""
    low, high = sorted((labels[a], labels[b]))
    return labels if low == high else [low if x == high else x for x in labels]
