"""Why each train stands, at any time of a run: read from the record of it."""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from math import inf, isclose
from typing import Literal

from sim.layout.model import Layout
from sim.layout.traffic import Conduct
from sim.records.model import Motion, Pass, Record, Stall

#: What keeps a train.  ``no supply`` is a stall; ``supply off`` a supply that tripped, or
#: is shorted and about to; ``way not set`` a leg under way that none of the others holds.
StandsFor = Literal[
    "no supply", "supply off", "behind a train", "lever moving", "way not set", "as ordered"
]

#: Times of a record are rounded to a µs, and so are the lengths of its dropouts (s).
TRIFLE_S = 5e-6


@dataclass(frozen=True, slots=True)
class Standing:
    """Why one train stands.

    ``who`` is the train that it stands behind, the supply that is off, the lever or gang
    that moves, or the train that has the way; "" where none, or more than one, is known.
    ``stall`` is set for ``no supply``.  ``pushed``: a hand moves it on, and what kept it
    does so still.  ``leg`` is the one under way where only that is known.
    """

    train: str
    why: StandsFor
    who: str = ""
    stall: Stall | None = None
    pushed: bool = False
    leg: str = ""


@dataclass(frozen=True, slots=True)
class Span:
    """From ``begin_s`` until before ``end_s``; ``says`` is what the record says of it."""

    begin_s: float
    end_s: float
    says: str = ""


class Spans:
    """Spans of one train in the order of time, none of which overlaps another."""

    __slots__ = ("_begins", "_spans")

    def __init__(self, spans: Iterable[Span]) -> None:
        self._spans = sorted(spans, key=lambda s: s.begin_s)
        self._begins = [s.begin_s for s in self._spans]

    def at(self, time_s: float) -> Span | None:
        """The span that holds ``time_s``."""
        place = bisect_right(self._begins, time_s) - 1
        span = self._spans[place] if place >= 0 else None
        return span if span is not None and time_s < span.end_s else None


class Stands:
    """Why one train of a record stands.

    A stall lasts until the train has supply while no hand is on it, as in the run: over
    all nudges, also where one of them crosses a live rail.
    """

    def __init__(
        self, name: str, record: Record, motions: Sequence[Motion], conduct: Conduct
    ) -> None:
        self._name = name
        self._motions, self._times = motions, [m.time_s for m in motions]
        self._stalls = [s for s in record.stalls if s.train == name]
        self._stall_times = [s.time_s for s in self._stalls]
        self._trips = [t for t in record.trips if name in t.halted]
        lost = [
            Span(d.time_s, d.time_s + d.duration_s, d.kind)
            for d in record.dropouts
            if d.train == name and d.where == "motor"
        ]
        self._lost, self._pushes = Spans(lost), Spans(self._pushes_of(record, conduct))
        self._held = Spans(_held(record, name))
        self._legs = Spans(
            Span(x.start_s, x.end_s, x.leg) for x in record.legs if x.train == name
        )

    def at(self, time_s: float) -> Standing | None:
        """Why it stands, or is pushed; None while it runs.

        ``way not set`` is all that a train's own record tells of waiting for a way: whether
        levers move for it, or another train has it, see :class:`Ways`.
        """
        push = self._pushes.at(time_s)
        if push is not None:
            found = self._without_supply(push.begin_s)
            return None if found is None else replace(found, pushed=True)
        place = bisect_right(self._times, time_s) - 1
        if place < 0 or not _stands(self._motions[place]):
            return None
        found = self._without_supply(time_s)
        if found is not None:
            return found
        held = self._held.at(time_s)
        if held is not None:
            return Standing(self._name, "behind a train", held.says)
        leg = self._legs.at(time_s)
        if leg is None:
            return Standing(self._name, "as ordered")
        return Standing(self._name, "way not set", leg=leg.says)

    def _without_supply(self, time_s: float) -> Standing | None:
        """What it is that has left the motor without supply; None where it has some.

        The kind of a dropout is the one that it began with: a stall since then tells that
        it is another by now.  A dropout that is none of these is of a train that is held.
        """
        lost = self._lost.at(time_s)
        if lost is None:
            return None
        stall = self._last_stall(time_s)
        if stall is not None and stall.time_s >= lost.begin_s:
            return Standing(self._name, "no supply", stall=stall)
        if lost.says == "tripped":
            return Standing(self._name, "supply off", self._tripped(time_s))
        if stall is not None and self._held.at(time_s) is None:
            # A nudge took it over a live rail onto a dead one: the stall is the same.
            return Standing(self._name, "no supply", stall=stall)
        return None

    def _last_stall(self, time_s: float) -> Stall | None:
        place = bisect_right(self._stall_times, time_s)
        return self._stalls[place - 1] if place else None

    def _tripped(self, time_s: float) -> str:
        before = [t for t in self._trips if t.time_s <= time_s]
        return before[-1].supply if before else ""

    def _pushes_of(self, record: Record, conduct: Conduct) -> list[Span]:
        """While a hand moved it: from a nudge until it stands, or runs on its own.

        A push goes at the hand's speed.  Of a train that would itself run at just that
        speed only the length of a nudge tells where the hand has let go.
        """
        found: list[Span] = []
        least_s = conduct.nudge_mm / conduct.nudge_speed_mm_s - TRIFLE_S
        for event in record.events:
            if event.what != "nudge" or event.who != self._name:
                continue
            place = bisect_right(self._times, event.time_s) - 1
            begin_s = end_s = event.time_s
            for number in range(place, len(self._motions)):
                motion = self._motions[number]
                end_s = motion.time_s if number > place else begin_s
                let_go = motion.powered and end_s >= begin_s + least_s
                if let_go or not _at_hand_speed(motion, conduct):
                    break
            else:
                end_s = inf
            if end_s > begin_s:
                found.append(Span(begin_s, end_s))
        return found


def _stands(motion: Motion) -> bool:
    return motion.speed_mm_s == 0.0 and motion.acceleration_mm_s2 == 0.0


def _at_hand_speed(motion: Motion, conduct: Conduct) -> bool:
    speed = abs(motion.speed_mm_s)
    even = motion.acceleration_mm_s2 == 0.0
    return even and isclose(speed, conduct.nudge_speed_mm_s, abs_tol=1e-5)


def _held(record: Record, name: str) -> list[Span]:
    """Spans in which a train stood behind another; what they say is that one's name."""
    told = {f"by {other}": other for other in {m.train for m in record.motions}}
    found: list[Span] = []
    since: tuple[float, str] | None = None
    for event in record.events:
        if event.who == name and event.what == "held":
            since = event.time_s, told.get(event.detail, "")
        elif event.who == name and event.what == "go on" and since is not None:
            found.append(Span(since[0], event.time_s, since[1]))
            since = None
    if since is not None:
        found.append(Span(since[0], inf, since[1]))
    return found


class Ways:
    """What a train waits for whose way is not set: levers that move, or another train on it."""

    def __init__(self, layout: Layout, record: Record) -> None:
        self._layout = layout
        self._pieces = {p.id: k for k, p in enumerate(layout.pieces)}
        piece_of = {r.id: r.piece for r in layout.routes}
        self._passes: dict[int, list[Pass]] = {}
        for passing in record.passes:
            self._passes.setdefault(piece_of[passing.route], []).append(passing)

    def told(self, standing: Standing, time_s: float, moving: Sequence[int]) -> Standing:
        """``standing`` with what is known of its way; ``moving`` are levers."""
        piece = self._piece(standing.leg)
        own = [k for k in moving if piece is None or self._layout.levers[k].piece == piece]
        if own:
            return replace(standing, why="lever moving", who=self._name(own))
        others = {
            p.train
            for p in (self._passes.get(piece, ()) if piece is not None else ())
            if p.train != standing.train and p.enter_s <= time_s
            and (p.leave_s is None or time_s < p.leave_s)
        }  # fmt: skip
        return replace(standing, who=others.pop()) if len(others) == 1 else standing

    def _piece(self, leg: str) -> int | None:
        """The piece that a leg goes to: it is the last of its number, what is done, where."""
        words = leg.split(" ", 2)
        return self._pieces.get(words[2]) if len(words) > 2 else None

    def _name(self, levers: list[int]) -> str:
        """One lever, or the gang that throws them all."""
        for control in self._layout.controls:
            if set(levers) <= set(control.levers):
                return control.id
        return ""
