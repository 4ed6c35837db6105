"""Whether a layout is in order: the one function that every page asks.

In order is a layout in which, in every setting in use, no metal shorts, the
districts stay apart, every drive is clear or hesitates, and whatever is to be kept
live is live.  What only stops a crawl is named and not demanded.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from functools import cached_property
from typing import Literal

from sim.drive.alone import Player
from sim.drive.changes import Driver, Going, Ground, RoutesOf, State
from sim.drive.drive import Drive, DriveOutcome, Drives
from sim.drive.nets import Nets, NetsOf
from sim.drive.use import Use, has_timetable, in_use, stands_of, trains_of, with_stuck
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


@dataclass(frozen=True, slots=True, eq=False)
class SettingInUse:
    """One setting: its drives, supplies whose metal shorts, and what is not kept live.

    ``dead_kept`` holds (route, place among its spans, kind of dead) of rails that the
    file says are to be live.
    """

    positions: Positions
    shorted: tuple[tuple[int, ...], ...]
    dead_kept: tuple[tuple[int, int, Verdict], ...]
    _part: _Part
    _state: State
    _astray: tuple[Drive, ...]

    @property
    def drives(self) -> tuple[Drive, ...]:
        """Every drive in this setting, train by train."""
        there = (self._part.drive(own, self._state) for own in self._part.like)
        return (*(drive for drive in there if drive is not None), *self._astray)

    def unlike(self, first: SettingInUse) -> Iterator[Drive]:
        """Drives that are not what they are in the ``first`` setting of the same part."""
        part, here, there = self._part, self._state, first._state
        for like in dict.fromkeys((*here.other, *there.other)):
            if here.way(like).drive != there.way(like).drive:
                for own in part.users.get(like, ()):
                    drive = part.drive(own, here)
                    if drive is not None:
                        yield drive
        yield from self._astray


@dataclass(frozen=True, slots=True)
class InOrder:
    """What was found. ``why`` are the reasons why it is not in order."""

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

    def different(self, *outcomes: DriveOutcome) -> Iterator[tuple[Positions, Drive]]:
        """The same, but a drive that comes out as in the first setting is told once."""
        first: SettingInUse | None = None
        for setting in self.settings:
            if first is None or first._part is not setting._part:
                first = setting
                found: Iterable[Drive] = setting.drives
            else:
                found = setting.unlike(first)
            for drive in found:
                if drive.outcome in outcomes:
                    yield setting.positions, drive


class _Part:
    """Settings in use that are judged together, with everything sound."""

    def __init__(self, judged: JudgedCase, use: Use) -> None:
        drives, driver = judged.drives, judged.driver
        self._driver = driver
        self.asked, self.reached = use.settings, use.reached
        self.shut_in = [frozenset(drives.lanes.shut_in(p)) for p in use.settings]
        #: by going: that of a train that is alike, in the order told
        self.like: dict[Going, Going] = {}
        for train, over in enumerate(use.reached):
            for route, forward in over:
                going = train, route, forward
                self.like[going] = driver.stand_in(going)
        #: the other way round
        self.users: dict[Going, list[Going]] = {}
        for own, like in self.like.items():
            self.users.setdefault(like, []).append(own)
        first = drives.nets_of.of(use.settings[0])
        ground = Ground(driver, first, self.shut_in[0])
        self.counts: Counter[str] = Counter()
        for like, users in self.users.items():
            _count(self.counts, ground.way(like).drive, len(users))
        start = State(ground, first, self.shut_in[0])
        self.states = [start]
        for positions, shut in zip(use.settings[1:], self.shut_in[1:], strict=True):
            nets = drives.nets_of.of(positions)
            changed = judged.routes_of.changed(first, nets)
            self.states.append(start.moved(nets, shut, changed))

    def drive(self, own: Going, state: State) -> Drive | None:
        """What a train does in some state of this part."""
        drive = state.way(self.like[own]).drive
        return None if drive is None else replace(drive, train=self._driver.name(own))

    def count(self, state: State) -> Counter[str]:
        """How many drives come to what."""
        found = self.counts.copy()
        for like, way in state.other.items():
            times = len(self.users.get(like, ()))
            _count(found, state.ground.way(like).drive, -times)
            _count(found, way.drive, times)
        return found


def _count(counts: Counter[str], drive: Drive | None, times: int) -> None:
    if drive is not None:
        counts[drive.outcome] += times
        counts["joining"] += times * bool(drive.joins)


class JudgedCase:
    """A case that is asked again and again whether it is in order, with faults in it.

    ``every_setting`` judges every setting of its gangs instead of those in use.  A
    ``player`` that is shared by the cases of one scenario runs what they have in
    common once.  The first question costs what the case costs, any other what its
    faults change.
    """

    def __init__(
        self, case: Case, every_setting: bool = False, player: Player | None = None
    ) -> None:
        self.case = case
        self._every_setting = every_setting
        self._trains = trains_of(case)
        self.drives = Drives(case.layout, case.conduct, player)
        self.driver = Driver(case.layout, self.drives, self._trains, stands_of(case))
        self.routes_of = RoutesOf(case.layout)
        self._sources = sources_of(case.layout.supplies)

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
        stuck = dict(stuck or {})
        nets_of = self.drives.nets_of
        parts = self._parts  # first of all with everything sound
        if failed or welded:
            nets_of = NetsOf(self.case.layout, frozenset(failed), frozenset(welded), nets_of)
        settings: list[SettingInUse] = []
        counts: Counter[str] = Counter()
        lost = [use.reached for use in self._uses(stuck)] if stuck else []
        for number, part in enumerate(parts):
            more = _beyond(lost[number], part.reached) if stuck else ()
            for asked, sound, shut in zip(part.asked, part.states, part.shut_in, strict=True):
                state = sound
                if failed or welded or stuck:
                    nets = nets_of.of(with_stuck(asked, stuck))
                    changed = self.routes_of.changed(sound.nets, nets)
                    state = sound.moved(nets, shut, changed)
                astray = tuple(self._astray(part, state, asked, stuck, more)) if stuck else ()
                settings.append(self._setting(part, state, astray))
                counts.update(part.count(state))
                for drive in astray:
                    _count(counts, drive, 1)
        return self._concluded(settings, counts, frozenset(failed), frozenset(welded))

    @cached_property
    def _parts(self) -> list[_Part]:
        return [_Part(self, use) for use in self._uses({})]

    def _uses(self, stuck: Mapping[int, int]) -> tuple[Use, ...]:
        return in_use(self.case, self.drives.lanes, self._every_setting, stuck)

    def _astray(
        self,
        part: _Part,
        state: State,
        asked: Positions,
        stuck: Mapping[int, int],
        more: Sequence[Going],
    ) -> Iterator[Drive]:
        """What is driven because levers have stayed behind, and in no other case.

        Routes that a train comes to only so; and instead of those that were asked for
        what it comes onto, up to the blades that lie against it.
        """
        lanes, nets = self.drives.lanes, state.nets
        shut = frozenset(lanes.shut_in(asked))
        found: dict[Going, None] = {}
        for going in more:
            if lanes.is_set(going[1], nets.positions) and going[1] not in shut:
                found[going] = None
        for going in (*part.like, *more):
            train, route, forward = going
            if not stuck.keys() & self.driver.levers(route) or route in shut:
                continue
            if lanes.is_set(route, nets.positions) or not lanes.is_set(route, asked):
                continue
            instead = lanes.comes_onto(route, forward, nets.positions)
            if instead is not None and not self._is_told(part, state, (train, *instead)):
                found[train, *instead] = None
        for going in found:
            drive = self.driver.way(going, nets, True).drive
            if drive is not None:
                yield replace(drive, train=self.driver.name(going))

    def _is_told(self, part: _Part, state: State, going: Going) -> bool:
        return going in part.like and state.way(part.like[going]).drive is not None

    def _setting(self, part: _Part, state: State, astray: tuple[Drive, ...]) -> SettingInUse:
        poles = pole_state(_pattern(state.nets), self._sources)
        dead = tuple(self._not_live(state.nets, poles)) if self._kept else ()
        return SettingInUse(state.nets.positions, poles.shorts, dead, part, state, astray)

    @cached_property
    def _kept(self) -> list[tuple[int, int, int, int]]:
        """(route, place among its spans, left, right) of what is to be kept live."""
        kept = set(self.case.keep_live)
        return [
            (number, place, span.left, span.right)
            for number, route in enumerate(self.case.layout.routes if kept else ())
            for place, span in enumerate(route.spans)
            if PLASTIC not in (span.left, span.right)
            and not kept.isdisjoint((span.left, span.right))
        ]

    def _not_live(self, nets: Nets, poles: PoleState) -> Iterator[tuple[int, int, Verdict]]:
        pole_of = {net: pole for pole, net in reversed(list(enumerate(nets.net_of_pole)))}
        for number, place, left, right in self._kept:
            verdict = poles.kind(pole_of.get(nets.net(left)), pole_of.get(nets.net(right)))
            if verdict is not None:
                yield number, place, verdict

    @cached_property
    def _sound_joins(self) -> tuple[DistrictJoin, ...]:
        return joined_districts(self.case)

    def _concluded(
        self,
        settings: list[SettingInUse],
        counts: Counter[str],
        failed: frozenset[int],
        welded: frozenset[int],
    ) -> InOrder:
        joins = self._sound_joins
        if welded or (failed and joins):
            joins = joined_districts(_with_faults(self.case, failed, welded))
        joined = tuple(_in_use(self.case, joins, settings))
        result = DriveCounts(
            counts["clear"],
            counts["hesitates"],
            counts["stops at crawl"],
            counts["stops"],
            counts["shorts"],
            counts["joining"],
        )
        names = tuple(train.name for train in self._trains)
        why = tuple(_why(settings, joined, result))
        return InOrder(tuple(settings), joined, result, has_timetable(self.case), names, why)


def in_order(case: Case, every_setting: bool = False, player: Player | None = None) -> InOrder:
    """Judge ``case`` once, with everything sound: see :class:`JudgedCase`."""
    return JudgedCase(case, every_setting, player).in_order()


def _beyond(
    reached: Sequence[Sequence[tuple[int, bool]]], sound: Sequence[Sequence[tuple[int, bool]]]
) -> list[Going]:
    """What trains come to that they do not come to otherwise."""
    found: list[Going] = []
    for train, (now, before) in enumerate(zip(reached, sound, strict=True)):
        found += ((train, *over) for over in sorted(set(now) - set(before)))
    return found


def _with_faults(case: Case, failed: frozenset[int], welded: frozenset[int]) -> Case:
    """``case`` with some elements open, and some contacts closed, for good."""
    elements = list(case.layout.elements)
    for e in welded:
        elements[e] = replace(elements[e], kind="bond", when=())
    for e in failed:
        elements[e] = replace(elements[e], kind="gap", when=())
    return replace(case, layout=replace(case.layout, elements=tuple(elements)))


def _why(
    settings: Sequence[SettingInUse], joined: tuple[DistrictJoin, ...], counts: DriveCounts
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


def _in_use(
    case: Case, joins: tuple[DistrictJoin, ...], settings: Sequence[SettingInUse]
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
