"""The two places whose reading tells most about which chart is right."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from sim.learn.match import Chart
from sim.learn.subject import Subject
from sim.readings.model import Positions, Reading


@dataclass(frozen=True, slots=True)
class NextPair:
    """Two places to read in one setting, and what that is expected to tell, in bits."""

    positions: Positions
    a: int
    b: int
    bits: float
    joined: float  #: how likely they are joined


def changed(chart: Chart, k: int, a: int, b: int, joined: bool) -> Chart:
    """``chart`` with two places of a setting parted or joined."""
    nets = list(chart[k])
    if joined:
        nets[b] = b  # taken out of its net; whoever named the net after it keeps the name
        if any(n == b for p, n in enumerate(chart[k]) if p != b):
            nets[b] = -1
    else:
        low, high = sorted((nets[a], nets[b]))
        nets = [low if n == high else n for n in nets]
    return (*chart[:k], tuple(nets), *chart[k + 1 :])


def next_pair(
    subject: Subject,
    charts: dict[Chart, float],
    readings: Sequence[Reading],
    skipped: frozenset[tuple[Positions, int, int]],
) -> NextPair | None:
    """The reading that tells most about which chart is right."""
    if len(charts) < 2:
        return None
    weights = np.array(list(charts.values()))
    weights = weights / weights.sum()
    taken = {(r.probe.positions, *sorted((r.probe.a, r.probe.b))) for r in readings} | set(
        skipped
    )
    best: NextPair | None = None
    last = readings[-1].probe.positions if readings else None
    order = sorted(range(len(subject.settings)), key=lambda k: subject.settings[k] != last)
    for k in order:
        nets = np.array([chart[k] for chart in charts])
        same = nets[:, :, None] == nets[:, None, :]
        joined = np.tensordot(weights, same.astype(np.float64), axes=1)
        gains = _binary_bits(np.triu(joined, 1))
        positions = subject.settings[k]
        for flat in np.argsort(-gains, axis=None, kind="stable"):
            a, b = divmod(int(flat), gains.shape[1])
            gain = float(gains[a, b])
            if gain <= 1e-9 or (best is not None and gain <= best.bits + 1e-9):
                break
            if (positions, a, b) not in taken:
                best = NextPair(positions, a, b, gain, float(joined[a, b]))
                break
    return best


def _binary_bits(share: np.ndarray[tuple[int, ...], np.dtype[np.float64]]) -> (
    np.ndarray[tuple[int, ...], np.dtype[np.float64]]
):  # fmt: skip
    """Information of a yes or no whose probability of yes is ``share``."""
    inside = (share > 1e-12) & (share < 1.0 - 1e-12)
    p = np.where(inside, share, 0.5)
    bits: np.ndarray[tuple[int, ...], np.dtype[np.float64]] = np.where(
        inside, -(p * np.log2(p) + (1.0 - p) * np.log2(1.0 - p)), 0.0
    )
    return bits
