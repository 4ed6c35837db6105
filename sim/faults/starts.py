"""Whether trains still start, in one setting, with one part tired.

One part with other ohms changes the network by a matrix of rank one, so a setting is
reduced once, and what each part does follows from it (J. Sherman and W. J. Morrison,
Annals of Mathematical Statistics 21, 1950).
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from typing import NamedTuple

import numpy as np
import numpy.typing as npt

from sim.circuit.network import LEAST_OHM, Network
from sim.circuit.reduce import Reduction
from sim.circuit.spots import Spot
from sim.circuit.starting import StartingTrain
from sim.power.poles import SAME_V, sources_of

Row = npt.NDArray[np.float64]

#: Volts by which a train may miss what it needs: far below a meter's last digit.
TRIFLE_V = 1e-6


class Needs(NamedTuple):
    """What a train needs to start: on DC its start voltage, on digital its least volts."""

    train: StartingTrain
    digital_v: float

    def volts(self, open_v: Row, ohm: Row, digital: npt.NDArray[np.bool_]) -> Row:
        """What it gets at places of these open volts and loop resistances."""
        on_dc = open_v * self.train.ohm / (self.train.ohm + ohm)
        on_digital = np.maximum(0.0, open_v - self.train.amps * ohm)
        return np.where(digital, on_digital, on_dc)

    def least(self, digital: npt.NDArray[np.bool_]) -> Row:
        """What it needs at each place."""
        return np.where(digital, self.digital_v, self.train.ohm * self.train.amps)


class Loss(NamedTuple):
    """A part in one setting: routes lost, and the worst place."""

    element: int
    routes: tuple[int, ...]
    volts: float
    needs: float


class Starts:
    """The network in one setting, seen from places of trains and ends of parts."""

    def __init__(
        self,
        network: Network,
        reduction: Reduction,
        live: Sequence[Spot],
        conducting: Sequence[int],
    ) -> None:
        supplies = network.layout.supplies
        taps = [network.taps[e] for e in conducting]
        nodes = list(
            dict.fromkeys([n for s in live for n in (s.left_node, s.right_node)])
            | dict.fromkeys(n for pair in taps for n in pair)
        )
        row = {n: k for k, n in enumerate(nodes)}
        ports = reduction.ports(nodes)
        share = np.array(ports.share).reshape(len(nodes), len(supplies))
        digital = np.array([s.kind == "digital" for s in supplies])
        self._network = network
        self._conducting = conducting
        self._ohm = np.array(ports.ohm)
        self._open_v: Row = share @ np.array([s.volts for s in sources_of(supplies)])
        left = np.array([row[s.left_node] for s in live])
        right = np.array([row[s.right_node] for s in live])
        given = np.abs(self._open_v[left] - self._open_v[right]) >= SAME_V
        self._left, self._right = left[given], right[given]
        self._route = np.array([s.route for s in live])[given]
        feeding = share[self._left] != share[self._right]
        self._digital = ~np.any(feeding & ~digital, axis=1)
        self._a = [row[a] for a, _ in taps]
        self._b = [row[b] for _, b in taps]

    def losses(self, needs: Needs, ohms: Mapping[int, float]) -> Iterator[Loss]:
        """Parts that cost a start, each by itself."""
        one, other = self._left, self._right
        across = self._open_v[one] - self._open_v[other]
        square = self._ohm
        loop = square[one, one] + square[other, other] - square[one, other] - square[other, one]
        least = needs.least(self._digital)
        starts = needs.volts(np.abs(across), loop, self._digital) >= least - TRIFLE_V
        for e, a, b in zip(self._conducting, self._a, self._b, strict=True):
            if a == b:
                continue
            branch = self._network.branches[self._network.branch_of[e]]
            change = 1.0 / ohms[e] - 1.0 / max(branch.ohm, LEAST_OHM)
            column = square[:, a] - square[:, b]
            share = change / (1.0 + change * (column[a] - column[b]))
            reach = column[one] - column[other]
            now_loop = loop - share * reach * reach
            now = across - share * reach * (self._open_v[a] - self._open_v[b])
            got = needs.volts(np.abs(now), now_loop, self._digital)
            stuck = starts & (got < least - TRIFLE_V)
            if stuck.any():
                worst = int(np.argmin(np.where(stuck, np.round(got - least, 9), np.inf)))
                routes = tuple(sorted({int(r) for r in self._route[stuck]}))
                yield Loss(e, routes, float(got[worst]), float(least[worst]))
