"""What each fault harms: bits by fault set and setting, and what they come to.

What a survey of faults comes to: inert results, ready for pages.

What is bad in each state: bytes by fault set and setting, and how they are counted.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from itertools import combinations

import numpy as np
from numpy.typing import NDArray

from sim.analyses.survey.states import Blocks, FaultSet, FaultTracer, Grid, grid
from sim.faults.possible import Fault
from sim.layout.model import Layout, Route
from sim.power.poles import Verdict
from sim.power.settings import SettingWords, setting_words
from sim.power.trace import Positions, Traced, literal_bits, why_not_live


@dataclass(frozen=True, slots=True)
class RouteHarm:
    """A route that a fault makes dead or shorted although the levers ask for it.

    ``kinds`` are the kinds of dead met on it, or ``short``; ``settings`` in how
    many settings; ``example`` one of them.
    """

    route: str
    kinds: tuple[str, ...]
    settings: int
    example: SettingWords


@dataclass(frozen=True, slots=True)
class Harm:
    """What one fault set adds to what is wrong anyway.

    ``lost`` counts routes that the levers are set for and of which some place dies
    that is live without the fault, over all settings: in three settings it counts
    three times.  ``short`` counts settings with a short, ``joined`` settings in
    which supplies are joined, that have none without the fault.  Of two faults
    only what neither does alone counts.  ``routes`` are the first of
    ``routes_lost`` different routes; ``supplies`` the pairs joined.

    ``dead`` and ``shorted`` count all routes that are not live and all settings
    with a short under the fault, those included that were so anyway.
    """

    faults: FaultSet
    lost: int
    short: int
    joined: int
    dead: int
    shorted: int
    routes_lost: int = 0
    routes: tuple[RouteHarm, ...] = ()
    supplies: tuple[tuple[str, str], ...] = ()

    @property
    def harms(self) -> bool:
        """Whether it adds anything bad."""
        return bool(self.lost or self.short or self.joined)

    @property
    def rank(self) -> tuple[int, int, int]:
        """Sorts the most harmful first."""
        return -self.lost, -self.short, -self.joined

    @property
    def id(self) -> str:
        """Names the fault set."""
        return " + ".join(f.id for f in self.faults)


@dataclass(frozen=True, slots=True)
class Survey:
    """One case under every fault.

    ``healthy`` tells what is wrong without any, ``single`` each fault most
    harmful first, ``double`` only those pairs that do together what neither does
    alone; None when they were not asked for.  ``settings`` and ``states`` count
    what was traced; ``skipped`` says what was left out.
    """

    scenario: str
    fix: str | None
    settings: int
    states: int
    healthy: Harm
    single: tuple[Harm, ...]
    double: tuple[Harm, ...] | None
    skipped: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Toll:
    """All that is wrong under a fault, what was wrong without it included."""

    dead: int  #: routes asked for and not live, over all settings
    short: int  #: settings with a short


@dataclass(frozen=True, slots=True)
class Change:
    """One fault as built and with a fix; ``before`` or ``after`` is None without the part.

    The tolls count what was wrong anyway, so that a fix which makes a dead rail
    live is not blamed for giving a fault something to kill.
    """

    fault: Fault
    before: Harm | None
    after: Harm | None
    toll_before: Toll
    toll_after: Toll

    @property
    def worse(self) -> bool:
        """Under this fault more is wrong with the fix than as built."""
        return (
            self.toll_after.dead > self.toll_before.dead
            or self.toll_after.short > self.toll_before.short
        )

    @property
    def cured(self) -> bool:
        """It harmed as built, and adds nothing to what is wrong with the fix."""
        harmed = self.before is not None and self.before.harms
        harms = self.after is not None and self.after.harms
        return harmed and not harms and not self.worse


@dataclass(frozen=True, slots=True)
class FixChange:
    """As built against one fix: the faults that no longer harm, and those that got worse."""

    fix: str
    before: Survey
    after: Survey
    cured: tuple[Change, ...]
    worse: tuple[Change, ...]


def changes(before: Survey, after: Survey) -> FixChange:
    """What the fix of ``after`` changes, fault by fault, the greatest changes first."""
    was = {h.faults[0].id: h for h in before.single}
    now = {h.faults[0].id: h for h in after.single}
    found = []
    for key in dict.fromkeys([*now, *was]):
        old, new = was.get(key), now.get(key)
        fault = next(h for h in (new, old) if h is not None).faults[0]
        tolls = _toll(old or before.healthy), _toll(new or after.healthy)
        found.append(Change(fault, old, new, *tolls))
    found.sort(key=_gain)
    return FixChange(
        after.fix or "",
        before,
        after,
        tuple(c for c in found if c.cured),
        tuple(reversed([c for c in found if c.worse])),
    )


def _toll(harm: Harm) -> Toll:
    return Toll(harm.dead, harm.shorted)


def _gain(change: Change) -> tuple[int, int, str]:
    before, after = change.toll_before, change.toll_after
    return after.short - before.short, after.dead - before.dead, change.fault.id


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
