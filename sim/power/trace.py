"""Trace a list of settings: which poles reach what, and what that makes of a pair of rails."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass, field
from functools import reduce
from operator import or_

from sim.layout.model import PLASTIC, Layout
from sim.power.batch import spread_all
from sim.power.poles import Pattern, PoleState, Source, Verdict, pole_state, sources_of
from sim.power.wiring import Wiring, wire

Positions = tuple[int, ...]


@dataclass(slots=True)
class Traced:
    """Answers for many settings at once, a bit for each (see :mod:`sim.power.batch`).

    ``reach[p][c]``: settings in which pole ``p`` reaches cluster ``c``.
    ``patterns``: for each pattern of joined poles, the settings that have it.
    """

    layout: Layout
    wiring: Wiring
    sources: tuple[Source, ...]
    settings: tuple[Positions, ...]
    all_bits: int
    contact_bits: dict[int, int]
    reach: list[list[int]]
    patterns: dict[Pattern, int]
    _verdicts: dict[tuple[int, int], dict[Verdict, int]] = field(default_factory=dict)

    def states(self) -> list[tuple[PoleState, int]]:
        """Each pattern's islands and potentials, with the settings that have it."""
        return [(pole_state(p, self.sources), bits) for p, bits in self.patterns.items()]

    def short_bits(self) -> int:
        """Settings in which any supply is shorted."""
        return reduce(or_, (bits for state, bits in self.states() if state.shorts), 0)

    def poles_at(self, node: int, setting: int) -> list[int]:
        """Poles whose net contains ``node`` in setting number ``setting``."""
        cluster = self.wiring.cluster_of[node]
        return [p for p, row in enumerate(self.reach) if row[cluster] >> setting & 1]

    def verdicts(self, left: int, right: int) -> dict[Verdict, int]:
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

    def _judge(self, a: int, b: int) -> dict[Verdict, int]:
        found: dict[Verdict, int] = {}
        for state, bits in self.states():
            rows = self._by_net(state.pattern, a, bits)
            for right, right_bits in self._by_net(state.pattern, b, bits):
                for left, left_bits in rows:
                    both = left_bits & right_bits
                    if both:
                        verdict = state.kind(left, right)
                        found[verdict] = found.get(verdict, 0) | both
        return found

    def _by_net(
        self, pattern: Pattern, cluster: int, bits: int
    ) -> list[tuple[int | None, int]]:
        """Split ``bits`` by the net with poles that ``cluster`` belongs to, if any."""
        rows: list[tuple[int | None, int]] = []
        rest = bits
        for pole, root in enumerate(pattern):
            if pole == root:
                here = self.reach[pole][cluster] & bits
                rest &= ~here
                if here:
                    rows.append((pole, here))
        if rest:
            rows.append((None, rest))
        return rows


def trace(
    layout: Layout, settings: Sequence[Positions], failed: Collection[int] = ()
) -> Traced:
    """Trace every setting in ``settings`` (position index by lever; -1: moving)."""
    wiring = wire(layout, failed)
    all_bits = (1 << len(settings)) - 1
    literal = _literal_bits(layout, settings)
    contacts: dict[int, int] = {}
    edges = []
    for i, e in enumerate(layout.elements):
        if e.kind != "contact" or i in failed:
            continue
        bits = 0
        for clause in e.when:
            held = all_bits
            for needed in clause:
                held &= literal.get(needed, 0)
            bits |= held
        contacts[i] = bits
        edges.append((wiring.cluster_of[e.a], wiring.cluster_of[e.b], bits))
    sources = [wiring.terminal_clusters[t] for t in wiring.terminal_of]
    reach = spread_all(len(layout.nodes), edges, sources, all_bits)
    patterns = _patterns(reach, sources, all_bits)
    return Traced(
        layout,
        wiring,
        sources_of(layout.supplies),
        tuple(settings),
        all_bits,
        contacts,
        reach,
        patterns,
    )


def _literal_bits(layout: Layout, settings: Sequence[Positions]) -> dict[tuple[int, int], int]:
    """For each (lever, position), the settings that have it."""
    bits: dict[tuple[int, int], int] = {}
    for lever in range(len(layout.levers)):
        column: dict[int, list[str]] = {}
        for k, positions in enumerate(settings):
            row = column.get(positions[lever])
            if row is None:
                row = column[positions[lever]] = ["0"] * len(settings)
            row[-1 - k] = "1"
        for position, row in column.items():
            bits[lever, position] = int("".join(row), 2)
    return bits


def _patterns(reach: list[list[int]], sources: list[int], all_bits: int) -> dict[Pattern, int]:
    """Split the settings by which poles share a net."""
    found: dict[Pattern, int] = {(): all_bits}
    for pole, cluster in enumerate(sources):
        split: dict[Pattern, int] = {}
        for pattern, bits in found.items():
            rest = bits
            for root in dict.fromkeys(pattern):
                here = rest & reach[root][cluster]
                if here:
                    split[*pattern, root] = here
                    rest &= ~here
            if rest:
                split[*pattern, pole] = rest
        found = split
    return found
