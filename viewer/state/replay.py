"""A record played back: what every lever, contact, supply and train is at any time."""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Iterator
from dataclasses import dataclass, field
from typing import Literal

from sim.faults.kinds import HOLDS, KINDS
from sim.judge.verdict import section_named
from sim.layout.traffic import Case
from sim.pages.phrases import cause_line
from sim.power.settings import rest_positions
from sim.records.model import Change, Motion, Record, Stall
from viewer.state.moment import MOVING, Moment
from viewer.state.nets import Nets
from viewer.state.trains import Fleet, StandingTrain, stall_ends

MarkKind = Literal["stall", "hesitation", "dropout", "throw", "fault", "trip", "accident"]

#: Events of a record that are marks on the time line, by what they count as.
EVENT_MARKS: dict[str, MarkKind] = {
    "throw": "throw",
    "did not follow": "fault",
    "stayed open": "fault",
    "fault": "fault",
    "mended": "fault",
}


@dataclass(frozen=True, slots=True)
class TimeMark:
    """Something worth stopping at."""

    time_s: float
    kind: MarkKind
    says: str


@dataclass(slots=True)
class _Cursor:
    """State of everything that switches, up to ``done`` changes in."""

    positions: list[int]
    closed: set[int]
    off: set[int]
    tired: set[int] = field(default_factory=set)
    held: dict[int, str] = field(default_factory=dict)
    done: int = 0


def nets_of(case: Case) -> Nets:
    """Nets in which everything that a run of ``case`` may open is kept apart."""
    from sim.run.faults import can_break  # a window opens before anything is run

    return Nets(case.layout, loose=can_break(case))


class Replay:
    """Answers ``at(time_s)`` from a case and a record of it made with motions."""

    def __init__(self, case: Case, record: Record, nets: Nets | None = None) -> None:
        self.nets = nets or nets_of(case)
        from sim.run.faults import with_dirt

        case = with_dirt(case, record.seed)  # where this run's wheels found no metal
        self.case, self.record = case, record
        self.fleet = Fleet(case.layout, case.trains)
        layout = case.layout
        self._lever = {x.id: k for k, x in enumerate(layout.levers)}
        self._element = {e.id: k for k, e in enumerate(layout.elements)}
        self._supply = {s.name: k for k, s in enumerate(layout.supplies)}
        self._changes: tuple[Change, ...] = record.changes
        self._motions = self._by_train()
        self._times = [[m.time_s for m in motions] for motions in self._motions]
        self._gone = {d.train: d.time_s for d in record.derailments}
        self._stalls = self._stall_times()
        self._cursor = self._fresh()
        self.marks = tuple(sorted(self._marks(), key=lambda m: (m.time_s, m.kind, m.says)))

    @property
    def duration_s(self) -> float:
        """How long the run lasted."""
        return self.record.duration_s

    def at(self, time_s: float) -> Moment:
        """The moment at ``time_s``, what happens then included."""
        cursor = self._advance(time_s)
        positions = tuple(cursor.positions)
        closed = frozenset(cursor.closed)
        wanted = self.nets.closed_at(positions)
        return Moment(
            self.nets,
            positions,
            closed,
            wanted - closed,
            frozenset(cursor.tired) & closed,
            {e: kind for e, kind in cursor.held.items() if e in closed},
            off=frozenset(cursor.off),
            trains=tuple(self._trains(time_s)),
            stalls=self.stalls_at(time_s),
            time_s=time_s,
        )

    def stalls_at(self, time_s: float) -> dict[str, Stall]:
        """Stalls in force, by train."""
        return {s.train: s for s, end in self._stalls if s.time_s <= time_s < end}

    def counts(self, time_s: float) -> tuple[int, int, int]:
        """(legs done, stalls, trips) up to ``time_s``."""
        record = self.record
        return (
            sum(x.end_s <= time_s and x.outcome != "not finished" for x in record.legs),
            sum(s.time_s <= time_s for s in record.stalls),
            sum(t.time_s <= time_s for t in record.trips),
        )

    def _by_train(self) -> list[list[Motion]]:
        found: dict[str, list[Motion]] = {t.name: [] for t in self.case.trains}
        for motion in self.record.motions:
            found[motion.train].append(motion)
        return [found[t.name] for t in self.case.trains]

    def _stall_times(self) -> list[tuple[Stall, float]]:
        number = {t.name: k for k, t in enumerate(self.case.trains)}
        return [(s, stall_ends(self._motions[number[s.train]], s)) for s in self.record.stalls]

    def _trains(self, time_s: float) -> Iterator[StandingTrain]:
        for number, times in enumerate(self._times):
            if self._gone.get(self.case.trains[number].name, time_s + 1.0) <= time_s:
                continue
            place = bisect_right(times, time_s) - 1
            if place >= 0:
                yield self.fleet.stand(number, self._motions[number][place], time_s)

    def _fresh(self) -> _Cursor:
        return _Cursor(rest_positions(self.case.layout), set(self.nets.loose), set())

    def _advance(self, time_s: float) -> _Cursor:
        cursor, changes = self._cursor, self._changes
        if cursor.done and changes[cursor.done - 1].time_s > time_s:
            cursor = self._cursor = self._fresh()
        while cursor.done < len(changes) and changes[cursor.done].time_s <= time_s:
            self._make(cursor, changes[cursor.done])
            cursor.done += 1
        return cursor

    def _make(self, cursor: _Cursor, change: Change) -> None:
        if change.what == "lever":
            lever = self._lever[change.who]
            words = self.case.layout.levers[lever].positions
            cursor.positions[lever] = (
                MOVING if change.state == "moving" else words.index(change.state)
            )
        elif change.what == "contact":
            element = self._element[change.who]
            (cursor.closed.add if change.state == "closed" else cursor.closed.discard)(element)
        elif change.what in ("fault", "mended"):
            self._fail(cursor, change)
        else:
            supply = self._supply[change.who]
            (cursor.off.add if change.state == "off" else cursor.off.discard)(supply)

    def _fail(self, cursor: _Cursor, change: Change) -> None:
        """What a fault does that no change of a contact or supply tells."""
        element, effect = self._element.get(change.who), KINDS[change.state].effect
        if element is None:
            return
        there = change.what == "fault"
        if effect == "tires":
            (cursor.tired.add if there else cursor.tired.discard)(element)
        elif effect in HOLDS and there:
            cursor.held[element] = change.state
        elif effect in HOLDS:
            cursor.held.pop(element, None)
        elif element in self.nets.loose:
            (cursor.closed.discard if there else cursor.closed.add)(element)

    def _marks(self) -> Iterator[TimeMark]:
        record = self.record
        for s in record.stalls:
            on = section_named(s.section)
            yield TimeMark(s.time_s, "stall", f"{s.train} stalls on {on}: {s.kind}")
        for h in record.hesitations:
            yield TimeMark(h.time_s, "hesitation", f"{h.train} hesitates on {h.section}")
        for d in record.dropouts:
            if d.where == "pickups":
                yield TimeMark(d.time_s, "dropout", f"{d.train} loses supply: {d.kind}")
        for t in record.trips:
            yield TimeMark(t.time_s, "trip", f"{t.supply} trips")
        for a in record.derailments:
            yield TimeMark(a.time_s, "accident", f"{a.train} derails: {cause_line(a.cause)}")
        for r in record.run_throughs:
            yield TimeMark(r.time_s, "accident", f"{r.train} runs through {r.lever}")
        for e in record.events:
            kind = EVENT_MARKS.get(e.what)
            if kind is not None:
                yield TimeMark(e.time_s, kind, f"{e.who}: {e.what} {e.detail}")
