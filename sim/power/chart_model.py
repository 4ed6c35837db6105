"""The chart of states: for every setting, what each section and route is."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from sim.records.model import Kind

State = Literal["live", "dead", "short"]
How = Literal["one pole", "common return", "paralleled", "opposed"]


@dataclass(frozen=True, slots=True)
class DeadStretch:
    """A stretch of a route where no current can flow, and why.

    ``left`` and ``right`` are section ids, None for plastic.
    """

    left: str | None
    right: str | None
    kind: Kind
    from_mm: float
    to_mm: float


@dataclass(frozen=True, slots=True)
class InsulatedSpan:
    """Plastic under one wheel or both; listed apart from dead metal."""

    side: Literal["left", "right", "both"]
    from_mm: float
    to_mm: float


@dataclass(frozen=True, slots=True)
class RouteState:
    """One route in one setting. ``set`` tells whether the levers make it."""

    route: str
    set: bool
    state: State
    dead: tuple[DeadStretch, ...]
    insulated: tuple[InsulatedSpan, ...]


@dataclass(frozen=True, slots=True)
class Short:
    """Poles that are joined though they differ, and the elements that do it."""

    poles: tuple[str, ...]
    elements: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class JoinedSupplies:
    """Two supplies that are no longer independent, how, and through what."""

    poles: tuple[str, ...]
    how: How
    elements: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Setting:
    """One setting of the levers of one group."""

    levers: tuple[tuple[str, str], ...]  #: (lever, position)
    fed_by: tuple[tuple[str, tuple[str, ...]], ...]  #: (section, poles)
    routes: tuple[RouteState, ...]
    shorts: tuple[Short, ...]
    joined: tuple[JoinedSupplies, ...]

    @property
    def dead(self) -> bool:
        """A route that is set is not live."""
        return any(r.set and r.state != "live" for r in self.routes)

    @property
    def short(self) -> bool:
        """Some poles are shorted."""
        return bool(self.shorts)


@dataclass(frozen=True, slots=True)
class Chart:
    """All settings that were charted.

    ``groups`` of levers are independent of one another and charted one by one;
    track that no lever concerns is one more setting, without levers.  ``total`` is
    how many settings there are to chart, 10**15 standing for that many or more;
    ``skipped`` says why some were not.
    """

    scenario: str
    fix: str | None
    settings: tuple[Setting, ...]
    groups: int
    total: int
    skipped: str | None = None


@dataclass(frozen=True, slots=True)
class SettingCounts:
    """How many settings were charted, and how many of them are dead or shorted."""

    total: int
    dead: int
    short: int
