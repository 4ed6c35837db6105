"""A slow, independent look at a run under way: what every train must get, and where it is.

Nets are merged until nothing changes, potentials are handed on from pole to pole,
and nothing is shared with the code under test but the layout itself.  For at most
two supplies.
"""

from __future__ import annotations

from collections.abc import Iterable

from sim.layout.model import PLASTIC, Layout
from sim.run.run import LiveRun
from sim.run.train import RunningTrain


def stands(train: RunningTrain) -> list[tuple[int, float, float]]:
    """(route, from, to) in µm from the route's start, for all that the train covers."""
    found = []
    front, rear = train.place_now(), train.place_now() - train.length_um
    for segment in train.path.segments:
        low, high = max(rear, segment.begin_um), min(front, segment.end_um)
        if low < high:
            a, b = low - segment.begin_um, high - segment.begin_um
            if not segment.forward:
                length = segment.end_um - segment.begin_um
                a, b = length - b, length - a
            found.append((segment.route, a, b))
    return found


def under(live: LiveRun, train: RunningTrain, ahead_um: float = 0.0) -> dict[int, list[int]]:
    """By side of its units: the nodes under the pickups, from the routes' own spans.

    ``ahead_um``: where the train would be that much further on.
    """
    found: dict[int, list[int]] = {}
    for unit in train.path.consist.units:
        found[unit.left], found[unit.right] = [], []
    for p in train.path.consist.pickups:
        place = train.s + ahead_um - p.offset_um
        segment = next(s for s in reversed(train.path.segments) if s.begin_um <= place)
        route = live.layout.routes[segment.route]
        along = place - segment.begin_um
        for span in route.spans if segment.forward else reversed(route.spans):
            far = span.to_um if segment.forward else route.length_um - span.from_um
            if along < far:
                break
        left, right = span.left, span.right
        if not segment.forward:
            left, right = right, left
        found[p.side].append(left if p.left else right)
    return found


def nets(layout: Layout, closed: Iterable[int], groups: Iterable[list[int]]) -> list[int]:
    """By node: the number of its net, with contacts ``closed`` and ``groups`` joined."""
    net = list(range(len(layout.nodes)))
    closed = set(closed)
    joins = [
        (e.a, e.b)
        for i, e in enumerate(layout.elements)
        if e.kind != "gap" and (e.kind != "contact" or i in closed)
    ]
    joins += [(group[0], n) for group in groups for n in group[1:]]
    changed = True
    while changed:
        changed = False
        for a, b in joins:
            if net[a] != net[b]:
                net[a] = net[b] = min(net[a], net[b])
                changed = True
    return net


def verdicts(live: LiveRun, sides: dict[int, list[int]]) -> dict[int, str | None]:
    """By unit: what it must be told, with those nodes under its sides; None is live."""
    layout = live.layout
    metal = {s: [n for n in nodes if n != PLASTIC] for s, nodes in sides.items()}
    net = nets(layout, live.levers.closed, [m for m in metal.values() if m])
    on = [x.on for x in live.protection.states]
    found: dict[int, str | None] = {}
    for side in metal:
        if side % 2 == 0:
            left, right = metal[side], metal[side + 1]
            if not left or not right:
                found[side // 2] = "insulated"
            else:
                found[side // 2] = _pair(live, net, net[left[0]], net[right[0]], on)
    return found


def _volts(live: LiveRun, s: int) -> float:
    supply = live.layout.supplies[s]
    volts = -supply.voltage_v if supply.reversed else supply.voltage_v
    return volts * live.throttle_settings.signs[s]


def _pair(live: LiveRun, net: list[int], a: int, b: int, on: list[bool]) -> str | None:
    verdict = _as_is(live, net, a, b, on)
    if verdict in (None, "short") or all(on):
        return verdict
    switched_on = _as_is(live, net, a, b, [True] * len(on))
    return "tripped" if switched_on in (None, "short") else verdict


def _as_is(live: LiveRun, net: list[int], a: int, b: int, on: list[bool]) -> str | None:
    """Two nets: pole nets, then potentials from each pole net outward."""
    supplies = live.layout.supplies
    poles = [(net[s.plus], net[s.minus]) for s in supplies]
    switched_on = [s for s in range(len(supplies)) if on[s]]
    shorted = {s for s in switched_on if poles[s][0] == poles[s][1]}
    rest = [s for s in switched_on if s not in shorted]
    if len(rest) == 2 and set(poles[rest[0]]) == set(poles[rest[1]]):
        one, two = (_volts(live, s) for s in rest)
        if poles[rest[0]][0] != poles[rest[1]][0]:
            two = -two
        if abs(one - two) > 1e-6:
            shorted |= set(rest)
    if any({a, b} & set(poles[s]) for s in shorted):
        return "short"
    all_poles = {p for pair in poles for p in pair}
    if a not in all_poles or b not in all_poles:
        return "floating"
    if a == b:
        return "same pole"
    level = {a: 0.0}
    for _ in range(len(supplies) + 1):
        for s in rest:
            plus, minus = poles[s]
            if minus in level:
                level.setdefault(plus, level[minus] + _volts(live, s))
            if plus in level:
                level.setdefault(minus, level[plus] - _volts(live, s))
    if b not in level:
        return "no return"
    volts = abs(level[b])
    if volts < 1e-6:
        return "same pole"
    island = [abs(_volts(live, s)) for s in rest if poles[s][0] in level]
    return None if any(abs(volts - v) < 1e-6 for v in island) else "wrong voltage"
