"""Which settings of the levers there are, and how one is told.

Which settings of the levers there are to chart.

A setting in the words of the hand that makes it.
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import product

from sim.layout.model import Control, Layout
from sim.layout.traffic import Case

#: More settings than this are not told apart: nobody could read them.
COUNTLESS = 10**15


def rest_positions(layout: Layout) -> list[int]:
    """Position index of every lever at rest."""
    return [x.rest for x in layout.levers]


def apply(layout: Layout, positions: list[int], control: Control, position: str) -> None:
    """Put the levers of ``control`` to ``position`` in ``positions`` (in place)."""
    for lever in control.levers:
        positions[lever] = layout.levers[lever].positions.index(position)


def number_of_settings(layout: Layout) -> int:
    """How many settings the controls have between them; at most :data:`COUNTLESS`."""
    total = 1
    for control in layout.controls:
        total = min(total * max(1, len(control.positions)), COUNTLESS)
    return total


def settings_of(layout: Layout) -> list[tuple[int, ...]]:
    """All settings of the controls of ``layout`` as positions by lever.

    The last control changes fastest.  A gang whose levers have no position in
    common stays at rest.
    """
    movable = [c for c in layout.controls if c.positions]
    rest = rest_positions(layout)
    found = []
    for choice in product(*(c.positions for c in movable)):
        positions = list(rest)
        for control, position in zip(movable, choice, strict=True):
            apply(layout, positions, control, position)
        found.append(tuple(positions))
    return found


def timetable_settings(case: Case) -> list[tuple[int, ...]]:
    """Settings that the timetable uses, in order of first use; at rest first.

    Throws by the clock follow one another, and so do each train's own throws and
    crossings; after a crossing its levers are back where they were.  What two
    trains do at the same time is not combined: that is a matter of the run.
    """
    layout = case.layout
    found = [tuple(rest_positions(layout))]
    positions = rest_positions(layout)
    for throw in sorted(case.throws, key=lambda t: t.at_s):
        apply(layout, positions, layout.controls[throw.control], throw.position)
        found.append(tuple(positions))
    for train in case.trains:
        positions = rest_positions(layout)
        for order in train.orders:
            if order.do == "throw":
                apply(layout, positions, layout.controls[order.control], order.position)
                found.append(tuple(positions))
            elif order.do == "cross":
                found += _crossing_settings(layout, order.piece, positions)
    return list(dict.fromkeys(found))


def _crossing_settings(layout: Layout, piece: int, before: list[int]) -> list[tuple[int, ...]]:
    """Each crossing route of ``piece`` set as a hand would, gang by gang."""
    found = []
    for r in layout.pieces[piece].routes:
        needs = {p.lever: p.position for p in layout.routes[r].points}
        if all(layout.levers[lever].rest == p for lever, p in needs.items()):
            continue
        positions = list(before)
        for control in layout.controls:
            moved = next((lever for lever in control.levers if lever in needs), None)
            if moved is not None:
                word = layout.levers[moved].positions[needs[moved]]
                apply(layout, positions, control, word)
        found.append(tuple(positions))
    return found


#: (gang or lever, position) pairs.
SettingWords = tuple[tuple[str, str], ...]


def setting_words(layout: Layout, positions: Sequence[int]) -> SettingWords:
    """Gangs by their own name, levers that disagree with their gang by theirs.

    ``positions`` has a position index by lever.
    """
    found: list[tuple[str, str]] = []
    for control in layout.controls:
        words = [layout.levers[x].positions[positions[x]] for x in control.levers]
        if len(set(words)) == 1:
            found.append((control.id, words[0]))
        else:
            ids = [layout.levers[x].id for x in control.levers]
            found += zip(ids, words, strict=True)
    return tuple(found)
