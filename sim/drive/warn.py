"""Warnings of a layout that is not in order: few, each for all drives that are alike.

They are made of what :func:`sim.drive.in_order.in_order` found, so that checking a
file and every other page come to the same.
"""

from __future__ import annotations

import heapq
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, field

from sim.drive.drive import Drive
from sim.drive.in_order import InOrder, in_order
from sim.drive.lane import Lanes
from sim.drive.use import in_use
from sim.layout.model import Layout
from sim.layout.traffic import Case, Order
from sim.power.districts import DistrictJoin
from sim.power.settings import rest_positions, setting_words
from sim.scenario.problems import Problem, shown

Positions = tuple[int, ...]

#: So many pieces, supplies or elements are named.
NAMED = 4


def warnings(case: Case, found: InOrder | None = None) -> list[Problem]:
    """What is not in order as built, and what it hangs on; ``found`` if it is known."""
    found = in_order(case) if found is None else found
    return [
        *_shorts_elsewhere(case, found),
        *_shorts_when_crossing(case, found),
        *_stops(case, found),
        *_against_other_throttle(case.layout, found),
        *_joined(found),
        *_not_kept_live(case.layout, found),
        *_never_thrown(case),
    ]


def _warning(code: str, expected: str, found: str, where: str = "layout") -> Problem:
    return Problem(where, expected, found, "warning", code=code)


@dataclass(slots=True)
class _Alike:
    """Drives that come to the same: how many, the first of them, and where they do."""

    positions: Positions
    first: Drive
    count: int = 0
    pieces: dict[str, None] = field(default_factory=dict)


def _gathered(
    layout: Layout, drives: Iterable[tuple[Positions, Drive]]
) -> dict[object, _Alike]:
    groups: dict[object, _Alike] = {}
    for positions, drive in drives:
        key = drive.shorted or drive.kind
        group = groups.setdefault(key, _Alike(positions, drive))
        group.count += 1
        at = drive.at if drive.at >= 0 else drive.route
        group.pieces[layout.pieces[layout.routes[at].piece].id] = None
    return groups


def _shorts_elsewhere(case: Case, found: InOrder) -> Iterator[Problem]:
    """Shorts of metal in a setting in use that are not there at rest."""
    rest = tuple(rest_positions(case.layout))
    at_rest = {s for it in found.settings if it.positions == rest for s in it.shorted}
    told: set[tuple[int, ...]] = set(at_rest)
    for setting in found.settings:
        for supplies in setting.shorted:
            if supplies not in told:
                told.add(supplies)
                names = _supplies(case.layout, supplies)
                said = f"{names} shorted by metal alone{_when(case, setting.positions)}"
                yield _warning("short", "no short in any setting in use", said)


def _shorts_when_crossing(case: Case, found: InOrder) -> Iterator[Problem]:
    layout = case.layout
    metal = {s for setting in found.settings for some in setting.shorted for s in some}
    crossing = (
        (positions, drive)
        for positions, drive in found.different("shorts")
        if metal.isdisjoint(drive.shorted)  # else the metal's own warning says it
    )
    for group in _gathered(layout, crossing).values():
        drive = group.first
        said = f"{_supplies(layout, drive.shorted)} shorted through the train: "
        said += _said_of(case, group, found.trains)
        said += ", which trips" if drive.trips else ", too quick a pass to trip"
        yield _warning("short-when-crossing", "no train that makes a short", said)


def _stops(case: Case, found: InOrder) -> Iterator[Problem]:
    expected = "every train gets over every route in use"
    for group in _gathered(case.layout, found.different("stops")).values():
        said = f"{_said_of(case, group, found.trains)}: {group.first.kind}"
        yield _warning("train-stops", expected, said)
    crawl = _gathered(case.layout, found.different("stops at crawl")).values()
    for group in crawl:
        said = f"{_said_of(case, group, found.trains)}, but only at a crawl or from rest: "
        yield _warning("train-stops-at-crawl", expected, said + str(group.first.kind))


def _said_of(case: Case, group: _Alike, trains: Sequence[str]) -> str:
    layout, drive = case.layout, group.first
    at = drive.at if drive.at >= 0 else drive.route
    place = "" if drive.place_mm is None else f" at {drive.place_mm:g} mm"
    first = f"first {shown(drive.train)} on {shown(layout.routes[at].id)}{place}"
    first += _when(case, group.positions)
    if group.count == 1:
        return first.removeprefix("first ")
    return f"{group.count} drives on {_listed(map(shown, group.pieces))}, {first}"


def _against_other_throttle(layout: Layout, found: InOrder) -> Iterator[Problem]:
    """On DC the phase is the throttle's; what that means for a train is said once."""
    crossing = [d for _, d in found.different("clear", "hesitates") if d.opposed and d.joins]
    if crossing:
        supplies = sorted({p // 2 for d in crossing for p in d.joins})
        said = f"{_supplies(layout, supplies)} wired in opposite phase: a train that crosses "
        said += "shorts where the other throttle stands against it, and only there"
        expected = "throttles that stand the same way for a train that crosses"
        yield _warning("short-if-throttles-oppose", expected, said)


def _joined(found: InOrder) -> Iterator[Problem]:
    pairs: dict[tuple[str, str], list[DistrictJoin]] = {}
    for join in found.joined:
        pairs.setdefault(join.districts, []).append(join)
    for (one, other), joins in pairs.items():
        levers = [f"{shown(lever)} at {position}" for lever, position in joins[0].levers]
        when = f" with {_listed(levers)}" if levers else " in every setting"
        said = f"{shown(one)} and {shown(other)} joined through "
        said += _listed(map(shown, joins[0].elements)) + when
        yield _warning("joined-districts", "districts kept apart in metal", said)


def _not_kept_live(layout: Layout, found: InOrder) -> Iterator[Problem]:
    dead = {(route, kind) for s in found.settings for route, _, kind in s.dead_kept}
    if dead:
        pieces = dict.fromkeys(
            layout.pieces[layout.routes[route].piece].id for route, _ in sorted(dead, key=str)
        )
        said = f"dead in some setting in use: {_listed(map(shown, pieces))}"
        yield _warning("not-kept-live", "what keep_live names, live", said, "keep_live")


# -- levers that nothing throws --------------------------------------------------------


def _never_thrown(case: Case) -> Iterator[Problem]:
    """Orders to a place that a train comes to only by a lever that nothing throws."""
    if not any(train.orders for train in case.trains):
        return
    layout, lanes = case.layout, Lanes(case.layout)
    [use] = in_use(case, lanes)
    lying = [{s[n] for s in use.settings} for n in range(len(layout.levers))]
    for number, train in enumerate(case.trains):
        comes_to = {route for route, _ in use.reached[number]}
        for place, order in enumerate(train.orders):
            if not _asks_for(layout, order, comes_to):
                continue
            starts = [(train.route, train.toward_finish)]
            if any(o.backward for o in train.orders):
                starts.append((train.route, not train.toward_finish))
            needed = _needed(layout, lanes, lying, starts, layout.pieces[order.piece].routes)
            if needed:
                words = [
                    f"{shown(layout.levers[n].id)} at {layout.levers[n].positions[p]}"
                    for n, p in needed
                ]
                expected = f"{_listed(words)} before {shown(layout.pieces[order.piece].id)}"
                said = f"nothing that throws {'it' if len(words) == 1 else 'them'}"
                where = f"train[{number}].orders[{place}].do"
                yield _warning("lever-never-thrown", expected, said, where)
                break  # what comes after it starts from somewhere else


def _asks_for(layout: Layout, order: Order, comes_to: set[int]) -> bool:
    if order.do not in ("stop", "run"):
        return False
    return comes_to.isdisjoint(layout.pieces[order.piece].routes)


def _needed(
    layout: Layout,
    lanes: Lanes,
    lying: Sequence[set[int]],
    starts: Iterable[tuple[int, bool]],
    goal: Iterable[int],
) -> list[tuple[int, int]]:
    """The fewest (lever, position) that never occur, on a way to one of some routes."""
    goals = set(goal)
    heap: list[tuple[int, int, tuple[int, bool], tuple[tuple[int, int], ...]]]
    heap = [(0, n, start, ()) for n, start in enumerate(starts)]
    seen: set[tuple[int, bool]] = set()
    serial = len(heap)
    while heap:
        _, _, here, needed = heapq.heappop(heap)
        if here in seen:
            continue
        seen.add(here)
        if here[0] in goals:
            return list(needed)
        for there in lanes.leads_to(*here):
            points = layout.routes[there[0]].points
            new = {(p.lever, p.position) for p in points if p.position not in lying[p.lever]}
            both = tuple(sorted({*needed, *new}))
            heapq.heappush(heap, (len(both), serial, there, both))
            serial += 1
    return []


# -- words -----------------------------------------------------------------------------


def _when(case: Case, positions: Positions) -> str:
    layout = case.layout
    rest = dict(setting_words(layout, rest_positions(layout)))
    now = setting_words(layout, positions)
    thrown = [f"{shown(name)} at {word}" for name, word in now if rest.get(name) != word]
    return f" with {_listed(thrown)}" if thrown else ""


def _supplies(layout: Layout, supplies: Iterable[int]) -> str:
    names = [shown(layout.supplies[s].name) for s in supplies]
    return f"{_listed(names)} {'is' if len(names) == 1 else 'are'}"


def _listed(names: Iterable[str]) -> str:
    every = list(names)
    said, more = every[:NAMED], len(every) - NAMED
    if more > 0:
        return f"{', '.join(said)} and {more} more"
    return said[0] if len(said) == 1 else f"{', '.join(said[:-1])} and {said[-1]}"
