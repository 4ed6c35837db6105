"""What exact odds come to: inert results, ready for pages."""

from __future__ import annotations

from dataclasses import dataclass

from sim.layout.traffic import Assumption
from sim.power.setting_words import SettingWords

#: Parts that fail together, or are good together.
PartSet = tuple[str, ...]


@dataclass(frozen=True, slots=True)
class RouteOdds:
    """One route in one setting that asks for it.

    ``odds`` is the probability that some metal of it is not live, ``short`` that
    some of it is part of a short.  With ``anyway`` some place is dead although
    nothing has failed; ``beyond`` is the probability that another place is not
    live.  ``cuts`` are the smallest of ``cut_count`` minimal cut sets: parts whose
    failing is enough for that.  ``paths`` are the smallest of ``path_count``
    minimal path sets: parts that are enough to keep the rest live.
    """

    route: str
    odds: float
    short: float
    anyway: bool
    beyond: float
    cuts: tuple[PartSet, ...]
    cut_count: int
    paths: tuple[PartSet, ...]
    path_count: int


@dataclass(frozen=True, slots=True)
class SettingOdds:
    """One setting. ``odds`` is that of any place which ought to be live not being so.

    ``short`` is the probability that any supply is shorted.  ``used``: the
    timetable uses this setting.
    """

    setting: SettingWords
    used: bool
    odds: float
    short: float
    routes: tuple[RouteOdds, ...]


@dataclass(frozen=True, slots=True)
class Weight:
    """How much one part matters to the event of :class:`Odds`.

    ``birnbaum``: the event's probability with the part failed, less that with the
    part good.  ``fussell_vesely``: the probability that all of some minimal cut
    set with this part in it has failed, over that of the event (0 where the event
    cannot happen).
    """

    part: str
    kind: str
    chance: float
    birnbaum: float
    fussell_vesely: float


@dataclass(frozen=True, slots=True)
class Odds:
    """Exact odds of one case.

    The event: in a setting drawn at random from those that count, every one as
    likely, some metal place of a route that the levers are set for is not live,
    or its supply is shorted, which without any failure would not be so.  What
    counts are the settings that the timetable uses, or all where it uses but one.

    ``expected`` is the number of set routes that are not live in such a setting,
    on average, those counted that are dead whatever happens; so it compares fixes.
    ``anyway`` is how many of the latter there are, over the settings that count.
    ``left_out`` are faults of the scenario that have no part in these odds, in words.
    """

    scenario: str
    fix: str | None
    odds: float
    short: float
    expected: float
    anyway: int
    settings: tuple[SettingOdds, ...]
    weights: tuple[Weight, ...]
    skipped: tuple[str, ...]
    left_out: tuple[str, ...]
    assumptions: tuple[Assumption, ...]
