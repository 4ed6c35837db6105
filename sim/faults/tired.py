"""Tired parts: a contact or joiner of some ohms lets a train roll, and not start.

Tracing cannot tell, so the circuit is asked: for every part that conducts, in every
setting, whether one train that stands at any place of a set route still gets what it
needs to start.  Nothing else draws.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence

import numpy as np

from sim.circuit.network import Network, build_network
from sim.circuit.reduce import Reduction
from sim.circuit.spots import is_set, spots_of
from sim.circuit.starting import starting_train
from sim.faults.starts import Loss, Needs, Starts
from sim.faults.tired_model import TiredHarm, TiredSurvey
from sim.layout.model import ElementKind
from sim.layout.traffic import Case
from sim.power.graph import closed_elements
from sim.power.plan import Part, parts_of
from sim.power.trace import Positions, trace
from sim.scenario.defaults import Default, defaults_for

#: Kinds of parts that get tired, and what the fault is called.
TIRED: dict[ElementKind, str] = {
    "contact": "contact tired",
    "joiner": "joiner tired",
    "feeder": "feeder tired",
    "bus": "bus tired",
    "jumper": "jumper tired",
}
#: Places of a network beyond which it is not asked: the matrix grows with their square.
PLACES_AT_MOST = 2_500
#: ... and entries of all its matrices, one for each setting.
ENTRIES_AT_MOST = 200_000_000


def tired_survey(case: Case, ohm: float | None = None, each: bool = False) -> TiredSurvey:
    """Every part tired by itself, in every setting (of the gangs, or of ``each`` lever).

    ``ohm`` is the scenario's own value for a tired part, None for the starting value;
    a part that a fault of the scenario makes tired has the ohms given there.
    """
    usual = _usual(case)["tired_ohm"]
    worth = usual.value if ohm is None else ohm
    own = {w.part: w.ohm for w in case.wear if w.what == "tired" and w.ohm is not None}
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
        found += _of_part(network, part, needs, worth, own)
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


def _tirable(network: Network) -> list[int]:
    return [e for e in network.branch_of if network.layout.elements[e].kind in TIRED]


def _of_part(
    network: Network, part: Part, needs: Needs, worth: float, own: Mapping[str, float]
) -> Iterator[TiredHarm]:
    """Every part of one piece of the layout that costs a start anywhere."""
    layout = network.layout
    elements = layout.elements
    ohms = {e: own.get(elements[e].id, worth) for e in _tirable(network)}
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
            TIRED[elements[e].kind],
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
