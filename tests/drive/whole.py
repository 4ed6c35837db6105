"""A drive made the slow way: a run of the whole layout with this one train."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from sim.drive.lane import Lane, Lanes
from sim.layout.model import PLASTIC, Layout
from sim.layout.traffic import Case, Train
from sim.records.model import Record
from sim.run.run import RollingStart, run
from tests.twin import LayoutTwin, closed_in


@dataclass(frozen=True, slots=True)
class Ran:
    """What a run came to; ``at_mm`` is where the front was, from where the lane begins.

    ``dead_from_the_first`` tells that it had no supply where it was put down.
    """

    outcome: str
    at_mm: float | None = None
    side: str | None = None
    kind: str | None = None
    shorted: frozenset[str] = frozenset()
    trips: bool = False
    dead_from_the_first: bool = False


def ran(
    case: Case,
    train: Train,
    over: tuple[int, bool],
    positions: Sequence[int],
    speed_mm_s: float,
    stand_um: int | None = None,
) -> Ran | None:
    """What a run of ``train`` along the lane over a route records; None for no lane.

    With ``stand_um`` it starts from rest with its front so far in.
    """
    lane = Lanes(case.layout).over(*over, positions, round(train.length_mm * 1000), stand_um)
    if lane is None:
        return None
    lengths = [case.layout.routes[r].length_um for r, _ in lane.segments]
    begin_um = lane.begin_um + sum(lengths[: lane.over])
    number = 0
    while begin_um >= lengths[number] and number < len(lengths) - 1:
        begin_um -= lengths[number]
        number += 1
    route, forward = lane.segments[number]
    place_um = begin_um if forward else lengths[number] - begin_um
    train = replace(train, route=route, toward_finish=forward, place_mm=place_um / 1000)
    duration_s = lane.way_um / 1000 / max(speed_mm_s / 20.0, 1.0) + train.energy_store_s + 60.0
    case = replace(case, conduct=replace(case.conduct, duration_s=duration_s))
    start = RollingStart(
        train,
        speed_mm_s,
        dict(enumerate(positions)),
        lane.way_um / 1000,
        stand_um is not None,
    )
    case = replace(case, layout=_turned_along(case, lane, positions))
    record = run(case, 7, True, start=start, protection="only tells")
    return _read(record, _met(case, lane, positions))


def _turned_along(case: Case, lane: Lane, positions: Sequence[int]) -> Layout:
    """DC throttles as the driver sets them: the left rail on the way is the higher one.

    Each by the first rails on the way that it feeds; by whichever rail, all alike.
    """
    layout = case.layout
    twin = LayoutTwin(layout, closed_in(layout, positions))
    pairs = []
    for route, forward in lane.segments:
        spans = layout.routes[route].spans
        pairs += [
            (s.left, s.right) if forward else (s.right, s.left)
            for s in (spans if forward else spans[::-1])
            if PLASTIC not in (s.left, s.right)
        ]
    supplies = list(layout.supplies)
    for k, supply in enumerate(supplies):
        poles = [twin.pole_net(2 * k), twin.pole_net(2 * k + 1)]
        on_way = [[twin.net[n] for n in pair] for pair in pairs]
        first = next((nets for nets in on_way if sorted(nets) == sorted(poles)), None)
        if first is not None and supply.kind == "dc" and poles[0] != poles[1]:
            supplies[k] = replace(supply, reversed=first == poles)
    return replace(layout, supplies=tuple(supplies))


def _met(case: Case, lane: Lane, positions: Sequence[int]) -> set[str]:
    """Supplies that a train on the lane has to do with: others may short where they like."""
    layout = case.layout
    twin = LayoutTwin(layout, closed_in(layout, positions))
    spans = [span for route, _ in lane.segments for span in layout.routes[route].spans]
    nets = {twin.net[n] for span in spans for n in {span.left, span.right} - {PLASTIC}}
    met: set[int] = set()
    for _ in layout.supplies:
        for s in range(len(layout.supplies)):
            if nets & {twin.pole_net(2 * s), twin.pole_net(2 * s + 1)}:
                met.add(s)
                nets |= {twin.pole_net(2 * s), twin.pole_net(2 * s + 1)}
    return {layout.supplies[s].name for s in met}


def _read(record: Record, met: set[str]) -> Ran:
    begun = [e for e in record.events if e.what == "short" and e.detail == "begins"]
    shorts = [e for e in begun if e.who in met]
    if shorts:
        at = _gone_mm(record, shorts[0].time_s)
        who = frozenset(e.who for e in shorts)
        return Ran("shorts", at, shorted=who, trips=any(t.supply in met for t in record.trips))
    if record.stalls:
        stall = record.stalls[0]
        gone, dead = _gone_mm(record, stall.time_s), not record.motions[0].powered
        return Ran("stops", gone, stall.side, stall.kind, dead_from_the_first=dead)
    if record.hesitations:
        return Ran("hesitates", _gone_mm(record, record.hesitations[0].time_s))
    return Ran("clear")


def _gone_mm(record: Record, time_s: float) -> float:
    """How far it has gone by then: the motions between, added up piece by piece."""
    gone = 0.0
    motions = [m for m in record.motions if m.time_s <= time_s]
    for motion, until in zip(motions, [*(m.time_s for m in motions[1:]), time_s], strict=True):
        dt = until - motion.time_s
        way = 1.0 if motion.under[0][1] else -1.0
        gone += way * (motion.speed_mm_s * dt + motion.acceleration_mm_s2 * dt * dt / 2.0)
    return gone
