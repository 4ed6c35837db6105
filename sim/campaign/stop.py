"""When a campaign has run often enough.

Looks are taken at fixed numbers of replications, never between, and only once all
before them are there; so the answer does not depend on which run ends first.
Stopping at a wanted width keeps the level of the intervals only approximately,
because the width is looked at more than once: Y. S. Chow and H. Robbins, Annals of
Mathematical Statistics 36 (1965), show that it holds as the width shrinks (from
memory).  With few replications an interval can be narrow by luck, hence the least
number.
"""

from __future__ import annotations

from collections.abc import Sequence

from sim.judge import stats
from sim.judge.tally import Tally

#: Replications before the first look, and between looks.
FIRST_LOOK = 20
EVERY = 10


def looks(runs: int) -> list[int]:
    """Numbers of replications at which to look; the last is ``runs``."""
    return [*range(FIRST_LOOK, runs, EVERY), runs]


def widest(results: Sequence[Sequence[Tally]]) -> float | None:
    """Width of the widest interval of stalled legs per leg, over all random cases.

    ``results`` are the tallies of each case.  None where no case has an interval.
    """
    widths = []
    for tallies in results:
        if len(tallies) < 2:  # nothing in it is random
            continue
        found = stats.rate([len(t.stalled) for t in tallies], [t.legs for t in tallies])
        if found is not None:
            widths.append(round(found.high - found.low, stats.DIGITS))
    return max(widths, default=None)
