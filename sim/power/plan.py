"""What to chart: the parts of a layout, each with settings of its own levers."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from sim.layout.model import Layout
from sim.layout.traffic import Case
from sim.power.parts import Cut, cut_apart
from sim.power.settings import (
    COUNTLESS,
    number_of_settings,
    rest_positions,
    settings_of,
    timetable_settings,
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
    """All that is to be charted; see :class:`sim.power.chart_model.Chart`."""

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
