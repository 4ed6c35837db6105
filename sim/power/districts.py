"""Which elements join the rails of two districts, in some setting of the levers.

All feeders, buses and commons count as lifted: what is asked is whether the rails
themselves keep the districts apart.  Every lever is taken by itself, because one
that does not follow its gang is what a builder must reckon with.

A way from one district to another runs, between the last rail of the one and the
first of the other, over rails of neither.  So elements are gathered into small
*patches* that meet only in rails of districts, and each patch is traced for the
settings of its own levers alone, all at once (see :mod:`sim.power.bit_reach`).
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import reduce
from itertools import combinations, product
from math import comb
from operator import and_

from sim.layout.model import Layout
from sim.layout.traffic import Case
from sim.power.bit_reach import spread_all
from sim.power.graph import shortest_way
from sim.power.trace import closed_bits, literal_bits
from sim.power.wiring import Forest

#: Settings of one patch that are traced at most.
SETTINGS_AT_MOST = 1 << 14
_LIFTED = ("feeder", "bus", "common", "gap")
_NONE = -1


@dataclass(frozen=True, slots=True)
class DistrictJoin:
    """One way in which elements join two districts.

    ``levers`` are the (lever, position) that it takes; none means in every
    setting.  ``elements`` go from a rail of the first district to one of the second.
    """

    districts: tuple[str, str]
    levers: tuple[tuple[str, str], ...]
    elements: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class _Patch:
    """Elements that join one another over rails of no district, and their levers."""

    elements: tuple[int, ...]
    levers: tuple[int, ...]


def joined_districts(case: Case) -> tuple[DistrictJoin, ...]:
    """Every way in which rails of two districts are joined with all feeders lifted.

    Together the ways cover every setting that joins the two; in the order of the
    elements.  A patch with so many levers that it has more than
    :data:`SETTINGS_AT_MOST` settings is traced with as many of them away from rest
    at a time as fit.
    """
    layout = case.layout
    district = [_NONE] * len(layout.nodes)
    for number, d in enumerate(layout.districts):
        for n in d.nodes:
            district[n] = number
    found: dict[DistrictJoin, None] = {}
    for patch in _patches(layout, district):
        found.update(dict.fromkeys(_joins(layout, district, patch)))
    return tuple(found)


def _patches(layout: Layout, district: Sequence[int]) -> Iterator[_Patch]:
    """Patches that touch more than one district."""
    forest = Forest(len(layout.nodes))
    usable = []
    for i, e in enumerate(layout.elements):
        here, there = district[e.a], district[e.b]
        if e.kind in _LIFTED or (here == there != _NONE):
            continue
        usable.append(i)
        if here == there:
            forest.join(e.a, e.b)
    members: dict[tuple[str, int], list[int]] = {}
    for i in usable:
        e = layout.elements[i]
        free = next((n for n in (e.a, e.b) if district[n] == _NONE), None)
        key = ("between", i) if free is None else ("free", forest.find(free))
        members.setdefault(key, []).append(i)
    for elements in members.values():
        ends = (n for i in elements for n in (layout.elements[i].a, layout.elements[i].b))
        if len({district[n] for n in ends} - {_NONE}) > 1:
            clauses = (c for i in elements for c in layout.elements[i].when)
            levers = sorted({lever for clause in clauses for lever, _ in clause})
            yield _Patch(tuple(elements), tuple(levers))


def _joins(layout: Layout, district: Sequence[int], patch: _Patch) -> Iterator[DistrictJoin]:
    settings = list(_settings(layout, patch.levers))
    all_bits = (1 << len(settings)) - 1
    literal = literal_bits(layout, settings)
    closed = {
        i: closed_bits(e.when, literal, all_bits) if e.kind == "contact" else all_bits
        for i, e in ((i, layout.elements[i]) for i in patch.elements)
    }
    for a, b, bits in _meetings(layout, district, closed, all_bits):
        while bits:
            k = (bits & -bits).bit_length() - 1
            path = _path(layout, district, [i for i in closed if closed[i] >> k & 1], a, b)
            needed = _needed(layout, path, settings[k])
            yield _described(layout, (a, b), path, needed)
            bits &= ~reduce(and_, (literal[pair] for pair in needed), all_bits)


def _settings(layout: Layout, levers: Sequence[int]) -> Iterator[tuple[int, ...]]:
    """Settings of ``levers``, fewest away from rest first; the others at rest."""
    rest = tuple(x.rest for x in layout.levers)
    ways = max((len(layout.levers[x].positions) for x in levers), default=1) - 1
    room = SETTINGS_AT_MOST
    for moved in range(len(levers) + 1):
        room -= comb(len(levers), moved) * ways**moved
        if room < 0 and moved > 1:
            return
        for some in combinations(levers, moved):
            others = ([p for p in _places(layout, x) if p != rest[x]] for x in some)
            for choice in product(*others):
                positions = list(rest)
                for lever, position in zip(some, choice, strict=True):
                    positions[lever] = position
                yield tuple(positions)


def _places(layout: Layout, lever: int) -> range:
    return range(len(layout.levers[lever].positions))


def _meetings(
    layout: Layout, district: Sequence[int], closed: dict[int, int], all_bits: int
) -> Iterator[tuple[int, int, int]]:
    """Pairs of districts that some setting joins within a patch, with those settings."""
    index: dict[tuple[int, int], int] = {}

    def point(n: int) -> int:
        # All rails of a district are one point: it is asked which districts meet.
        key = (district[n], _NONE) if district[n] != _NONE else (_NONE, n)
        return index.setdefault(key, len(index))

    edges = [
        (point(layout.elements[i].a), point(layout.elements[i].b), b) for i, b in closed.items()
    ]
    found = sorted((d, p) for (d, _), p in index.items() if d != _NONE)
    # A way that passes a third district is two ways: cut each district's spread there.
    for (a, start), (b, end) in combinations(found, 2):
        inner = [e for e in edges if not {e[0], e[1]} & {p for _, p in found} - {start, end}]
        bits = spread_all(len(index), inner, (start,), all_bits)[0][end]
        if bits:
            yield a, b, bits


def _path(
    layout: Layout, district: Sequence[int], closed: Sequence[int], a: int, b: int
) -> list[int]:
    """Elements of a shortest way from district ``a`` to ``b`` over rails of neither."""
    touching: dict[int, list[tuple[int, int]]] = {}
    for i in closed:
        e = layout.elements[i]
        touching.setdefault(e.a, []).append((i, e.b))
        touching.setdefault(e.b, []).append((i, e.a))
    way = shortest_way(
        (node for node in touching if district[node] == a),
        lambda here: (step for step in touching[here] if district[step[1]] in (_NONE, b)),
        lambda node: district[node] == b,
    )
    assert way, "districts that meet have a way between them"
    return way


def _needed(
    layout: Layout, path: Sequence[int], positions: Sequence[int]
) -> list[tuple[int, int]]:
    """The (lever, position) that close the contacts of ``path`` in one setting."""
    found: set[tuple[int, int]] = set()
    for i in path:
        e = layout.elements[i]
        if e.kind == "contact":
            holds = (c for c in e.when if all(positions[x] == p for x, p in c))
            found.update(next(holds))
    return sorted(found)


def _described(
    layout: Layout,
    districts: tuple[int, int],
    path: Sequence[int],
    needed: Sequence[tuple[int, int]],
) -> DistrictJoin:
    a, b = districts
    levers = ((layout.levers[x], p) for x, p in needed)
    return DistrictJoin(
        (layout.districts[a].name, layout.districts[b].name),
        tuple((lever.id, lever.positions[p]) for lever, p in levers),
        tuple(layout.elements[i].id for i in path),
    )
