"""Which settings of the levers there are to chart.

Levers that no island links are charted group by group, so that two modules on
separate supplies do not multiply each other's settings.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import product
from math import prod

from sim.layout.model import Control, Layout
from sim.layout.traffic import Case
from sim.power.wiring import Forest


@dataclass(frozen=True, slots=True)
class Group:
    """Controls that share an island, so their settings must be charted together."""

    controls: tuple[Control, ...]
    nodes: frozenset[int]  #: everything the group could ever be joined to

    @property
    def total(self) -> int:
        """How many settings the group has."""
        return prod(len(c.positions) for c in self.controls)


def controls_of(layout: Layout, each: bool) -> tuple[Control, ...]:
    """Gangs and lone levers, or with ``each`` every lever by itself."""
    if not each:
        return layout.controls
    return tuple(Control(x.id, (i,), x.positions) for i, x in enumerate(layout.levers))


def groups_of(layout: Layout, controls: tuple[Control, ...]) -> tuple[Group, ...]:
    """Split ``controls`` into groups that no element, even an open one, can link.

    A contact counts as closed and a supply as a link; a gap does not.
    """
    nodes = len(layout.nodes)
    forest = Forest(nodes + len(layout.levers))
    for e in layout.elements:
        if e.kind != "gap":
            forest.join(e.a, e.b)
            for clause in e.when:
                for lever, _ in clause:
                    forest.join(e.a, nodes + lever)
    for s in layout.supplies:
        forest.join(s.plus, s.minus)
    # A route ties its levers to its rails: an all-live turnout has no contacts.
    for route in layout.routes:
        rails = [n for span in route.spans for n in (span.left, span.right) if n >= 0]
        for n in [*rails[1:], *(nodes + p.lever for p in route.points)]:
            forest.join(rails[0], n)
    found: dict[int, list[Control]] = {}
    for c in controls:
        for lever in c.levers[1:]:
            forest.join(nodes + c.levers[0], nodes + lever)
    for c in controls:
        found.setdefault(forest.find(nodes + c.levers[0]), []).append(c)
    islands: dict[int, list[int]] = {root: [] for root in found}
    for n in range(nodes):
        root = forest.find(n)
        if root in islands:
            islands[root].append(n)
    return tuple(Group(tuple(found[root]), frozenset(islands[root])) for root in found)


def rest_positions(layout: Layout) -> list[int]:
    """Position index of every lever at rest."""
    return [x.rest for x in layout.levers]


def apply(layout: Layout, positions: list[int], control: Control, position: str) -> None:
    """Put the levers of ``control`` to ``position`` in ``positions`` (in place)."""
    for lever in control.levers:
        positions[lever] = layout.levers[lever].positions.index(position)


def settings_of(layout: Layout, group: Group) -> list[tuple[int, ...]]:
    """All settings of ``group`` as positions by lever; other levers at rest."""
    found = []
    for choice in product(*(c.positions for c in group.controls)):
        positions = rest_positions(layout)
        for control, position in zip(group.controls, choice, strict=True):
            apply(layout, positions, control, position)
        found.append(tuple(positions))
    return found


def timetable_settings(case: Case) -> list[tuple[int, ...]]:
    """Settings the timetable uses, each throw from rest, in order of first use.

    At rest first; then each ordered control thrown by itself.  Two crossings at
    one time at two pieces are not listed: the groups' own settings cover them.
    """
    layout = case.layout
    found = [tuple(rest_positions(layout))]
    thrown = [(t.control, t.position) for t in case.throws]
    for train in case.trains:
        for order in train.orders:
            if order.do == "throw":
                thrown.append((order.control, order.position))
            elif order.do == "cross":
                found.extend(_crossing_settings(layout, order.piece))
    for control, position in thrown:
        positions = rest_positions(layout)
        apply(layout, positions, layout.controls[control], position)
        found.append(tuple(positions))
    return list(dict.fromkeys(found))


def _crossing_settings(layout: Layout, piece: int) -> list[tuple[int, ...]]:
    """Each crossing route of ``piece`` set as a hand would, gang by gang."""
    found = []
    for r in layout.pieces[piece].routes:
        route = layout.routes[r]
        needs = {p.lever: p.position for p in route.points}
        if all(layout.levers[lever].rest == p for lever, p in needs.items()):
            continue
        positions = rest_positions(layout)
        for control in layout.controls:
            moved = next((lever for lever in control.levers if lever in needs), None)
            if moved is not None:
                word = layout.levers[moved].positions[needs[moved]]
                apply(layout, positions, control, word)
        found.append(tuple(positions))
    return found
