"""What the cause of a stall or a trip is found from."""

from __future__ import annotations

from collections.abc import Sequence, Set
from dataclasses import dataclass

from sim.layout.model import Layout
from sim.run.levers import LeverFrame
from sim.run.path import TrackMap
from sim.run.supply import SupplyModel
from sim.run.train import RunningTrain


@dataclass(frozen=True, slots=True)
class Evidence:
    """The present state of a run, as far as it explains anything; only looked at.

    ``owners`` are the trains by unit; ``broken`` the permanent elements that are open,
    ``bad`` the contacts that are for the whole run; ``dirt`` says whether a rail or a
    pickup may be dirty.
    """

    layout: Layout
    tracks: TrackMap
    levers: LeverFrame
    supply: SupplyModel
    owners: Sequence[RunningTrain]
    broken: Set[int]
    bad: Set[int]
    dirt: bool
