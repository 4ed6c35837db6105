"""Stalled legs in 1,000, where a tripped supply kept trains from running any.

A train on a supply that has tripped stands still and runs no leg, so no leg of it can
stall: a fix that shorts everything would read as one that cures every stall.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from sim.judge.comparison import CaseResult


@dataclass(frozen=True, slots=True)
class Stalled:
    """Stalled legs in 1,000 (None without legs), with their interval where there is one.

    ``unrun`` legs are counted as stalled: ``against`` ran them and tripped less often.
    """

    rate: float | None
    low: float | None
    high: float | None
    unrun: int = 0
    against: str = ""


def stalled_legs(results: Sequence[CaseResult]) -> list[Stalled]:
    """For each case; measured against the first of those whose supplies trip least."""
    calm = min(results, key=lambda r: r.trips)
    found = []
    for result in results:
        unrun = calm.legs - result.legs
        if result.trips > calm.trips and unrun > 0:
            rate = _in_1000((result.stalled_legs + unrun) / calm.legs)
            found.append(Stalled(rate, None, None, unrun, calm.name))
        else:
            low, high = _in_1000(result.low), _in_1000(result.high)
            found.append(Stalled(_in_1000(result.stall_rate), low, high))
    return found


def notes_on(names: Sequence[str], found: Sequence[Stalled]) -> list[str]:
    """What was counted so, in words."""
    return [
        f"with '{name}' a supply tripped and {one.unrun} of the legs that were run with "
        f"'{one.against}' never were; they count as stalled"
        for name, one in zip(names, found, strict=True)
        if one.unrun
    ]


def _in_1000(rate: float | None) -> float | None:
    return None if rate is None else round(1000.0 * rate, 3)
