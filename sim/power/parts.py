"""Parts of a layout that nothing can ever join, each with settings of its own levers.

Cut a layout into parts that nothing can ever join.

Levers of different parts cannot touch each other's rails, so each part is
charted by itself: settings of two modules on separate supplies add up instead
of multiplying.  A part is a layout of its own, with everything numbered anew,
so that a thousand small parts cost no more than one large one.

What to chart: the parts of a layout, each with settings of its own levers.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace

from sim.layout.model import PLASTIC, Control, Element, Layout, Points, Route, Span, Supply
from sim.layout.traffic import Case
from sim.power.settings import (
    COUNTLESS,
    number_of_settings,
    rest_positions,
    settings_of,
    timetable_settings,
)
from sim.power.wiring import Forest


@dataclass(frozen=True, slots=True)
class Cut:
    """One part as a layout of its own, and where its things are in the whole.

    ``nodes``, ``elements``, ``levers`` and ``routes`` are indices of the whole, in
    the order of the part's own; gaps are left out of the elements.
    """

    layout: Layout
    nodes: tuple[int, ...]
    elements: tuple[int, ...]
    levers: tuple[int, ...]
    routes: tuple[int, ...]

    def in_whole(self, positions: Sequence[int], others: Sequence[int]) -> tuple[int, ...]:
        """``positions`` of the part's levers among those of ``others``, by lever."""
        found = list(others)
        for lever, position in zip(self.levers, positions, strict=True):
            found[lever] = position
        return tuple(found)


def controls_of(layout: Layout, each: bool) -> tuple[Control, ...]:
    """Gangs and lone levers, or with ``each`` every lever by itself."""
    if not each:
        return layout.controls
    return tuple(Control(x.id, (i,), x.positions) for i, x in enumerate(layout.levers))


def cut_apart(layout: Layout, each: bool = False) -> tuple[tuple[Cut, ...], int]:
    """The parts of ``layout``, and how many of them have levers.

    What has no lever is one part, the last, if it has any rails.  Every part's
    ``controls`` are what is set: gangs, or single levers with ``each``.  With
    fewer than two parts that have levers, the whole layout is the only part.
    """
    whole = replace(layout, controls=controls_of(layout, each))
    roots = _roots(whole)
    with_levers = list(dict.fromkeys(roots.levers))
    if len(with_levers) < 2:
        return (_whole(whole),), len(with_levers)
    found = {root: _Draft() for root in (*with_levers, _REST)}
    for n, root in enumerate(roots.nodes):
        found[root if root in found else _REST].nodes.append(n)
    for i, root in enumerate(roots.levers):
        found[root].levers.append(i)
    place = {n: draft for draft in found.values() for n in draft.nodes}
    for i, e in enumerate(whole.elements):
        if e.kind != "gap":
            place[e.a].elements.append(i)
    for s in whole.supplies:
        place[s.plus].supplies.append(s)
    for i, route in enumerate(whole.routes):
        _of_route(route, place, found, roots.levers).routes.append(i)
    for c in whole.controls:
        found[roots.levers[c.levers[0]]].controls.append(c)
    rest = found.pop(_REST)
    drafts = [*found.values(), *([rest] if rest.routes else [])]
    return tuple(_number(whole, d) for d in drafts), len(with_levers)


_REST = -1  #: stands for everything that no lever is linked to


@dataclass(slots=True)
class _Draft:
    """What belongs to one part, numbered as in the whole."""

    nodes: list[int] = field(default_factory=list)
    levers: list[int] = field(default_factory=list)
    elements: list[int] = field(default_factory=list)
    supplies: list[Supply] = field(default_factory=list)
    routes: list[int] = field(default_factory=list)
    controls: list[Control] = field(default_factory=list)


@dataclass(frozen=True, slots=True)
class _Roots:
    """By node and by lever: a number that is the same for all that can be linked."""

    nodes: list[int]
    levers: list[int]


def _roots(layout: Layout) -> _Roots:
    """Link what elements, closed or open, supplies, routes and gangs could join.

    A gap links nothing.  A route links its levers to its rails, because an
    all-live turnout has no contacts.
    """
    count = len(layout.nodes)
    forest = Forest(count + len(layout.levers))
    for e in layout.elements:
        if e.kind != "gap":
            forest.join(e.a, e.b)
            for clause in e.when:
                for lever, _ in clause:
                    forest.join(e.a, count + lever)
    for s in layout.supplies:
        forest.join(s.plus, s.minus)
    for route in layout.routes:
        linked = [n for span in route.spans for n in (span.left, span.right) if n != PLASTIC]
        linked += [count + p.lever for p in route.points]
        for n in linked[1:]:
            forest.join(linked[0], n)
    for c in layout.controls:
        for lever in c.levers[1:]:
            forest.join(count + c.levers[0], count + lever)
    return _Roots(
        [forest.find(n) for n in range(count)],
        [forest.find(count + i) for i in range(len(layout.levers))],
    )


def _of_route(
    route: Route, place: Mapping[int, _Draft], found: Mapping[int, _Draft], levers: list[int]
) -> _Draft:
    for span in route.spans:
        for n in (span.left, span.right):
            if n != PLASTIC:
                return place[n]
    return found[levers[route.points[0].lever]] if route.points else found[_REST]


def _whole(layout: Layout) -> Cut:
    counts = (layout.nodes, layout.elements, layout.levers, layout.routes)
    return Cut(layout, *(tuple(range(len(things))) for things in counts))


def _number(whole: Layout, part: _Draft) -> Cut:
    """The part as a layout: indices as they are in its own tuples."""
    node = {n: i for i, n in enumerate(part.nodes)}
    lever = {n: i for i, n in enumerate(part.levers)}
    node[PLASTIC] = PLASTIC
    layout = Layout(
        nodes=tuple(whole.nodes[n] for n in part.nodes),
        elements=tuple(_element(whole.elements[i], node, lever) for i in part.elements),
        supplies=tuple(
            replace(s, plus=node[s.plus], minus=node[s.minus]) for s in part.supplies
        ),
        districts=(),
        levers=tuple(whole.levers[i] for i in part.levers),
        controls=tuple(
            replace(c, levers=tuple(lever[x] for x in c.levers)) for c in part.controls
        ),
        routes=tuple(_route(whole.routes[i], node, lever) for i in part.routes),
        ends=(),
        pieces=(),
        modules=(),
    )
    lists = (part.nodes, part.elements, part.levers, part.routes)
    return Cut(layout, *(tuple(things) for things in lists))


def _element(element: Element, node: Mapping[int, int], lever: Mapping[int, int]) -> Element:
    when = tuple(tuple((lever[x], p) for x, p in clause) for clause in element.when)
    return replace(element, a=node[element.a], b=node[element.b], when=when)


def _route(route: Route, node: Mapping[int, int], lever: Mapping[int, int]) -> Route:
    return replace(
        route,
        spans=tuple(Span(s.from_um, s.to_um, node[s.left], node[s.right]) for s in route.spans),
        points=tuple(
            Points(lever[p.lever], p.position, p.tip_um, p.heel_um) for p in route.points
        ),
        conflicts=(),
    )


Positions = tuple[int, ...]

#: Settings that are charted at most; more is not read by anybody.
LIMIT = 4096
#: Routes times settings that are charted at most, so that a chart fits in memory.
ROUTE_STATES_AT_MOST = 400_000


@dataclass(frozen=True, slots=True)
class Part:
    """A part and the settings of its levers that are to be charted.

    ``own_settings`` have a position for each of the part's own levers; ``rest``
    is by lever of the whole layout.
    """

    cut: Cut
    own_settings: tuple[Positions, ...]
    rest: Positions

    @property
    def layout(self) -> Layout:
        """The part's own layout, which ``own_settings`` are for."""
        return self.cut.layout

    @property
    def settings(self) -> tuple[Positions, ...]:
        """The settings by lever of the whole layout, other parts' levers at rest."""
        return tuple(self.cut.in_whole(s, self.rest) for s in self.own_settings)

    @property
    def nodes(self) -> frozenset[int]:
        """Nodes of the whole layout that belong to the part."""
        return frozenset(self.cut.nodes)

    @property
    def routes(self) -> tuple[int, ...]:
        """Routes of the whole layout that belong to the part."""
        return self.cut.routes


@dataclass(frozen=True, slots=True)
class Parts:
    """All that is to be charted; see :class:`sim.power.chart.Chart`."""

    parts: tuple[Part, ...]
    groups: int
    total: int
    skipped: str | None


def parts_of(case: Case, each: bool = False, limit: int = LIMIT) -> Parts:
    """Every setting of every part, or past ``limit`` those that the timetable uses."""
    layout, rest = case.layout, tuple(rest_positions(case.layout))
    cuts, groups = cut_apart(layout, each)
    numbers = [number_of_settings(c.layout) for c in cuts]
    total = min(sum(numbers), COUNTLESS)
    cells = sum(n * len(c.routes) for n, c in zip(numbers, cuts, strict=True))
    if total <= limit and cells <= ROUTE_STATES_AT_MOST:
        everything = tuple(Part(c, tuple(settings_of(c.layout)), rest) for c in cuts)
        return Parts(everything, groups, total, None)
    room = max(1, min(limit, ROUTE_STATES_AT_MOST // max(1, len(layout.routes))))
    used = timetable_settings(case)
    some = tuple(Part(c, _of_levers(c, used[:room]), rest) for c in cuts)
    return Parts(some, groups, total, _refusal(total, used, room))


def _of_levers(part: Cut, settings: Sequence[Positions]) -> tuple[Positions, ...]:
    """What ``settings`` of the whole are for the levers of a part, each once."""
    return tuple(dict.fromkeys(tuple(s[i] for i in part.levers) for s in settings))


def _refusal(total: int, used: Sequence[Positions], room: int) -> str:
    """Why not everything is charted, and what to do about it."""
    many = "More than a million" if total > 10**6 else str(total)
    shown = f"the {len(used)} that the timetable uses, each train by itself, are"
    if len(used) == 1:
        shown = "the one with every lever at rest is"
    if len(used) > room:
        shown = f"the first {room} of {len(used)} that the timetable uses are"
    return (
        f"{many} settings are too many to chart: only {shown} shown. Chart one module at a "
        "time in a scenario of its own, or let its gangs move together."
    )
