"""What is bad in each state: bytes by fault set and setting, and how they are counted."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from itertools import combinations

import numpy as np
from numpy.typing import NDArray

from sim.faults.harm import Harm, RouteHarm
from sim.faults.model import Fault, FaultSet
from sim.faults.states import Blocks, FaultTracer, Grid, grid
from sim.layout.model import Layout, Route
from sim.power.poles import Verdict
from sim.power.setting_words import setting_words
from sim.power.trace import Positions, Traced, literal_bits
from sim.power.unlive import why_not_live

#: Routes that are told of each fault set.
ROUTES_TOLD = 40

_COUNT = np.array([b.bit_count() for b in range(256)], np.int64)
Counts = NDArray[np.int64]
Pair = tuple[str, str]


@dataclass(slots=True)
class Bad:
    """What is bad, as bytes of shape (fault sets, width).

    ``dead``: by route, the levers are set for it and it is not live.  ``fresh``:
    some place of it that is live without faults is not; ``kinds`` splits that by
    verdict, where it was asked for.  ``short``: some supply is shorted.
    ``joined``: by pair of supplies, rails or wires join them.
    """

    dead: list[Blocks]
    fresh: list[Blocks]
    kinds: list[dict[Verdict, Blocks]]
    short: Blocks
    joined: dict[Pair, Blocks]

    def map(self, change: Callable[[Blocks], Blocks]) -> Bad:
        """``change`` done to all, kinds left out."""
        joined = {pair: change(b) for pair, b in self.joined.items()}
        dead, fresh = [change(b) for b in self.dead], [change(b) for b in self.fresh]
        return Bad(dead, fresh, [], change(self.short), joined)


class PartFaults:
    """Finds what is bad in settings of a layout, or of a part that is on its own."""

    def __init__(
        self, layout: Layout, settings: Sequence[Positions], faults: Sequence[Fault]
    ) -> None:
        self.layout, self.settings = layout, tuple(settings)
        self._tracer = FaultTracer(layout, faults)
        self._commons = any(e.kind == "common" for e in layout.elements)
        literal = literal_bits(layout, settings)
        every = (1 << len(settings)) - 1
        self._asked = [_asked(route, literal, every) for route in layout.routes]
        none = self._tracer.trace(grid(settings, [()]))
        #: by route and place: settings in which it is not live without any fault
        self._anyway = [
            [_any(bad) for bad in why_not_live(none, route)] for route in layout.routes
        ]

    def bad(self, states: Grid, with_kinds: bool = False, anyway: bool = False) -> Bad:
        """What is bad in each of ``states``; ``anyway`` calls all of it fresh."""
        traced = self._tracer.trace(states)
        found = Bad([], [], [], states.blocks(traced.short_bits()), {})
        for r, asked in enumerate(self._asked):
            there = states.spread(asked)
            dead = fresh = 0
            kinds: dict[Verdict, int] = {}
            for place, verdicts in enumerate(why_not_live(traced, self.layout.routes[r])):
                known = 0 if anyway else self._anyway[r][place]
                new = there & ~states.spread(known)
                for verdict, bits in verdicts.items():
                    dead |= bits
                    fresh |= bits & new
                    kinds[verdict] = kinds.get(verdict, 0) | (bits & new)
            found.dead.append(states.blocks(dead & there))
            found.fresh.append(states.blocks(fresh))
            if with_kinds:
                found.kinds.append({v: states.blocks(b) for v, b in kinds.items() if b})
        # A common joins supplies on purpose; what counts is whether rails do too.
        apart = self._tracer.trace(states, ("common",)) if self._commons else traced
        found.joined = self._joined(apart, states)
        return found

    def _joined(self, traced: Traced[int], states: Grid) -> dict[Pair, Blocks]:
        cluster = [traced.wiring.terminal_clusters[t] for t in traced.wiring.terminal_of]
        found = {}
        for (a, one), (b, other) in combinations(enumerate(self.layout.supplies), 2):
            bits = 0
            for row in traced.reach[2 * a : 2 * a + 2]:
                bits |= row[cluster[2 * b]] | row[cluster[2 * b + 1]]
            found[one.name, other.name] = states.blocks(bits)
        return found

    # -- counting ---------------------------------------------------------------

    def harms(self, bad: Bad, base: Bad, sets: Sequence[FaultSet]) -> list[Harm]:
        """What each of ``sets`` adds to ``base``, which has as many rows, or one for all."""
        count = len(sets)
        lost, dead, different = (np.zeros(count, np.int64) for _ in range(3))
        told: list[list[RouteHarm]] = [[] for _ in range(count)]
        for n, (blocks, before) in enumerate(zip(bad.fresh, base.fresh, strict=True)):
            added = blocks & ~before
            lost += _counts(added)
            dead += _counts(bad.dead[n])
            rows = np.flatnonzero(added.any(axis=1))
            different[rows] += 1
            kinds = bad.kinds[n] if bad.kinds else {}
            for q in rows.tolist():
                if len(told[q]) < ROUTES_TOLD:
                    told[q].append(self._route_harm(n, kinds, added[q], q))
        joined, pairs = _newly_joined(bad, base, count)
        short, shorted = _counts(bad.short & ~base.short), _counts(bad.short)
        return [
            Harm(
                faults=faults,
                lost=int(lost[q]),
                short=int(short[q]),
                joined=int(joined[q]),
                dead=int(dead[q]),
                shorted=int(shorted[q]),
                routes_lost=int(different[q]),
                routes=tuple(told[q]),
                supplies=tuple(pairs[q]),
            )
            for q, faults in enumerate(sets)
        ]

    def _route_harm(
        self, number: int, kinds: dict[Verdict, Blocks], added: NDArray[np.uint8], q: int
    ) -> RouteHarm:
        k = int(np.flatnonzero(np.unpackbits(added, bitorder="little"))[0])
        return RouteHarm(
            self.layout.routes[number].id,
            tuple(str(v) for v, blocks in kinds.items() if (blocks[q] & added).any()),
            int(_COUNT[added].sum()),
            setting_words(self.layout, self.settings[k]),
        )


def _any(verdicts: dict[Verdict, int]) -> int:
    found = 0
    for bits in verdicts.values():
        found |= bits
    return found


def _asked(route: Route, literal: dict[tuple[int, int], int], every: int) -> int:
    """Settings that ask for ``route``, whether or not every lever follows."""
    for point in route.points:
        every &= literal.get((point.lever, point.position), 0)
    return every


def _newly_joined(bad: Bad, base: Bad, count: int) -> tuple[Counts, list[list[Pair]]]:
    """Settings in which any pair of supplies is joined anew, and which pairs."""
    pairs: list[list[Pair]] = [[] for _ in range(count)]
    anew = np.zeros_like(bad.short)
    for pair, blocks in bad.joined.items():
        added = blocks & ~base.joined[pair]
        anew |= added
        for q in np.flatnonzero(added.any(axis=1)).tolist():
            pairs[q].append(pair)
    return _counts(anew), pairs


def _counts(blocks: Blocks) -> Counts:
    """Bits set in each row."""
    counted: Counts = _COUNT[blocks].sum(axis=1)
    return counted
