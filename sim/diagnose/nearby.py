"""Where it is worth reading next: places, settings and wheres near what is suspected."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from sim.diagnose.model import Fault
from sim.diagnose.next_reading import Reachable, settings_near
from sim.diagnose.states import LAYOUT
from sim.layout.model import PLASTIC, Layout
from sim.power.settings import rest_positions
from sim.readings.model import Positions
from sim.readings.places import Reach, pieces_at, places_of

#: Places and pieces that suggestions come from, in a big layout those nearest to suspects.
PLACES_AT_MOST = 40
PIECES_AT_MOST = 6
BENCH = "bench"


@dataclass(frozen=True, slots=True)
class Ways:
    """How may be read; see :class:`sim.diagnose.locate.Locator`."""

    where: tuple[str, ...]
    worst: Reach
    lamps: bool
    each: bool


def near(
    layout: Layout,
    suspects: Iterable[Fault],
    at: Iterable[int],
    last: Positions | None,
    ways: Ways,
) -> Reachable:
    """Readings near ``suspects`` and near nodes ``at`` which something was read.

    Of many pieces some are taken, spread evenly over them.
    """
    pieces = _pieces(layout, list(suspects), at)
    most = PLACES_AT_MOST * 2
    if len(pieces) > PIECES_AT_MOST:
        step = len(pieces) // PIECES_AT_MOST
        moved = [x.piece for x in layout.levers if x.piece in set(pieces)][:2]
        pieces = list(dict.fromkeys([*pieces[::step][: PIECES_AT_MOST + 1], *moved]))
        most = PLACES_AT_MOST
    base = tuple(rest_positions(layout)) if last is None else last
    levers = [x for k in pieces for x in layout.pieces[k].levers]
    wheres = [w for w in dict.fromkeys(ways.where) if w != BENCH]
    if BENCH in ways.where:
        wheres += [layout.pieces[k].id for k in pieces]
    lamps = _lamps(layout, pieces) if ways.lamps and LAYOUT in wheres else ()
    return Reachable(
        places_of(layout, pieces)[:most],
        settings_near(layout, levers, base, ways.each),
        tuple(wheres),
        lamps,
        ways.worst,
    )


def _pieces(layout: Layout, suspects: Sequence[Fault], at: Iterable[int]) -> list[int]:
    nodes: list[int] = []
    levers: list[int] = []
    for f in suspects:
        if f.kind == "lever does not follow":
            levers.append(layout.levers[f.index].piece)
        elif f.kind != "supply off":
            nodes += [layout.elements[f.index].a, layout.elements[f.index].b]
    found = [*pieces_at(layout, nodes), *levers, *pieces_at(layout, at)]
    return list(dict.fromkeys(found)) or list(range(len(layout.pieces)))


def _lamps(layout: Layout, pieces: Iterable[int]) -> tuple[tuple[int, int], ...]:
    """Pairs of rails along the routes of ``pieces``, where there is a supply."""
    if not layout.supplies:
        return ()
    found: dict[tuple[int, int], None] = {}
    for k in pieces:
        for r in layout.pieces[k].routes:
            for span in layout.routes[r].spans:
                if PLASTIC not in (span.left, span.right):
                    found[span.left, span.right] = None
    return tuple(found)
