"""Which of very many settings are told, so that the rest follow from them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from sim.power.chart_model import Setting

#: More different settings than this are not told one by one.
TOLD_AT_MOST = 24


def thrown_from(first: Setting, other: Setting) -> tuple[tuple[str, str], ...]:
    """Levers that lie otherwise than in ``first``, as they lie in ``other``."""
    return tuple(b for a, b in zip(first.levers, other.levers, strict=True) if a != b)


def one_thing_thrown(settings: Sequence[Setting]) -> list[Setting]:
    """Settings that differ from the first by one lever or gang only.

    What is thrown in one of them is not part of what is thrown in any that comes
    to be told before it: two gangs thrown are told by each of them alone.
    """
    first = settings[0]
    thrown = {n: frozenset(x for x, _ in thrown_from(first, s)) for n, s in enumerate(settings)}
    kept: list[tuple[frozenset[str], int]] = []
    for n in sorted(range(1, len(settings)), key=lambda n: (len(thrown[n]), n)):
        if not any(levers < thrown[n] for levers, _ in kept):
            kept.append((thrown[n], n))
    return [settings[n] for n in sorted(n for _, n in kept)]


def against(first: Setting, other: Setting) -> Setting:
    """``other`` with only those sections and routes that differ from ``first``."""
    fed, routes = set(first.fed_by), set(first.routes)
    return replace(
        other,
        levers=thrown_from(first, other),
        fed_by=tuple(f for f in other.fed_by if f not in fed),
        routes=tuple(r for r in other.routes if r not in routes),
    )
