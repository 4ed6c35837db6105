"""What the screen says of every train that stands, held against the record of the run."""

from __future__ import annotations

from dataclasses import replace
from functools import cache
from pathlib import Path
from random import Random

import pytest

from sim.layout.model import PLASTIC
from sim.layout.traffic import Conduct
from sim.records.model import Dropout, Event, Leg, Motion, Record, Stall, Trip
from tests.viewer.demo import CLUB, ROOT, TERMINUS, case_of, record_of
from viewer.draw.notes import draw_notes
from viewer.draw.set_out import sheet_of
from viewer.draw.trains import draw_trains, reason_in_words
from viewer.scene.scene import TextScene
from viewer.state.replay import Replay
from viewer.state.standing import Standing, Stands
from viewer.window.draft import Draft, Jumper
from viewer.window.lane import Lane

INSTANTS = 1000
GANG = ROOT / "scenarios" / "loose-gang.toml"
RUNS = [
    (CLUB, None), (CLUB, "two jumpers"), (TERMINUS, None), (TERMINUS, "feeders only"),
    (GANG, None),
]  # fmt: skip

STALL = Stall(10.0, "a", "r", "m/p/x", 50.0, "left", "floating", (), (), 2, None)
EMPTY = Record("s", None, 1, 100.0, (), (), (), (), (), (), (), (), (), ())


def moves(time_s: float, speed: float, gain: float = 0.0, powered: bool = False) -> Motion:
    """A motion of train ``a``."""
    return Motion(time_s, "a", "r", 0.0, speed, gain, powered)


#: Stalls at 10 s.  Nudged at 18 s for 0.6 s, over a live rail at 18.2 s; stands again; pushed
#: at 26 s until there is supply, at 30 s; runs; stops at 40 s for its timetable.
NUDGED = replace(
    EMPTY,
    legs=(Leg("a", "1: stop m/p", "stalled", 0.0, 40.0),),
    stalls=(STALL,),
    dropouts=(
        Dropout(9.5, "a", "motor", "floating", 8.7),
        Dropout(18.4, "a", "motor", "floating", 11.6),
    ),
    events=(Event(18.0, "nudge", "a", "number 1"), Event(26.0, "nudge", "a", "number 2")),
    motions=(
        moves(0.0, 100.0, powered=True), moves(9.5, 100.0, -200.0), moves(10.0, 0.0),
        moves(18.0, 50.0), moves(18.2, 50.0, powered=True), moves(18.4, 50.0),
        moves(18.6, 0.0), moves(26.0, 50.0), moves(30.0, 50.0, 100.0, True),
        moves(31.0, 100.0, powered=True), moves(39.0, 100.0, -100.0, True),
        moves(40.0, 0.0, powered=True),
    ),
)  # fmt: skip


def stands(record: Record) -> Stands:
    return Stands("a", record, record.motions, Conduct(100.0))


@pytest.mark.parametrize(
    ("time_s", "why", "pushed"),
    [
        (5.0, None, False), (9.8, None, False), (10.0, "no supply", False),
        (17.9, "no supply", False), (18.0, "no supply", True), (18.3, "no supply", True),
        (18.6, "no supply", False), (25.9, "no supply", False), (29.9, "no supply", True),
        (30.0, None, False), (39.5, None, False), (40.0, "as ordered", False),
        (99.0, "as ordered", False),
    ],
)  # fmt: skip
def test_a_stall_lasts_over_all_nudges(time_s: float, why: str | None, pushed: bool) -> None:
    found = stands(NUDGED).at(time_s)
    if why is None:
        assert found is None
        return
    assert found == Standing("a", why, stall=STALL if why == "no supply" else None,  # type: ignore[arg-type]
                             pushed=pushed)  # fmt: skip


def test_behind_whom_is_told_while_it_is_held() -> None:
    record = replace(
        EMPTY,
        legs=(Leg("a", "1: circulate", "held", 0.0, 100.0, finished=False),),
        events=(Event(10.0, "held", "a", "by b c"), Event(20.0, "go on", "a", "")),
        motions=(moves(10.0, 0.0, powered=True), moves(30.0, 0.0, 1.0, True),
                 Motion(0.0, "b c", "r", 0.0, 0.0, 0.0, True)),
    )  # fmt: skip
    record_of_a = Stands("a", record, record.motions[:2], Conduct(100.0))
    assert record_of_a.at(10.0) == Standing("a", "behind a train", "b c")
    assert record_of_a.at(20.0) == Standing("a", "way not set", leg="1: circulate")
    assert record_of_a.at(30.0) is None


def test_a_supply_that_is_off_is_named_until_a_stall_shows_another_cause() -> None:
    """The kind of a dropout is the one it began with: the stall at 10 s came later."""
    record = replace(
        EMPTY,
        dropouts=(Dropout(4.0, "a", "motor", "tripped", 90.0),),
        trips=(Trip(4.0, "cab", 3.0, (), ("a",)),),
        motions=(moves(4.5, 0.0),),
        stalls=(STALL,),
    )
    assert stands(record).at(9.0) == Standing("a", "supply off", "cab")
    assert stands(record).at(10.0) == Standing("a", "no supply", stall=STALL)


def test_a_store_that_a_nudge_has_filled_a_little_ends_no_stall() -> None:
    """It rolls on by itself for a moment, and stands again: no stall is written anew."""
    record = replace(
        NUDGED,
        dropouts=(
            Dropout(9.5, "a", "motor", "floating", 8.7),
            Dropout(18.9, "a", "motor", "floating", 11.1),
        ),
        motions=(*NUDGED.motions[:6], moves(18.6, 50.0, 20.0, True), moves(18.9, 60.0, -200.0),
                 moves(19.2, 0.0), *NUDGED.motions[7:]),
    )  # fmt: skip
    assert stands(record).at(18.8) is None
    assert stands(record).at(19.2) == Standing("a", "no supply", stall=STALL)


# -- a thousand instants of the demos -------------------------------------------------


@cache
def replay_of(path: Path, fix: str | None) -> Replay:
    return Replay(case_of(path, fix), record_of(path, fix))


def drawn(replay: Replay, time_s: float) -> dict[str, set[str]]:
    """What a picture of the moment says each train stands for; "" of one that runs."""
    scene = TextScene()
    draw_trains(scene, sheet_of(replay.case.layout), replay.at(time_s))
    return scene.states("train")


def is_lost(record: Record, train: str, time_s: float, kind: str | None = None) -> bool:
    """Whether the record has a dropout of the motor at that time."""
    return any(
        d.train == train and d.where == "motor" and kind in (None, d.kind)
        and d.time_s <= time_s < d.time_s + d.duration_s
        for d in record.dropouts
    )  # fmt: skip


def held_by(record: Record, train: str, time_s: float) -> str | None:
    """Behind whom the last event of that kind leaves it."""
    told = [e for e in record.events if e.who == train and e.what in ("held", "go on")]
    past = [e for e in told if e.time_s <= time_s]
    return past[-1].detail.removeprefix("by ") if past and past[-1].what == "held" else None


@pytest.mark.parametrize(("path", "fix"), RUNS)
def test_the_screen_agrees_with_the_record_at_a_thousand_instants(
    path: Path, fix: str | None
) -> None:
    replay = replay_of(path, fix)
    record, layout = replay.record, replay.case.layout
    motions = {
        t.name: [m for m in record.motions if m.train == t.name] for t in replay.case.trains
    }
    rng = Random(14)
    seen: set[str] = set()
    for time_s in sorted(rng.uniform(0.0, record.duration_s) for _ in range(INSTANTS)):
        moment = replay.at(time_s)
        for name, known in motions.items():
            if any(d.train == name and d.time_s <= time_s for d in record.derailments):
                assert name not in moment.standing
                continue
            here = [m for m in known if m.time_s <= time_s][-1]
            still = here.speed_mm_s == here.acceleration_mm_s2 == 0.0
            found = moment.standing.get(name)
            where = name, time_s, found
            # Each that stands says so, and only those, and those that a hand moves.
            assert still == (found is not None and not found.pushed), where
            if found is None:
                continue
            seen.add(found.why)
            without = is_lost(record, name, time_s)
            before = [s for s in record.stalls if s.train == name and s.time_s <= time_s]
            assert (found.why == "no supply") == (found.stall is not None)
            if found.why == "no supply":
                assert found.stall == before[-1], where
                assert without or found.pushed, where
            elif found.why == "supply off":
                assert is_lost(record, name, time_s, "tripped"), where
                assert any(t.supply == found.who and name in t.halted for t in record.trips)
            elif found.why == "behind a train":
                assert found.who == held_by(record, name, time_s), where
            else:
                assert not without and held_by(record, name, time_s) is None, where
                leg = any(
                    x.train == name and x.start_s <= time_s < x.end_s for x in record.legs
                )
                assert leg == (found.why != "as ordered"), where
            if found.why == "lever moving":
                assert any(moment.lever(k) == "moving" for k in range(len(layout.levers)))
        assert {n: s.stall for n, s in moment.standing.items() if s.stall} == moment.stalls
    assert seen


@pytest.mark.parametrize(("path", "fix"), RUNS)
def test_what_is_drawn_is_what_is_so(path: Path, fix: str | None) -> None:
    replay = replay_of(path, fix)
    for k in range(40):
        time_s = replay.duration_s * k / 40
        moment = replay.at(time_s)
        says = {n: next(iter(words)) for n, words in drawn(replay, time_s).items()}
        assert says == {
            t.name: moment.standing[t.name].why if t.name in moment.standing else ""
            for t in moment.trains
        }
        scene = TextScene()
        draw_notes(scene, sheet_of(replay.case.layout), moment)
        assert scene.states("stall").keys() == {
            n for n, s in moment.standing.items() if s.why in ("no supply", "supply off")
        }


@pytest.mark.parametrize("path", [CLUB, TERMINUS, GANG])
def test_the_rail_that_is_named_is_dead_over_all_nudges(path: Path) -> None:
    """By the circuit of that instant, whatever the record says: one rail has no pole."""
    replay = replay_of(path, None)
    compared = 0
    for k in range(INSTANTS):
        moment = replay.at(replay.duration_s * k / INSTANTS)
        for train in moment.trains:
            standing = moment.standing.get(train.name)
            if standing is None or standing.stall is None or standing.pushed:
                continue
            words, rails = reason_in_words(standing, moment), ("right", "left")
            fed = {rails[p.on_left] for p in train.pickups
                   if p.node != PLASTIC and moment.power.poles(p.node)}  # fmt: skip
            if standing.stall.kind == "floating":
                dark = [rail for rail in rails if rail not in fed]
                assert words == f"no supply, {dark[0]} rail" and len(dark) == 1
                compared += 1
            elif standing.stall.kind == "same pole":
                assert fed == {"left", "right"} and words == "no supply, same pole"
    assert compared > 50


@pytest.mark.parametrize(
    ("standing", "says"),
    [
        (Standing("a", "no supply", stall=STALL, pushed=True), "no supply, moved by hand"),
        (Standing("a", "supply off"), "supply off"),
        (Standing("a", "supply off", "cab A"), "supply cab A is shorted"),
        (Standing("a", "supply off", "cab B"), "supply cab B is off"),
        (Standing("a", "behind a train", "b"), "waits behind b"),
        (Standing("a", "lever moving", "south junction/scissors/all"), "waits, gang all moves"),
        (Standing("a", "lever moving", "south junction/scissors/AW"), "waits, lever AW moves"),
        (Standing("a", "lever moving"), "waits, levers move"),
        (Standing("a", "way not set", "b"), "waits, b has the way"),
        (Standing("a", "way not set"), "waits for its way"),
        (Standing("a", "as ordered"), "waits as ordered"),
    ],
)
def test_reasons_in_words(standing: Standing, says: str) -> None:
    moment = replace(replay_of(CLUB, None).at(0.0), off=frozenset({1}))  # cab B
    assert reason_in_words(standing, moment) == says


def test_every_stall_is_marked_from_its_first_instant_to_the_last_nudge() -> None:
    replay = replay_of(CLUB, None)
    record = replay.record
    for number, stall in enumerate(record.stalls):
        later = [s.time_s for s in record.stalls[number + 1 :] if s.train == stall.train]
        until = min(later, default=record.duration_s)
        nudges = [e.time_s for e in record.events
                  if e.what == "nudge" and e.who == stall.train
                  and stall.time_s <= e.time_s < until]  # fmt: skip
        assert len(nudges) == stall.nudges
        for time_s in (stall.time_s, *nudges):
            assert replay.at(time_s).stalls[stall.train] == stall, (stall.train, time_s)


def test_the_demos_show_every_reason() -> None:
    """Else the thousand instants would hold nothing against anything."""
    seen = set()
    for path, fix in RUNS:
        replay = replay_of(path, fix)
        for k in range(INSTANTS):
            moment = replay.at(replay.duration_s * k / INSTANTS)
            seen |= {s.why for s in moment.standing.values()}
    assert seen == {
        "no supply", "supply off", "behind a train", "lever moving", "way not set", "as ordered"
    }  # fmt: skip


def test_a_wire_laid_by_hand_takes_away_the_reason_with_the_stall() -> None:
    """What feeds the dead section under the train; the other train's stall stays."""
    case, record = case_of(CLUB), record_of(CLUB)
    lane = Lane(case, "as built", takes_jumpers=True)
    lane.ran(record, case)
    time_s = 12.0
    before = lane.at(time_s)
    assert {"railcar", "local"} <= before.stalls.keys() <= before.standing.keys()
    nodes = {name: k for k, name in enumerate(case.layout.nodes)}
    dead = nodes[before.stalls["railcar"].section]
    fed = [k for name, k in sorted(nodes.items()) if "/A " in name and before.power.poles(k)]
    cured = 0
    for far in fed:
        lane.take(Draft(jumpers=(Jumper("from", "to", dead, far),)))
        after = lane.at(time_s)
        assert ("railcar" in after.standing) == ("railcar" in after.stalls)
        assert "local" in after.standing
        cured += "railcar" not in after.stalls
    assert 0 < cured < len(fed)  # of the two poles one is the right one
