"""Cut a layout into parts that nothing can ever join.

Levers of different parts cannot touch each other's rails, so each part is
charted by itself: settings of two modules on separate supplies add up instead
of multiplying.  A part is a layout of its own, with everything numbered anew,
so that a thousand small parts cost no more than one large one.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace

from sim.layout.model import (
    PLASTIC,
    Control,
    Element,
    Layout,
    Points,
    Route,
    Span,
    Supply,
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
