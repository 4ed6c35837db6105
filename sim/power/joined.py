"""Name what makes a short, and what joins two supplies, element by element."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from itertools import combinations
from typing import TYPE_CHECKING

from sim.layout.model import Layout, Supply
from sim.power.poles import Pattern

if TYPE_CHECKING:  # a window that writes names of poles makes no chart
    from sim.power.chart_model import How, JoinedSupplies, Short

#: The elements that join two poles, by the poles' numbers; [] when nothing does.
Path = Callable[[int, int], list[int]]


def short_of(layout: Layout, pattern: Pattern, supplies: Sequence[int], path: Path) -> Short:
    """The short of ``supplies``: every two of their poles that share a net, and by what.

    ``path`` finds the elements between two poles in the setting asked about.
    """
    from sim.power.chart_model import Short

    nets = _by_net(pattern, (p for s in supplies for p in (2 * s, 2 * s + 1)))
    joined = [poles for poles in nets if len(poles) > 1]
    elements: dict[int, None] = {}
    for first, *others in joined:
        for other in others:
            elements.update(dict.fromkeys(path(first, other)))
    names = [pole_name(layout, p) for poles in joined for p in poles]
    return Short(tuple(names), tuple(layout.elements[e].id for e in elements))


def joined_supplies(layout: Layout, pattern: Pattern, path: Path) -> tuple[JoinedSupplies, ...]:
    """Every two supplies that rails or wires join.

    ``pattern`` and ``path`` are of the elements without those of a declared
    common: supplies that share a common and nothing else are not joined.
    """
    met: dict[tuple[int, int], list[tuple[int, int]]] = {}
    for poles in _by_net(pattern, range(len(pattern))):
        for p, q in combinations(poles, 2):
            if p // 2 != q // 2:
                met.setdefault((p // 2, q // 2), []).append((p, q))
    return tuple(
        _joined(layout, layout.supplies[a], layout.supplies[b], sorted(pairs), path)
        for (a, b), pairs in sorted(met.items())
    )


def _by_net(pattern: Pattern, poles: Iterable[int]) -> list[list[int]]:
    """The given poles, those of one net together."""
    nets: dict[int, list[int]] = {}
    for pole in poles:
        nets.setdefault(pattern[pole], []).append(pole)
    return list(nets.values())


def pole_node(layout: Layout, pole: int) -> int:
    """Node of pole number ``pole``."""
    supply = layout.supplies[pole // 2]
    return supply.minus if pole % 2 else supply.plus


def pole_name(layout: Layout, pole: int) -> str:
    """Name of pole number ``pole``: ``supply+`` or ``supply-``."""
    return f"{layout.supplies[pole // 2].name}{'-' if pole % 2 else '+'}"


def _joined(
    layout: Layout, a: Supply, b: Supply, pairs: Sequence[tuple[int, int]], path: Path
) -> JoinedSupplies:
    from sim.power.chart_model import JoinedSupplies

    elements: dict[int, None] = {}
    for p, q in pairs:
        elements.update(dict.fromkeys(path(p, q)))
    poles = sorted({p for pair in pairs for p in pair})
    return JoinedSupplies(
        tuple(pole_name(layout, p) for p in poles),
        how_joined(a, b, pairs),
        tuple(layout.elements[e].id for e in elements),
    )


def how_joined(a: Supply, b: Supply, pairs: Sequence[tuple[int, int]]) -> How:
    """One of the four ways in which two supplies can be joined.

    ``pairs`` are a pole of ``a`` and a pole of ``b`` that share a net.  By two
    poles: like to like is in phase unless one supply is turned at its terminals,
    like to unlike the other way round; all four in one net is opposed, being a
    short of both.
    """
    ways = {p % 2 == q % 2 for p, q in pairs}
    if len({p for p, _ in pairs}) == 2 and len({q for _, q in pairs}) == 2:
        return "paralleled" if ways == {a.reversed == b.reversed} else "opposed"
    if a.common is not None and a.common == b.common:
        return "common return"
    return "one pole"
