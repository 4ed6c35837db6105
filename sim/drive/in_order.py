"""Whether a layout is in order: the one function that every page asks.

In order is a layout in which, in every setting in use, no metal shorts, the
districts stay apart, every drive is clear or hesitates, and whatever is to be kept
live is live.  What only stops a crawl is named and not demanded.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Collection, Iterator, Mapping
from dataclasses import dataclass, field, replace
from typing import Literal

from sim.drive.alone import Player
from sim.drive.drive import Drive, DriveOutcome, Drives
from sim.drive.nets import Nets
from sim.drive.use import has_timetable, in_use, stands_of, trains_of
from sim.layout.model import PLASTIC
from sim.layout.traffic import Case
from sim.power.districts import DistrictJoin, joined_districts
from sim.power.poles import PoleState, Verdict, pole_state, sources_of

Positions = tuple[int, ...]
Why = Literal[
    "short", "short when crossing", "train stops", "districts joined", "not kept live"
]


@dataclass(frozen=True, slots=True)
class DriveCounts:
    """How many drives came to what; ``joining`` are some of all of them."""

    clear: int = 0
    hesitates: int = 0
    stops_at_crawl: int = 0
    stops: int = 0
    shorts: int = 0
    joining: int = 0

    @property
    def total(self) -> int:
        """All drives in use."""
        return self.clear + self.hesitates + self.stops_at_crawl + self.stops + self.shorts


@dataclass(frozen=True, slots=True)
class SettingInUse:
    """One setting: its drives, supplies whose metal shorts, and what is not kept live.

    ``dead_kept`` holds (route, place among its spans, kind of dead) of rails that the
    file says are to be live.
    """

    positions: Positions
    drives: tuple[Drive, ...]
    shorted: tuple[tuple[int, ...], ...]
    dead_kept: tuple[tuple[int, int, Verdict], ...] = ()


@dataclass(frozen=True, slots=True)
class InOrder:
    """What was found. ``faults`` are the reasons why it is not in order."""

    settings: tuple[SettingInUse, ...]
    joined: tuple[DistrictJoin, ...]
    counts: DriveCounts
    by_timetable: bool
    trains: tuple[str, ...]
    why: tuple[Why, ...] = field(default=())

    @property
    def ok(self) -> bool:
        """Whether the layout is in order."""
        return not self.why

    @property
    def shorts(self) -> bool:
        """Whether anything in use shorts, by metal or through a train."""
        return "short" in self.why or "short when crossing" in self.why

    def drives(self, *outcomes: DriveOutcome) -> Iterator[tuple[Positions, Drive]]:
        """Drives of these outcomes, each with its setting."""
        for setting in self.settings:
            for drive in setting.drives:
                if drive.outcome in outcomes:
                    yield setting.positions, drive


class JudgedCase:
    """A case that is asked again and again whether it is in order, with faults in it.

    ``every_setting`` judges every setting of its gangs instead of those in use.  A
    ``player`` that is shared by the cases of one scenario runs what they have in
    common once.
    """

    def __init__(
        self, case: Case, every_setting: bool = False, player: Player | None = None
    ) -> None:
        self.case = case
        self._every_setting = every_setting
        self._player = Player() if player is None else player

    def in_order(
        self,
        *,
        failed: Collection[int] = (),
        welded: Collection[int] = (),
        stuck: Mapping[int, int] | None = None,
    ) -> InOrder:
        """Judge the case; with everything sound unless something is given.

        Elements in ``failed`` are open and contacts in ``welded`` closed throughout
        (indices); levers in ``stuck`` stay at that position (indices) whatever is
        asked of them.  ``failed`` goes before ``welded``.
        """
        case = _with_faults(self.case, frozenset(failed), frozenset(welded))
        return _judge(case, self._every_setting, self._player, stuck or {})


def in_order(case: Case, every_setting: bool = False, player: Player | None = None) -> InOrder:
    """Judge ``case`` once, with everything sound: see :class:`JudgedCase`."""
    return JudgedCase(case, every_setting, player).in_order()


def _with_faults(case: Case, failed: frozenset[int], welded: frozenset[int]) -> Case:
    """``case`` with some elements open, and some contacts closed, for good."""
    if not failed and not welded:
        return case
    elements = list(case.layout.elements)
    for e in welded:
        elements[e] = replace(elements[e], kind="bond", when=())
    for e in failed:
        elements[e] = replace(elements[e], kind="gap", when=())
    return replace(case, layout=replace(case.layout, elements=tuple(elements)))


def _judge(
    case: Case, every_setting: bool, player: Player, stuck: Mapping[int, int]
) -> InOrder:
    drives = Drives(case.layout, case.conduct, player)
    trains, stands = trains_of(case), stands_of(case)
    sources = sources_of(case.layout.supplies)
    kept = set(case.keep_live)
    settings = []
    counts: Counter[DriveOutcome] = Counter()
    joining = 0
    for use in in_use(case, drives.lanes, every_setting, stuck):
        nets = drives.nets(use.positions)
        state = pole_state(_pattern(nets), sources)
        found = []
        for number, route, forward in use.goings:
            stood = stands.get((number, route, forward), ())
            drive = drives.drive(trains[number], route, forward, use.positions, stood)
            if drive is not None:
                found.append(drive)
                counts[drive.outcome] += 1
                joining += bool(drive.joins)
        dead = tuple(_not_live(case, nets, state, kept)) if kept else ()
        settings.append(SettingInUse(use.positions, tuple(found), state.shorts, dead))
    joined = tuple(_in_use(case, joined_districts(case), settings))
    result = DriveCounts(
        counts["clear"],
        counts["hesitates"],
        counts["stops at crawl"],
        counts["stops"],
        counts["shorts"],
        joining,
    )
    names = tuple(train.name for train in trains)
    why = tuple(_why(settings, joined, result))
    return InOrder(tuple(settings), joined, result, has_timetable(case), names, why)


def _why(
    settings: list[SettingInUse], joined: tuple[DistrictJoin, ...], counts: DriveCounts
) -> Iterator[Why]:
    if any(s.shorted for s in settings):
        yield "short"
    if counts.shorts:
        yield "short when crossing"
    if counts.stops:
        yield "train stops"
    if joined:
        yield "districts joined"
    if any(s.dead_kept for s in settings):
        yield "not kept live"


def _pattern(nets: Nets) -> tuple[int, ...]:
    """By pole: the lowest pole of its net, as :mod:`sim.power.poles` has it."""
    lowest: dict[int, int] = {}
    return tuple(lowest.setdefault(net, pole) for pole, net in enumerate(nets.net_of_pole))


def _not_live(
    case: Case, nets: Nets, state: PoleState, kept: set[int]
) -> Iterator[tuple[int, int, Verdict]]:
    pole_of = {net: pole for pole, net in reversed(list(enumerate(nets.net_of_pole)))}
    for number, route in enumerate(case.layout.routes):
        for place, span in enumerate(route.spans):
            both = (span.left, span.right)
            if PLASTIC in both or kept.isdisjoint(both):
                continue
            verdict = state.kind(*(pole_of.get(nets.net(n)) for n in both))
            if verdict is not None:
                yield number, place, verdict


def _in_use(
    case: Case, joins: tuple[DistrictJoin, ...], settings: list[SettingInUse]
) -> Iterator[DistrictJoin]:
    """Joins of districts that some setting in use makes."""
    index = {lever.id: n for n, lever in enumerate(case.layout.levers)}
    names = [lever.positions for lever in case.layout.levers]
    for join in joins:
        needs = [(index[lever], position) for lever, position in join.levers]
        if any(
            all(names[n][s.positions[n]] == position for n, position in needs) for s in settings
        ):
            yield join
