"""What a pair of rails is worth, given which poles their nets contain.

Every supply is an ideal voltage between its two poles.  Nets that contain poles
are joined by supplies into islands; within an island potentials are known, and
a loop of supplies whose voltages do not cancel is a short.  All of this depends
only on which poles share a net, so it is worked out once per such pattern.

Poles are numbered ``2 * supply`` (plus) and ``2 * supply + 1`` (minus).  A
*pattern* gives for each pole the lowest pole that shares its net.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import Literal, cast

from sim.layout.model import Supply
from sim.records.model import Kind

Pattern = tuple[int, ...]

#: A kind of dead, or "short", or None for live.
Verdict = Kind | Literal["short"] | None

#: Two potentials are equal when they differ by less than this (V). Supplies are
#: entered to a hundredth of a volt at best, so nothing real lies below it.
SAME_V = 1e-6


@dataclass(frozen=True, slots=True)
class Source:
    """A supply as tracing sees it: ``volts`` from minus to plus, signed; or off."""

    volts: float
    on: bool = True


def sources_of(supplies: Sequence[Supply]) -> tuple[Source, ...]:
    """The supplies' open-circuit voltages, turned where the phase is reversed."""
    return tuple(Source(-s.voltage_v if s.reversed else s.voltage_v) for s in supplies)


@dataclass(frozen=True, slots=True)
class PoleState:
    """Islands and potentials of the nets that contain poles.

    ``island[p]``, ``potential[p]`` (V, relative to the island's first pole) are
    by pole; ``recipe[p]`` tells how the potential is made, as pairs
    (supply, +1 or -1) to be summed; ``shorts`` holds the supplies of each short.
    """

    pattern: Pattern
    island: tuple[int, ...]
    potential: tuple[float, ...]
    recipe: tuple[tuple[tuple[int, int], ...], ...]
    shorts: tuple[tuple[int, ...], ...]
    voltages: tuple[tuple[float, ...], ...]  #: by pole: |volts| of its island's supplies
    sources: tuple[Source, ...]

    def touches_short(self, pole: int) -> bool:
        """Whether the net of ``pole`` contains a pole of a shorted supply."""
        root = self.pattern[pole]
        return any(
            self.pattern[2 * s] == root or self.pattern[2 * s + 1] == root
            for short in self.shorts
            for s in short
        )

    def kind(self, left: int | None, right: int | None) -> Verdict:
        """Why no current flows between two nets, or None when it does (live).

        ``left`` and ``right`` are any pole in the net, None for a net without
        poles.  The order of the tests is the definition: a short takes
        precedence, then floating, same pole, no return, wrong voltage.  What
        would be live or shorted with every supply on is ``tripped``.
        """
        verdict = self._as_it_is(left, right)
        if verdict is None or verdict == "short" or all(s.on for s in self.sources):
            return verdict
        all_on = pole_state(self.pattern, tuple(Source(s.volts) for s in self.sources))
        return "tripped" if all_on.kind(left, right) in (None, "short") else verdict

    def _as_it_is(self, left: int | None, right: int | None) -> Verdict:
        if (left is not None and self.touches_short(left)) or (
            right is not None and self.touches_short(right)
        ):
            return "short"
        if left is None or right is None:
            return "floating"
        if self.pattern[left] == self.pattern[right]:
            return "same pole"
        if self.island[left] != self.island[right]:
            return "no return"
        volts = abs(self.potential[left] - self.potential[right])
        if volts < SAME_V:
            return "same pole"
        if not any(abs(volts - v) < SAME_V for v in self.voltages[left]):
            return "wrong voltage"
        return None

    def steps(self, left: int, right: int) -> tuple[tuple[int, int], ...]:
        """Supplies to sum for the voltage left minus right: (supply, sign) pairs."""
        total: dict[int, int] = {}
        for pole, sign in ((left, 1), (right, -1)):
            for supply, s in self.recipe[pole]:
                total[supply] = total.get(supply, 0) + sign * s
        return tuple((s, n) for s, n in sorted(total.items()) if n)


@lru_cache(maxsize=4096)
def pole_state(pattern: Pattern, sources: tuple[Source, ...]) -> PoleState:
    """Work out islands, potentials and shorts for one pattern of joined poles."""
    island: dict[int, int] = {}
    potential: dict[int, float] = {}
    recipe: dict[int, tuple[tuple[int, int], ...]] = {}
    for net in sorted(set(pattern)):
        if net not in island:
            number = len(set(island.values()))
            _spread(net, number, pattern, sources, island, potential, recipe)
    by_island: dict[int, set[float]] = {}
    for s, source in enumerate(sources):
        if source.on:
            by_island.setdefault(island[pattern[2 * s]], set()).add(abs(source.volts))
    return PoleState(
        pattern,
        tuple(island[r] for r in pattern),
        tuple(potential[r] for r in pattern),
        tuple(recipe[r] for r in pattern),
        _shorts(pattern, sources, potential),
        tuple(tuple(sorted(by_island.get(island[r], ()))) for r in pattern),
        sources,
    )


def _spread(
    start: int,
    number: int,
    pattern: Pattern,
    sources: tuple[Source, ...],
    island: dict[int, int],
    potential: dict[int, float],
    recipe: dict[int, tuple[tuple[int, int], ...]],
) -> None:
    """Give island, potential and recipe to every net that supplies join to ``start``."""
    island[start], potential[start], recipe[start] = number, 0.0, ()
    todo = [start]
    while todo:
        net = todo.pop(0)
        for s, source in enumerate(sources):
            if not source.on:
                continue
            plus, minus = pattern[2 * s], pattern[2 * s + 1]
            for here, there, sign in ((minus, plus, 1), (plus, minus, -1)):
                if here == net and there not in island:
                    island[there] = number
                    potential[there] = potential[net] + sign * source.volts
                    recipe[there] = (*recipe[net], (s, sign))
                    todo.append(there)


def _shorts(
    pattern: Pattern, sources: tuple[Source, ...], potential: dict[int, float]
) -> tuple[tuple[int, ...], ...]:
    """Supplies with both poles in one net, and loops whose voltages do not cancel.

    Such a loop lies within one biconnected block; every supply of the block
    shares the fault current, so the whole block counts.
    """
    own = [s for s, x in enumerate(sources) if x.on and pattern[2 * s] == pattern[2 * s + 1]]
    rest = [s for s, x in enumerate(sources) if x.on and s not in own]
    shorts: list[tuple[int, ...]] = [(s,) for s in own]
    wrong = {s for s in rest if _residue(s, pattern, sources, potential) > SAME_V}
    for block in _blocks({(pattern[2 * s], pattern[2 * s + 1]) for s in rest}) if wrong else ():
        loop = [s for s in rest if pattern[2 * s] in block and pattern[2 * s + 1] in block]
        if wrong.intersection(loop):
            shorts.append(tuple(loop))
    return tuple(sorted(shorts))


def _blocks(edges: set[tuple[int, int]]) -> Iterable[set[int]]:
    """The biconnected blocks of a graph; its library is loaded only for this rare case."""
    import networkx as nx

    return cast(Iterable[set[int]], nx.biconnected_components(nx.Graph(sorted(edges))))


def _residue(
    s: int, pattern: Pattern, sources: tuple[Source, ...], potential: dict[int, float]
) -> float:
    """Volts by which supply ``s`` disagrees with the potentials of its nets."""
    across = potential[pattern[2 * s]] - potential[pattern[2 * s + 1]]
    return abs(across - sources[s].volts)
