"""Trace a list of settings: which poles reach what, and what that makes of a pair of rails.

Why a route is not live, of whatever truth is made.
"""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from itertools import chain
from typing import Generic

from sim.layout.model import PLASTIC, Clause, Layout, Route
from sim.power.bit_reach import T, bits_of, reach_all, spread_all
from sim.power.poles import Pattern, PoleState, Source, Verdict, pole_state, sources_of
from sim.power.wiring import Wiring, wire

Positions = tuple[int, ...]

#: By position: the digit 1 for that byte, 0 for any other.
_ONE_AT = [bytes(49 if b == p else 48 for b in range(256)) for p in range(256)]


@dataclass(slots=True)
class Traced(Generic[T]):
    """Answers for many settings at once, a bit for each (see :mod:`sim.power.bit_reach`).

    ``reach[p][c]``: settings in which pole ``p`` reaches cluster ``c``.
    ``patterns``: for each pattern of joined poles, the settings that have it.
    ``off``: settings in which a supply gives nothing; its wires stay joined at its poles.
    Where truth is not whole numbers, read "when" for "settings in which".
    """

    layout: Layout
    wiring: Wiring
    sources: tuple[Source, ...]
    settings: tuple[Positions, ...]
    all_bits: T
    contact_bits: dict[int, T]
    reach: list[list[T]]
    patterns: dict[Pattern, T]
    off: Mapping[int, T] = field(default_factory=dict)
    _verdicts: dict[tuple[int, int], dict[Verdict, T]] = field(default_factory=dict)

    @property
    def no_bits(self) -> T:
        """No setting at all."""
        return self.all_bits & ~self.all_bits

    def states(self) -> list[tuple[PoleState, T]]:
        """Each pattern's islands and potentials, with the settings that have it."""
        found = []
        for pattern, bits in self.patterns.items():
            for sources, here in self._given(bits):
                found.append((pole_state(pattern, sources), here))
        return found

    def _given(self, bits: T) -> list[tuple[tuple[Source, ...], T]]:
        """``bits`` split by what the supplies give."""
        rows = [(self.sources, bits)]
        for supply, off in self.off.items():
            split = []
            for sources, here in rows:
                given = sources[supply]
                without = *sources[:supply], replace(given, on=False), *sources[supply + 1 :]
                split += [(sources, here & ~off), (without, here & off)]
            rows = [(sources, here) for sources, here in split if here]
        return rows

    def short_bits(self) -> T:
        """Settings in which any supply is shorted."""
        found = self.no_bits
        for state, bits in self.states():
            if state.shorts:
                found = found | bits
        return found

    def poles_at(self: Traced[int], node: int, setting: int) -> list[int]:
        """Poles whose net contains ``node`` in setting number ``setting``."""
        cluster = self.wiring.cluster_of[node]
        return [p for p, row in enumerate(self.reach) if row[cluster] >> setting & 1]

    def verdicts(self, left: int, right: int) -> dict[Verdict, T]:
        """For each verdict on a pair of nodes, the settings in which it holds.

        Either node may be :data:`PLASTIC`: the verdict is then ``insulated``,
        in every setting.  The bits of all verdicts are disjoint and cover all.
        """
        if PLASTIC in (left, right):
            return {"insulated": self.all_bits}
        a, b = self.wiring.cluster_of[left], self.wiring.cluster_of[right]
        known = self._verdicts.get((a, b))
        if known is None:
            known = self._verdicts[a, b] = self._judge(a, b)
        return known

    def _judge(self, a: int, b: int) -> dict[Verdict, T]:
        found: dict[Verdict, T] = {}
        for state, bits in self.states():
            rows = self._by_net(state.pattern, a, bits)
            for right, right_bits in self._by_net(state.pattern, b, bits):
                for left, left_bits in rows:
                    both = left_bits & right_bits
                    if both:
                        verdict = state.kind(left, right)
                        known = found.get(verdict)
                        found[verdict] = both if known is None else known | both
        return found

    def _by_net(self, pattern: Pattern, cluster: int, bits: T) -> list[tuple[int | None, T]]:
        """Split ``bits`` by the net with poles that ``cluster`` belongs to, if any."""
        rows: list[tuple[int | None, T]] = []
        rest = bits
        for pole, root in enumerate(pattern):
            if pole == root:
                here = self.reach[pole][cluster] & bits
                rest = rest & ~here
                if here:
                    rows.append((pole, here))
        if rest:
            rows.append((None, rest))
        return rows


def trace(
    layout: Layout, settings: Sequence[Positions], failed: Collection[int] = ()
) -> Traced[int]:
    """Trace every setting in ``settings`` (position index by lever; -1: moving)."""
    all_bits = (1 << len(settings)) - 1
    literal = literal_bits(layout, settings)
    contacts = {
        i: closed_bits(e.when, literal, all_bits)
        for i, e in enumerate(layout.elements)
        if e.kind == "contact" and i not in failed
    }
    return trace_closed(layout, wire(layout, failed), contacts, all_bits, settings)


def trace_closed(
    layout: Layout,
    wiring: Wiring,
    closed: Mapping[int, T],
    all_bits: T,
    settings: Sequence[Positions] = (),
    one_by_one: bool = False,
    off: Mapping[int, T] | None = None,
) -> Traced[T]:
    """Trace states in which each element that can change is closed as ``closed`` says.

    ``closed`` is by element, for contacts and for permanent elements that
    ``wiring`` keeps apart; others that it keeps apart count as open.  With
    ``one_by_one`` nodes are eliminated, which suits decision diagrams.  ``off`` gives
    the states in which a supply is off.
    """
    edges = [
        (wiring.cluster_of[layout.elements[i].a], wiring.cluster_of[layout.elements[i].b], bits)
        for i, bits in closed.items()
    ]
    sources = [wiring.terminal_clusters[t] for t in wiring.terminal_of]
    find = reach_all if one_by_one else spread_all
    reach = find(len(layout.nodes), edges, sources, all_bits)
    patterns = _patterns(reach, sources, all_bits)
    return Traced(
        layout,
        wiring,
        sources_of(layout.supplies),
        tuple(settings),
        all_bits,
        dict(closed),
        reach,
        patterns,
        dict(off or {}),
    )


def closed_bits(when: Sequence[Clause], literal: Mapping[tuple[int, int], T], all_bits: T) -> T:
    """When a contact is closed, from when each (lever, position) holds."""
    found = all_bits & ~all_bits
    for clause in when:
        held = all_bits
        for needed in clause:
            held = held & literal[needed] if needed in literal else held & ~held
        found = found | held
    return found


def literal_bits(layout: Layout, settings: Sequence[Positions]) -> dict[tuple[int, int], int]:
    """For each (lever, position), the settings that have it; none for any other."""
    count = len(layout.levers)
    try:  # every step runs in C: thousands of settings in the time of a few Python steps
        table = bytes(chain.from_iterable(settings))
    except ValueError:  # a lever that moves, or one of very many positions
        columns = [(x, [s[x] for s in settings]) for x in range(count)]
        return {
            (x, p): bits_of([here == p for here in column])
            for x, column in columns
            for p in sorted(set(column))
        }
    backward = table[::-1]  # the first setting must end up in the lowest bit
    return {
        (x, p): int(column.translate(_ONE_AT[p]), 2)
        for x in range(count)
        for column in [backward[count - 1 - x :: count]]
        for p in sorted(set(column))
    }


def _patterns(reach: list[list[T]], sources: list[int], all_bits: T) -> dict[Pattern, T]:
    """Split the settings by which poles share a net."""
    found: dict[Pattern, T] = {(): all_bits}
    for pole, cluster in enumerate(sources):
        split: dict[Pattern, T] = {}
        for pattern, bits in found.items():
            rest = bits
            for root in dict.fromkeys(pattern):
                here = rest & reach[root][cluster]
                if here:
                    split[*pattern, root] = here
                    rest = rest & ~here
            if rest:
                split[*pattern, pole] = rest
        found = split
    return found


def why_not_live(traced: Traced[T], route: Route) -> Iterator[dict[Verdict, T]]:
    """For each pair of rails along ``route``: by verdict but live, when it holds.

    Pairs come in the order of the route, each once, so that two tracings of one
    route can be compared place by place.  Where one side is plastic only a short
    under the other wheel counts.  A route without any metal is never dead by
    this, since no supply could make it live.
    """
    for left, right in dict.fromkeys((s.left, s.right) for s in route.spans):
        if left == right == PLASTIC:
            continue
        one_sided = PLASTIC in (left, right)
        metal = max(left, right)
        verdicts = traced.verdicts(metal, metal) if one_sided else traced.verdicts(left, right)
        yield {
            v: when
            for v, when in verdicts.items()
            if v is not None and (not one_sided or v == "short")
        }
