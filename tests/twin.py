"""A slow, independent answer to: which rails are joined, and what comes of it?

It reads nothing but descriptions, a :class:`~sim.pieces.model.Piece` or a
:class:`~sim.layout.model.Layout`, and merges sets until nothing changes, so that
it shares no code with what is under test.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from itertools import permutations, product

from sim.layout.model import PLASTIC, Layout
from sim.pieces.model import Piece


def nets(
    piece: Piece,
    setting: Mapping[str, str],
    extra_joins: Iterable[tuple[str, str]] = (),
    open_contacts: Iterable[str] = (),
) -> list[set[str]]:
    """Sets of sections that are one node electrically, in the order of the sections.

    ``setting`` gives the position of every lever (``moving`` closes nothing);
    ``extra_joins`` are jumpers; ``open_contacts`` are contacts that have failed.
    """
    joins = [(bond.a, bond.b) for bond in piece.bonds]
    joins += list(extra_joins)
    failed = set(open_contacts)
    for contact in piece.contacts:
        closed = any(
            all(setting[lever] == position for lever, position in clause)
            for clause in contact.when
        )
        if closed and contact.name not in failed:
            joins.append((contact.a, contact.b))
    groups = [{section.name} for section in piece.sections]
    changed = True
    while changed:
        changed = False
        for a, b in joins:
            first = next(group for group in groups if a in group)
            second = next(group for group in groups if b in group)
            if first is not second:
                first |= second
                groups.remove(second)
                changed = True
    return groups


def poles(
    piece: Piece,
    setting: Mapping[str, str],
    feeders: Mapping[str, str],
    extra_joins: Iterable[tuple[str, str]] = (),
    open_contacts: Iterable[str] = (),
) -> dict[str, str]:
    """Which pole every section has: its name, ``floating``, or ``short``.

    ``feeders`` maps sections to poles, two different poles of one net are a
    short; so this is for pieces on one supply, or for shorts of any kind.
    """
    found: dict[str, str] = {}
    for group in nets(piece, setting, extra_joins, open_contacts):
        reached = {pole for section, pole in feeders.items() if section in group}
        state = "short" if len(reached) > 1 else next(iter(reached), "floating")
        found.update(dict.fromkeys(group, state))
    return found


# -- a whole layout ------------------------------------------------------------


class LayoutTwin:
    """Brute force on a layout in one state: nets, poles, potentials, kinds of dead.

    ``closed`` are the elements that conduct, ``joins`` lists of nodes that
    vehicles join, ``off`` the supplies that are off, ``turned`` those whose
    direction is reversed.  Everything is worked out anew, place by place.
    """

    def __init__(
        self,
        layout: Layout,
        closed: Iterable[int],
        joins: Iterable[Sequence[int]] = (),
        off: Iterable[int] = (),
        turned: Iterable[int] = (),
    ) -> None:
        self.layout = layout
        self.off, self.turned = frozenset(off), frozenset(turned)
        pairs = [(layout.elements[i].a, layout.elements[i].b) for i in closed]
        pairs += [(group[0], other) for group in joins for other in group[1:]]
        self.net = _merged(len(layout.nodes), pairs)
        self._live = [s for s in range(len(layout.supplies)) if s not in self.off]

    def pole_net(self, pole: int) -> int:
        """Net of pole number ``pole``: 2 per supply, plus first."""
        supply = self.layout.supplies[pole // 2]
        return self.net[supply.minus if pole % 2 else supply.plus]

    def volts(self, supply: int) -> float:
        """Volts from minus to plus, signed."""
        it = self.layout.supplies[supply]
        return it.voltage_v * (-1 if it.reversed else 1) * (-1 if supply in self.turned else 1)

    def poles_of(self, net: int) -> list[int]:
        """Poles in a net."""
        return [p for p in range(2 * len(self.layout.supplies)) if self.pole_net(p) == net]

    def fed_by(self, node: int) -> list[str]:
        """Names of the poles that reach ``node``."""
        poles = self.poles_of(self.net[node])
        return [f"{self.layout.supplies[p // 2].name}{'+-'[p % 2]}" for p in poles]

    def shorted(self) -> set[int]:
        """Supplies in a loop, of themselves or of several, whose volts do not cancel."""
        found = set()
        for size in range(1, len(self._live) + 1):
            for loop in permutations(self._live, size):
                for ways in product((1, -1), repeat=size):
                    found |= set(loop) if self._is_bad(loop, ways) else set()
        return found

    def _is_bad(self, loop: Sequence[int], ways: Sequence[int]) -> bool:
        """Whether going through the supplies in turn comes back at another voltage."""
        entry = [self.pole_net(2 * s + (w == 1)) for s, w in zip(loop, ways, strict=True)]
        leave = [self.pole_net(2 * s + (w == -1)) for s, w in zip(loop, ways, strict=True)]
        if len(set(entry)) < len(entry) or leave != entry[1:] + entry[:1]:
            return False
        total = sum(w * self.volts(s) for s, w in zip(loop, ways, strict=True))
        return len(loop) == 1 or abs(total) > 1e-6

    def potentials(self, start: int) -> dict[int, float]:
        """Volts of every net of the island of net ``start``, above ``start``."""
        found = {start: 0.0}
        grown = True
        while grown:
            grown = False
            for s in self._live:
                plus, minus = self.pole_net(2 * s), self.pole_net(2 * s + 1)
                if plus in found and minus not in found:
                    found[minus], grown = found[plus] - self.volts(s), True
                elif minus in found and plus not in found:
                    found[plus], grown = found[minus] + self.volts(s), True
        return found

    def kind(self, left: int, right: int) -> str | None:
        """Why nothing runs between two nodes, ``short``, or None for live."""
        if PLASTIC in (left, right):
            return "insulated"
        kind = self._kind(self.net[left], self.net[right])
        if kind in (None, "short") or not self.off:
            return kind
        all_on = LayoutTwin.__new__(LayoutTwin)
        all_on.layout, all_on.off, all_on.turned = self.layout, frozenset(), self.turned
        all_on.net, all_on._live = self.net, list(range(len(self.layout.supplies)))
        on = all_on._kind(self.net[left], self.net[right])
        return "tripped" if on in (None, "short") else kind

    def _kind(self, left: int, right: int) -> str | None:
        shorted = {self.pole_net(p) for s in self.shorted() for p in (2 * s, 2 * s + 1)}
        if {left, right} & shorted:
            return "short"
        if not self.poles_of(left) or not self.poles_of(right):
            return "floating"
        if left == right:
            return "same pole"
        potential = self.potentials(left)
        if right not in potential:
            return "no return"
        between = abs(potential[right])
        if between < 1e-6:
            return "same pole"
        own = [abs(self.volts(s)) for s in self._live if self.pole_net(2 * s) in potential]
        return None if any(abs(between - v) < 1e-6 for v in own) else "wrong voltage"


def _merged(count: int, pairs: Sequence[tuple[int, int]]) -> list[int]:
    """The lowest node that each node is joined to."""
    lowest = list(range(count))
    changed = True
    while changed:
        changed = False
        for a, b in pairs:
            low = min(lowest[a], lowest[b])
            if lowest[a] != low or lowest[b] != low:
                lowest[a] = lowest[b] = low
                changed = True
    return lowest


def closed_in(
    layout: Layout, positions: Sequence[int], failed: Iterable[int] = ()
) -> list[int]:
    """Elements that conduct with the levers at ``positions`` (-1: moving)."""
    out = set(failed)
    found = []
    for i, e in enumerate(layout.elements):
        made = any(all(positions[x] == p for x, p in clause) for clause in e.when)
        if i not in out and e.kind != "gap" and (e.kind != "contact" or made):
            found.append(i)
    return found
