"""A record played back shows what the run had: levers, contacts, trains, stalls."""

from __future__ import annotations

from dataclasses import replace
from math import dist
from typing import get_args

import pytest

from sim.layout.assemble import assemble
from sim.layout.model import PLASTIC
from sim.records.causes import FAILED, Cause, ElementReason, Reason
from sim.run.run import run
from sim.scenario.bands import assuming
from sim.scenario.read import read_scenario
from tests.viewer.demo import CLUB, TERMINUS, case_of, record_of
from viewer.draw.breakers import draw_breakers
from viewer.draw.notes import draw_notes, note_of
from viewer.draw.set_out import sheet_of
from viewer.draw.track import Detail, draw_piece
from viewer.draw.trains import draw_trains, pickup_word, stretches
from viewer.scene.scene import TextScene
from viewer.state.replay import Replay


@pytest.fixture(scope="module")
def club() -> Replay:
    return Replay(case_of(CLUB), record_of(CLUB))


def test_watching_changes_nothing() -> None:
    """The record with motions is the record without, motions and changes apart."""
    plain = run(case_of(CLUB), 1)
    watched = record_of(CLUB)
    assert plain.stalls == watched.stalls
    assert plain.legs == watched.legs
    assert plain.events == watched.events
    assert watched.motions and watched.changes
    assert plain.motions == plain.changes == ()


def test_a_train_stands_where_its_stall_says(club: Replay) -> None:
    for stall in club.record.stalls[:12]:
        moment = club.at(stall.time_s)
        train = next(t for t in moment.trains if t.name == stall.train)
        layout = club.case.layout
        assert layout.routes[train.front.route].id == stall.route
        assert train.front.place_mm == pytest.approx(stall.place_mm, abs=0.01)
        assert train.speed_mm_s == pytest.approx(0.0, abs=1e-6)
        assert moment.stalls[stall.train] == stall


def test_a_stalled_train_has_no_lit_pickup(club: Replay) -> None:
    """Unless it is fed and only starved: then tracing calls its pickups lit."""
    for stall in club.record.stalls[:12]:
        if stall.kind == "starved":
            continue
        moment = club.at(stall.time_s)
        train = next(t for t in moment.trains if t.name == stall.train)
        motor = next(v for v in train.vehicles if v.motor)
        assert motor.front.route >= 0
        units = {p.unit for p in train.pickups}
        dark = [
            u for u in units
            if all(pickup_word(moment, train, p) != "lit" for p in train.pickups if p.unit == u)
        ]  # fmt: skip
        assert dark


def test_trains_never_leap(club: Replay) -> None:
    """The front moves no further in a tenth of a second than the fastest train could."""
    sheet = sheet_of(club.case.layout)
    last: dict[str, tuple[float, float]] = {}
    for k in range(600):
        for train in club.at(k * 0.1).trains:
            pose = sheet.ground.on_route(train.front.route, train.front.place_mm)
            here = pose.x_mm, pose.y_mm
            if train.name in last:
                step = ((here[0] - last[train.name][0]) ** 2
                        + (here[1] - last[train.name][1]) ** 2) ** 0.5  # fmt: skip
                assert step < 40.0, (train.name, k)
            last[train.name] = here


def test_seeking_back_gives_the_same_moment(club: Replay) -> None:
    times = [3.0, 200.0, 50.0, 900.0, 200.0, 3.0]
    found = [(club.at(t).positions, club.at(t).closed, club.at(t).off) for t in times]
    assert found[0] == found[5] and found[1] == found[4]


def test_levers_are_where_the_last_change_put_them(club: Replay) -> None:
    for change in club.record.changes:
        if change.what == "lever":
            moment = club.at(change.time_s)
            number = next(
                k for k, x in enumerate(club.case.layout.levers) if x.id == change.who
            )
            later = [c for c in club.record.changes
                     if c.who == change.who and c.time_s == change.time_s]  # fmt: skip
            assert moment.lever(number) == later[-1].state


def test_contacts_that_stayed_open_are_shown_so() -> None:
    worn = assuming(read_scenario(CLUB), "contact_opens", 0.1)
    case = assemble(worn, "two jumpers")
    club = Replay(case, run(case, 2, motions=True))
    stuck = [e for e in club.record.events if e.what == "stayed open" and e.time_s > 0.0]
    assert stuck
    for event in stuck:
        moment = club.at(event.time_s + 0.4)
        number = next(k for k, e in enumerate(club.case.layout.elements) if e.id == event.who)
        if number not in moment.nets.closed_at(moment.positions):
            continue  # thrown back already
        assert moment.contact(number) == "stays open"


def test_the_cause_stands_beside_the_train_and_the_guilty_is_ringed(club: Replay) -> None:
    stall = club.record.stalls[0]
    moment = club.at(stall.time_s)
    note = note_of(stall, moment)
    assert note.lines[0].startswith(f"{stall.train} stands")
    assert note.guilty
    scene = TextScene()
    draw_notes(scene, sheet_of(club.case.layout), moment)
    assert set(scene.states("guilty")) >= set(note.guilty)
    assert scene.states("cause").keys() == moment.stalls.keys()
    named = " ".join(note.lines).replace(" ", "")
    assert all(g.partition("/")[2].replace(" ", "") in named for g in note.guilty)


@pytest.mark.parametrize("kind", get_args(ElementReason))
def test_every_kind_of_guilty_element_is_ringed(club: Replay, kind: ElementReason) -> None:
    """By its id and not by how it is said; what has failed alone, where something has."""
    layout = club.case.layout
    of = {"gap parts": "gap", "joiner parts": "joiner", "lost contact": "joiner"}
    one, other = [e.id for e in layout.elements if e.kind == of.get(kind, "contact")][:2]
    reasons = [Reason("floating"), Reason(kind, elements=(one,), sections=("a", "b"))]
    stall = replace(
        club.record.stalls[0], cause=Cause("left", tuple(reasons)), would_restore=()
    )
    moment = club.at(stall.time_s)
    note = note_of(stall, moment)
    assert note.guilty == (one,)
    shown = replace(moment, stalls={stall.train: stall})
    scene = TextScene()
    draw_notes(scene, sheet_of(layout), shown)
    assert set(scene.states("guilty")) == {one}
    # What would cure it is ringed before what is as designed, and after what has failed.
    cured = replace(stall, would_restore=((other,),))
    assert note_of(cured, moment).guilty == ((one,) if kind in FAILED else (other,))


def test_what_is_ringed_lies_on_the_piece_where_the_train_stands(club: Replay) -> None:
    """The loop's far gap would cure it as well; the one just crossed tells more."""
    stall = club.record.stalls[0]
    pieces = {c.rpartition("/")[0] for cure in stall.would_restore for c in cure}
    here = stall.section.rpartition("/")[0]
    assert len(pieces) == 2 and here in pieces
    note = note_of(stall, club.at(stall.time_s))
    assert {g.rpartition("/")[0] for g in note.guilty} == {here}


def test_breakers_are_drawn_as_the_record_switches_them() -> None:
    """Fed beyond live frogs without gaps the supply shorts, trips, and is on again."""
    fix = "feeders only"
    replay = Replay(case_of(TERMINUS, fix), record_of(TERMINUS, fix))
    trip = replay.record.trips[0]
    for time_s, word in ((trip.time_s / 2.0, "shorted"), (trip.time_s, "tripped")):
        moment, scene = replay.at(time_s), TextScene()
        draw_breakers(scene, moment, 0.0, 10.0, 400.0, 12.0)
        assert scene.states("breaker") == {trip.supply: {word}}
        scene = TextScene()
        for piece in sheet_of(moment.layout).pieces:
            draw_piece(scene, piece, moment, Detail())
        patterns = {s.pattern for _, a, s in scene.marks if a.what == "rail"}  # type: ignore[union-attr]
        assert patterns == ({"zigzag"} if word == "shorted" else {"chain"})


def test_breakers_without_room_are_counted_and_what_is_wrong_comes_first(
    club: Replay,
) -> None:
    moment = replace(club.at(0.0), off=frozenset({1}))
    scene = TextScene()
    draw_breakers(scene, moment, 0.0, 10.0, 200.0, 12.0)
    assert scene.states("breaker") == {"cab B": {"tripped"}}
    assert "and 1 more" in scene.states("breakers")[""]


def test_no_train_covers_another_ones_name(club: Replay) -> None:
    """All names come after all bodies and pickups."""
    scene = TextScene()
    draw_trains(scene, sheet_of(club.case.layout), club.at(12.0))
    kinds = [a.what for _, a, _ in scene.marks]
    first = kinds.index("train")
    assert "vehicle" not in kinds[first:] and "pickup" not in kinds[first:]


def test_pickups_are_told_one_by_one(club: Replay) -> None:
    moment = club.at(12.0)
    scene = TextScene()
    draw_trains(scene, sheet_of(club.case.layout), moment)
    marks = [a for v, a, _ in scene.marks if a.what == "pickup" and v in ("disc", "ring")]
    assert len(marks) == sum(len(t.pickups) for t in moment.trains)
    for train in moment.trains:
        for pickup in train.pickups:
            word = pickup_word(moment, train, pickup)
            if pickup.node == PLASTIC:
                assert word == "no metal"
            elif not moment.power.poles(pickup.node):
                assert word == "nothing"


def test_marks_and_counts_agree_with_the_record(club: Replay) -> None:
    kinds = [m.kind for m in club.marks]
    assert kinds.count("stall") == len(club.record.stalls)
    assert list(club.marks) == sorted(club.marks, key=lambda m: m.time_s)
    assert club.counts(club.duration_s)[1] == len(club.record.stalls)
    assert club.counts(0.0)[1] == 0


def test_a_vehicle_is_as_long_as_it_is_also_across_a_break_of_the_drawing() -> None:
    """Straight boards, folded: what is drawn of a vehicle adds up to its length."""
    case = case_of(TERMINUS)
    replay, ground = Replay(case, record_of(TERMINUS)), sheet_of(case.layout).ground
    lengths = {t.name: [v.length_mm for v in t.vehicles] for t in case.trains}
    parted = 0
    for time_s in range(0, 300, 2):
        for train in replay.at(float(time_s)).trains:
            for vehicle, length in zip(train.vehicles, lengths[train.name], strict=True):
                drawn = stretches(ground, vehicle, 16.5)
                parted += len(drawn) > 1
                total = sum(dist(a, b) for a, b in drawn)
                assert total == pytest.approx(length, rel=0.02), (time_s, vehicle)
    assert parted


def test_a_train_that_sets_back_is_drawn_on_the_track_it_came_from() -> None:
    replay = Replay(case_of(TERMINUS), record_of(TERMINUS))
    backward = [m for m in replay.record.motions if m.rear_leads]
    compared = 0
    for motion in backward[::10]:
        moment = replay.at(motion.time_s)
        train = next(t for t in moment.trains if t.name == motion.train)
        length = next(t.length_mm for t in replay.case.trains if t.name == motion.train)
        spots = list(train.vehicles)
        ends = spots[0].front, spots[-1].rear
        if ends[0].route == ends[1].route:
            compared += 1
            assert abs(ends[0].place_mm - ends[1].place_mm) == pytest.approx(length, abs=0.1)
    assert compared
