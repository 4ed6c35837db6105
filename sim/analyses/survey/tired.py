"""Tired parts: a contact or joiner of some ohms behind which no train starts.

Whether trains still start, in one setting, with one part tired.

One part with other ohms changes the network by a matrix of rank one, so a setting is
reduced once, and what each part does follows from it (J. Sherman and W. J. Morrison,
Annals of Mathematical Statistics 21, 1950).

Tired parts that cost a start, and what a fix changes about them.

Tired parts: a contact or joiner of some ohms lets a train roll, and not start.

Tracing cannot tell, so the circuit is asked: for every part that conducts, in every
setting, whether one train that stands at any place of a set route still gets what it
needs to start.  Nothing else draws.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
import numpy.typing as npt

from sim.circuit.measure import Spot, StartingTrain, is_set, spots_of, starting_train
from sim.circuit.network import LEAST_OHM, Network, build_network
from sim.circuit.reduction import Reduction
from sim.faults.kinds import kinds_of
from sim.layout.traffic import Case
from sim.power.graph import closed_elements
from sim.power.parts import Part, parts_of
from sim.power.poles import SAME_V, sources_of
from sim.power.trace import Positions, trace
from sim.scenario.defaults import Default, defaults_for

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
        digital = np.array([s.acts.decodes for s in supplies])
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


@dataclass(frozen=True, slots=True)
class TiredHarm:
    """One tired part, ``ohm`` of it: where a train would start without it and does not.

    ``routes`` are (route, settings in which it is lost on it), most first; ``lost`` is
    their sum; ``volts`` the least that a standing train gets at such a place, and
    ``needs`` what it needs there.
    """

    part: str
    kind: str
    ohm: float
    lost: int
    volts: float
    needs: float
    routes: tuple[tuple[str, int], ...]

    @property
    def id(self) -> str:
        """Names the fault."""
        return f"{self.part}: {self.kind}"


@dataclass(frozen=True, slots=True)
class TiredSurvey:
    """Every tired part by itself, those that stop a start first; ``parts`` were looked at.

    ``ohm`` is what a tired part has where the scenario does not say, ``whose`` it is,
    and ``joiner_ohm`` what a tired joiner has.
    ``skipped`` says what was left out.
    """

    fix: str | None
    train: StartingTrain
    ohm: float
    whose: str
    settings: int
    parts: int
    harms: tuple[TiredHarm, ...]
    skipped: tuple[str, ...] = ()
    joiner_ohm: float = 0.0


@dataclass(frozen=True, slots=True)
class TiredChange:
    """As built against one fix: tired parts that stop no start any more, and new ones.

    ``worse`` stop more starts with the fix than as built.
    """

    fix: str
    before: TiredSurvey
    after: TiredSurvey
    cured: tuple[str, ...]
    worse: tuple[TiredHarm, ...]


def tired_changes(before: TiredSurvey, after: TiredSurvey) -> TiredChange:
    """What the fix of ``after`` changes, tired part by tired part."""
    was = {h.id: h.lost for h in before.harms}
    now = {h.id for h in after.harms}
    return TiredChange(
        after.fix or "",
        before,
        after,
        tuple(h.id for h in before.harms if h.id not in now),
        tuple(h for h in after.harms if h.lost > was.get(h.id, 0)),
    )


#: Places of a network beyond which it is not asked: the matrix grows with their square.
PLACES_AT_MOST = 2_500
#: ... and entries of all its matrices, one for each setting.
ENTRIES_AT_MOST = 200_000_000


def tired_survey(
    case: Case,
    ohm: float | None = None,
    each: bool = False,
    joiner_ohm: float | None = None,
) -> TiredSurvey:
    """Every part tired by itself, in every setting (of the gangs, or of ``each`` lever).

    ``ohm`` is the scenario's own value for a tired part, None for the starting value;
    ``joiner_ohm`` that of a joiner, which without it is worth ``ohm`` too;
    a part that a fault of the scenario makes tired has the ohms given there.
    """
    usual, joiner = _usual(case)["tired_ohm"], _usual(case)["tired_joiner_ohm"]
    worth = usual.value if ohm is None else ohm
    joiners = joiner.value if ohm is None else ohm
    joiners = joiners if joiner_ohm is None else joiner_ohm
    own = {w.part: w.ohm for w in case.wear if w.effect == "tires" and w.ohm is not None}
    needs = _needs(case)
    parts = parts_of(case, each)
    skipped = [] if parts.skipped is None else [parts.skipped]
    found: list[TiredHarm] = []
    settings = looked_at = 0
    for part in parts.parts:
        network = build_network(part.layout)
        if _is_too_large(network, len(part.own_settings)):
            skipped.append(
                f"A part of the layout with {len(network.names)} places in "
                f"{len(part.own_settings)} settings is too large to ask about tired parts: "
                "ask about fewer modules at a time."
            )
            continue
        settings += len(part.own_settings)
        looked_at += len(_tirable(network))
        found += _of_part(network, part, needs, (worth, joiners), own)
    found.sort(key=lambda h: (-h.lost, h.volts, h.id))
    return TiredSurvey(
        case.fix,
        needs.train,
        worth,
        usual.whose if ohm is None else "yours",
        settings,
        looked_at,
        tuple(found),
        tuple(skipped),
        joiners,
    )


def _usual(case: Case) -> Mapping[str, Default]:
    """Starting values for the layout's gauge."""
    gauges = [placed.piece.gauge_mm for placed in case.layout.pieces]
    return defaults_for(gauges[0] if gauges else 0.0)


def _needs(case: Case) -> Needs:
    """What the greediest train needs, and on digital the one that needs most volts."""
    least = [m.minimum_v for t in case.trains for v in t.vehicles if (m := v.motor) is not None]
    return Needs(starting_train(case), max(least, default=_usual(case)["minimum_v"].value))


def _is_too_large(network: Network, settings: int) -> bool:
    places = len(network.names)
    return places > PLACES_AT_MOST or places * places * settings > ENTRIES_AT_MOST


def tired_kind(part: str) -> str:
    """The fault of a part of that kind that is tired; "" where it cannot be."""
    return next((kind.name for kind in kinds_of(part) if kind.effect == "tires"), "")


def _tirable(network: Network) -> list[int]:
    return [e for e in network.branch_of if tired_kind(network.layout.elements[e].kind)]


def _of_part(
    network: Network,
    part: Part,
    needs: Needs,
    worth: tuple[float, float],
    own: Mapping[str, float],
) -> Iterator[TiredHarm]:
    """Every part of one piece of the layout that costs a start anywhere.

    ``worth`` are the ohms of a tired part, and those of a joiner.
    """
    layout = network.layout
    elements = layout.elements
    ohms = {
        e: own.get(elements[e].id, worth[elements[e].kind == "joiner"])
        for e in _tirable(network)
    }
    lost: dict[int, dict[int, int]] = {}
    worst: dict[int, tuple[float, float]] = {}
    for loss in _losses(network, part.own_settings, needs, ohms):
        routes = lost.setdefault(loss.element, {})
        for route in loss.routes:
            routes[route] = routes.get(route, 0) + 1
        before = worst.get(loss.element, (np.inf, 0.0))
        worst[loss.element] = min(before, (loss.volts, loss.needs))
    for e, routes in lost.items():
        named = [(layout.routes[r].id, count) for r, count in routes.items()]
        named.sort(key=lambda pair: (-pair[1], pair[0]))
        volts, least = worst[e]
        yield TiredHarm(
            elements[e].id,
            tired_kind(elements[e].kind),
            ohms[e],
            sum(routes.values()),
            round(volts, 3),
            round(least, 3),
            tuple(named),
        )


def _losses(
    network: Network, settings: Sequence[Positions], needs: Needs, ohms: Mapping[int, float]
) -> Iterator[Loss]:
    """What every part costs in every setting, where it costs anything."""
    layout = network.layout
    spots = list(dict.fromkeys(spot._replace(place_um=0) for spot in spots_of(network)))
    traced = trace(layout, settings)
    reduction = Reduction(network)
    for k, positions in enumerate(settings):
        live = [
            s
            for s in spots
            if is_set(layout, s.route, positions)
            and traced.verdicts(s.left, s.right).get(None, 0) >> k & 1
        ]
        shut = set(closed_elements(layout, positions))
        conducting = [e for e in ohms if e in shut]
        if live and conducting:
            reduction.set(network.closed(positions))
            state = Starts(network, reduction, live, conducting)
            yield from state.losses(needs, ohms)
