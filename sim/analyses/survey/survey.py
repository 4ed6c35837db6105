"""Every single and double fault in every setting: what dies, what shorts, what joins."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence

import numpy as np

from sim.analyses.survey.harm import Bad, Harm, PartFaults, Survey
from sim.analyses.survey.states import FaultSet, Grid, fault_sets, faults_of, grid
from sim.faults.possible import Fault
from sim.layout.traffic import Case
from sim.power.parts import Part, parts_of
from sim.power.trace import Positions

#: States that one batch traces: more of them slow down by leaving the caches.
BATCH_STATES = 1 << 15
#: States that are traced at most; what is worth reading is far below.
STATES_AT_MOST = 8_000_000

Progress = Callable[[int, int], None]


def survey(
    case: Case,
    depth: int = 1,
    each: bool = False,
    progress: Progress | None = None,
    limit: int = STATES_AT_MOST,
) -> Survey:
    """Trace every fault set of up to ``depth`` faults (1 or 2) in every setting.

    Gangs move together, or with ``each`` every lever by itself.  ``progress`` is
    called with (states done, states in all).  Past ``limit`` states pairs of
    faults are left out, then all faults; ``skipped`` says so.
    """
    parts = parts_of(case, each)
    skipped = [] if parts.skipped is None else [parts.skipped]
    faults = [faults_of(part.layout) for part in parts.parts]
    sizes = [(len(p.own_settings), len(f)) for p, f in zip(parts.parts, faults, strict=True)]
    depth, left_out = _within(sizes, depth, limit)
    total, done = _states(sizes, depth), 0
    found = _Found()
    for part, own in zip(parts.parts, faults, strict=True):
        for states in _survey_part(part, own, depth, found):
            done += states
            if progress is not None:
                progress(done, total)
    return Survey(
        case.scenario,
        case.fix,
        sum(len(p.own_settings) for p in parts.parts),
        total,
        _summed(found.healthy),
        tuple(sorted(found.single, key=lambda h: h.rank)),
        tuple(sorted(found.double, key=lambda h: h.rank)) if depth == 2 else None,
        (*skipped, *left_out),
    )


def _within(
    sizes: Sequence[tuple[int, int]], depth: int, limit: int
) -> tuple[int, tuple[str, ...]]:
    """The depth that stays within ``limit``, and what that leaves out."""
    said = []
    for at, what in ((2, "Pairs of faults are left out"), (1, "All faults are left out")):
        states = _states(sizes, at)
        if depth >= at and states > limit:
            depth = at - 1
            said.append(
                f"{states} states are more than the {limit} that are traced. {what}: ask "
                "about fewer modules at a time."
            )
    return depth, tuple(said)


def _states(sizes: Sequence[tuple[int, int]], depth: int) -> int:
    """States to trace at most, from (settings, faults) of each part."""
    singles = 1 if depth >= 1 else 0
    pairs = 1 if depth >= 2 else 0
    return sum(s * (1 + singles * f + pairs * (f * (f - 1) // 2)) for s, f in sizes)


class _Found:
    """Harms as they are found."""

    def __init__(self) -> None:
        self.healthy: list[Harm] = []
        self.single: list[Harm] = []
        self.double: list[Harm] = []


def _survey_part(
    part: Part, faults: Sequence[Fault], depth: int, found: _Found
) -> Iterator[int]:
    """Fill ``found`` from one part; gives the number of states of each batch."""
    settings = part.own_settings
    finder = PartFaults(part.layout, settings, faults)
    count = len(settings)
    healthy = finder.bad(grid(settings, [()]), with_kinds=True, anyway=True)
    nothing = healthy.map(np.zeros_like)
    found.healthy += finder.harms(healthy, nothing, [()])
    healthy = Bad(nothing.dead, nothing.fresh, [], healthy.short, healthy.joined)
    yield count
    if depth < 1:
        return
    kept = []
    for batch in _batches(settings, [(f,) for f in faults]):
        bad = finder.bad(batch, with_kinds=True)
        found.single += finder.harms(bad, healthy, batch.sets)
        kept.append(bad)
        yield count * len(batch.sets)
    if depth < 2 or not kept:
        return
    alone = _stacked(kept)
    row = {f: q for q, f in enumerate(faults)}
    for batch in _batches(settings, [s for s in fault_sets(faults, 2) if len(s) == 2]):
        either = _either(alone, [(row[f], row[g]) for f, g in batch.sets])
        harms = finder.harms(finder.bad(batch), either, batch.sets)
        found.double += [h for h in harms if h.harms]
        yield count * len(batch.sets)


def _batches(settings: Sequence[Positions], sets: Sequence[FaultSet]) -> Iterator[Grid]:
    size = max(1, BATCH_STATES // len(settings))
    for start in range(0, len(sets), size):
        yield grid(settings, sets[start : start + size])


def _stacked(batches: Sequence[Bad]) -> Bad:
    """The rows of all batches under each other."""
    return Bad(
        [],
        [np.concatenate(rows) for rows in zip(*(b.fresh for b in batches), strict=True)],
        [],
        np.concatenate([b.short for b in batches]),
        {pair: np.concatenate([b.joined[pair] for b in batches]) for pair in batches[0].joined},
    )


def _either(alone: Bad, rows: Sequence[tuple[int, int]]) -> Bad:
    """What is bad with the one fault or the other, each by itself."""
    first = [f for f, _ in rows]
    second = [g for _, g in rows]
    return alone.map(lambda blocks: blocks[first] | blocks[second])


def _summed(harms: Sequence[Harm]) -> Harm:
    """What is wrong without faults, all parts together."""
    return Harm(
        faults=(),
        lost=sum(h.lost for h in harms),
        short=sum(h.short for h in harms),
        joined=sum(h.joined for h in harms),
        dead=sum(h.dead for h in harms),
        shorted=sum(h.shorted for h in harms),
        routes_lost=sum(h.routes_lost for h in harms),
        routes=tuple(r for h in harms for r in h.routes),
        supplies=tuple(pair for h in harms for pair in h.supplies),
    )
