"""Exact odds of every route in every setting, and what they come to.

What exact odds come to: inert results, ready for pages.

Exact odds of a layout: of every route in every setting, and of anything at all.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from math import prod

from sim.analyses.odds.basic_events import Doubts, left_out, off_from_the_start
from sim.analyses.odds.cut_sets import Families
from sim.analyses.odds.decision_diagrams import Diagrams, TooLargeError, When
from sim.layout.model import Route
from sim.layout.traffic import Assumption, Case
from sim.power.parts import Part, parts_of
from sim.power.settings import SettingWords, setting_words, timetable_settings
from sim.power.trace import Positions, Traced, why_not_live

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


#: Settings whose odds are worked out at most.
SETTINGS_AT_MOST = 256
#: Minimal sets that are listed of each route.
SETS_TOLD = 50
#: Decimals of a probability: far below what any assumption is worth.
DIGITS = 12


def exact_odds(case: Case, each: bool = False) -> Odds:
    """The odds of ``case``. Gangs move together, or with ``each`` every lever alone."""
    plan = parts_of(case, each, SETTINGS_AT_MOST)
    skipped = [] if plan.skipped is None else [plan.skipped]
    used = set(timetable_settings(case))
    off = off_from_the_start(case.wear)
    settings: list[SettingOdds] = []
    shares: list[_Share] = []
    for part in plan.parts:
        try:
            found, share = _Part(part, used, off).odds()
        except TooLargeError as error:
            name = part.layout.nodes[0].partition("/")[0] if part.layout.nodes else "?"
            skipped.append(
                f"The odds of the part with module {name} need {error}: too much hangs "
                "together there. Ask about fewer modules at a time."
            )
            continue
        settings += found
        shares.append(share)
    clear = prod(1.0 - share.odds for share in shares)
    no_short = prod(1.0 - share.short for share in shares)
    return Odds(
        case.scenario,
        case.fix,
        _rounded(1.0 - clear),
        _rounded(1.0 - no_short),
        _rounded_number(sum(share.expected for share in shares)),
        sum(share.anyway for share in shares),
        tuple(settings),
        tuple(_weights(shares, 1.0 - clear)),
        tuple(skipped),
        left_out(case.wear),
        case.assumptions,
    )


@dataclass(slots=True)
class _Share:
    """One part's share in the event, averaged over its settings that count."""

    odds: float
    short: float
    expected: float
    anyway: int
    doubts: Doubts
    slopes: list[float]
    by_cuts: list[float]


def _weights(shares: Sequence[_Share], odds: float) -> Iterator[Weight]:
    """All parts that may fail, the one that the event hangs on most first."""
    found = []
    for share in shares:
        others = prod(1.0 - s.odds for s in shares if s is not share)
        for doubt, slope, cut in zip(
            share.doubts.all, share.slopes, share.by_cuts, strict=True
        ):
            weight = Weight(
                doubt.part,
                doubt.kind,
                doubt.chance,
                _rounded(slope * others),
                _rounded(cut / odds) if odds > 0.0 else 0.0,
            )
            found.append(weight)
    yield from sorted(found, key=lambda w: (-w.fussell_vesely, -w.birnbaum, w.part))


class _Part:
    """The odds of one part of a layout."""

    def __init__(self, part: Part, used: set[Positions], off: Mapping[str, float]) -> None:
        self.part, self.layout = part, part.layout
        self.doubts = Doubts(part.layout, off)
        self.diagrams = Diagrams(len(self.doubts.all))
        self.families = Families(self.diagrams)
        self._nothing = [False] * len(self.doubts.all)
        self._names = [d.part for d in self.doubts.all]
        levers = part.cut.levers
        own = {tuple(s[i] for i in levers) for s in used}
        self.used = [s in own for s in part.own_settings]

    def odds(self) -> tuple[list[SettingOdds], _Share]:
        """Every setting, and the part's share in the event."""
        count = len(self.doubts.all)
        # A timetable that throws nothing says nothing about the settings that matter.
        counts = self.used if sum(self.used) > 1 else [True] * len(self.used)
        share = _Share(0.0, 0.0, 0.0, 0, self.doubts, [0.0] * count, [0.0] * count)
        settings = []
        for asked, used, counted in zip(self.part.own_settings, self.used, counts, strict=True):
            odds, event = self._setting(asked, used)
            settings.append(odds)
            if counted:
                self._add(share, odds, event, 1.0 / sum(counts))
        return settings, share

    def _setting(self, asked: Positions, used: bool) -> tuple[SettingOdds, When]:
        traced = self.doubts.traced(self.diagrams, asked)
        event = traced.no_bits
        routes = []
        for route in self.layout.routes:
            if any(asked[p.lever] != p.position for p in route.points):
                continue
            odds, beyond = self._route(traced, route)
            routes.append(odds)
            event = event | beyond
        short = traced.short_bits()
        return (
            SettingOdds(
                setting_words(self.layout, asked),
                used,
                self._chance(event),
                self._chance(short),
                tuple(routes),
            ),
            event,
        )

    def _route(self, traced: Traced[When], route: Route) -> tuple[RouteOdds, When]:
        """The odds of a route, and when a place that ought to be live is not."""
        bad, short, beyond = (traced.no_bits for _ in range(3))
        anyway = False
        for why in why_not_live(traced, route):
            here = traced.no_bits
            for verdict, when in why.items():
                here = here | when
                short = short | when if verdict == "short" else short
            bad = bad | here
            if self.diagrams.holds(here.node, self._nothing):
                anyway = True
            else:
                beyond = beyond | here
        cuts, cut_count = self._told(self.families.cuts(beyond.node))
        paths, path_count = self._told(self.families.paths((~beyond).node))
        odds = RouteOdds(
            route=route.id,
            odds=self._chance(bad),
            short=self._chance(short),
            anyway=anyway,
            beyond=self._chance(beyond),
            cuts=cuts,
            cut_count=cut_count,
            paths=paths,
            path_count=path_count,
        )
        return odds, beyond

    def _told(self, family: int) -> tuple[tuple[PartSet, ...], int]:
        names = self._names
        sets = self.families.smallest(family, SETS_TOLD)
        return tuple(tuple(names[v] for v in s) for s in sets), self.families.count(family)

    def _chance(self, when: When) -> float:
        return _rounded(self.diagrams.probability(when.node, self.doubts.chances))

    def _add(self, share: _Share, odds: SettingOdds, event: When, weight: float) -> None:
        share.odds += weight * self.diagrams.probability(event.node, self.doubts.chances)
        share.short += weight * odds.short
        share.expected += weight * sum(r.odds for r in odds.routes)
        share.anyway += sum(r.anyway for r in odds.routes)
        for variable, slope in self.diagrams.slopes(event.node, self.doubts.chances).items():
            share.slopes[variable] += weight * slope
            with_it = self.families.with_(self.families.cuts(event.node), variable)
            cut = self.families.as_diagram(with_it)
            chance = self.diagrams.probability(cut, self.doubts.chances)
            share.by_cuts[variable] += weight * chance


def _rounded_number(number: float) -> float:
    return round(number, DIGITS) + 0.0


def _rounded(chance: float) -> float:
    return round(min(1.0, max(-1.0, chance)), DIGITS) + 0.0
