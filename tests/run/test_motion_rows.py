"""Every row of the table that says what counts, and every word that is counted."""

from __future__ import annotations

from math import sqrt

import pytest

from sim.pages.phrases import cause_lines
from tests.run.plans import Plan, dead_ring, drive

#: The engine of the plans: 100 mm/s, 20 mm of run-out, so a = v²/(2d) = 250 mm/s².
V, COAST = 100.0, 250.0


def seconds_over(distance_mm: float) -> float:
    """Time to roll over ``distance_mm`` from 100 mm/s, slowing at 250 mm/s²: closed form."""
    return (V - sqrt(V * V - 2 * COAST * distance_mm)) / COAST


def first_entry_s(front_at_mm: float, offset_mm: float = 10.0) -> float:
    """When a pickup ``offset_mm`` behind a front at 100 mm is at ``front_at_mm`` on the line.

    From rest at 100 mm/s²: 1 s and 50 mm to full speed, then uniform.
    """
    return 1.0 + (front_at_mm + offset_mm - 100.0 - 50.0) / V


def test_a_short_dead_place_is_coasted_over_and_counts_as_a_hesitation() -> None:
    # Pickups at 10 and 90 mm: span 80. Dead length 90: supply lost for 10 mm of travel.
    record = dead_ring(90.0).train().record(ring=True)
    assert record.stalls == ()
    first = record.hesitations[0]
    # The rear pickup (90 mm behind the front) comes onto the dead rail at 700 mm.
    assert first.time_s == pytest.approx(first_entry_s(700.0, 90.0), abs=2e-6)
    assert first.duration_s == pytest.approx(seconds_over(10.0), abs=2e-6)
    assert first.section == "d/P/dead"
    assert first.route == "d/P/west-east"
    outcomes = [leg.outcome for leg in record.legs]
    assert set(outcomes[:-1]) == {"hesitated"}


def test_lost_supply_for_longer_than_the_run_out_is_a_stall() -> None:
    # Dead 101: supply is lost for 21 mm, the engine runs out 20 mm.
    record = dead_ring(101.0, duration_s=15.0).train().record(ring=True)
    (stall,) = record.stalls
    rear_on = first_entry_s(700.0, 90.0)
    assert stall.time_s == pytest.approx(rear_on + V / COAST, abs=2e-6)
    assert (stall.section, stall.kind, stall.side) == ("d/P/dead", "floating", "right")
    # d begins at 500; front at 700 + 90 + 20
    assert stall.place_mm == pytest.approx(310.0, abs=2e-3)
    assert record.hesitations == ()
    assert record.legs[0].outcome == "stalled"


@pytest.mark.parametrize("north", [False, True])
def test_the_side_is_the_rail_of_the_route(north: bool) -> None:
    record = dead_ring(150.0, north=north, duration_s=15.0).train().record(ring=True)
    assert record.stalls[0].side == ("left" if north else "right")


@pytest.mark.parametrize(
    ("dead_mm", "lost_mm"),
    [(79.999, 0.0), (80.0, 0.0), (80.001, 0.001), (85.0, 5.0), (95.0, 15.0)],
)
def test_a_dead_length_under_a_span_of_pickups(dead_mm: float, lost_mm: float) -> None:
    """Lost for L - p of travel, never when p > L, and a dropout of no length is none."""
    plan = dead_ring(dead_mm, duration_s=12.0).train()
    record = plan.record(ring=True)
    dropouts = [d for d in record.dropouts if d.where == "pickups"]
    if lost_mm == 0.0:
        assert record.dropouts == ()
        assert record.hesitations == ()
        return
    assert dropouts[0].duration_s == pytest.approx(seconds_over(lost_mm), abs=2e-6)


def test_two_short_dead_places_act_together() -> None:
    """Each is shorter than the span of pickups; both pickups meet one at the same time."""
    spans = [
        (100.0, "N", "S1"),
        (20.0, "N", "d1"),
        (60.0, "N", "S2"),
        (20.0, "N", "d2"),
        (100.0, "N", "S3"),
    ]
    plan = Plan(10.0).supply().strip("pair", spans)
    plan.straight("a", 500.0, "cab").piece("d", "pair").straight("b", 500.0)
    plan.feed("d/P/N", "d/P/S2")
    record = plan.train().record(ring=True)
    # Pickups are 80 apart, as are the dead places: both are entered and left together.
    (dropout,) = [d for d in record.dropouts if d.where == "pickups"]
    assert dropout.duration_s == pytest.approx(seconds_over(20.0), abs=2e-6)
    # With pickups 110 apart no two of them are ever dead at once.
    other = Plan(10.0).supply().strip("pair", spans)
    other.straight("a", 500.0, "cab").piece("d", "pair").straight("b", 500.0)
    other.feed("d/P/N", "d/P/S2")
    record = other.train(length_mm=130.0, pickups_mm=(10.0, 120.0), place_mm=130.0).record(True)
    assert record.dropouts == ()


def test_lefts_and_rights_do_not_help_each_other() -> None:
    """Left rail dead under the front, right rail under the rear: no current flows."""
    spans = [
        (100.0, "N1", "S1"),
        (30.0, "n dead", "S1"),
        (50.0, "N2", "S1"),
        (30.0, "N2", "s dead"),
        (100.0, "N2", "S2"),
    ]
    plan = Plan(10.0).supply().strip("staggered", spans)
    plan.straight("a", 500.0, "cab").piece("d", "staggered").straight("b", 500.0)
    plan.feed("d/P/N2", "d/P/S1")
    # One pickup on each side, right 80 mm before left: both dead for 30 mm of travel.
    engine = {
        "name": "e",
        "length_mm": 100.0,
        "pickups_left_mm": [90.0],
        "pickups_right_mm": [10.0],
        "motor": {"speed_mm_s": 100.0, "at_voltage_v": 10.0},
    }
    record = plan.train(vehicles=[engine], coasting_mm=40.0).record(ring=True)
    first = next(d for d in record.dropouts if d.where == "pickups")
    a = V * V / 80.0
    lost = (V - sqrt(V * V - 2 * a * 30.0)) / a
    assert first.duration_s == pytest.approx(lost, abs=2e-6)


def test_stopped_by_order_then_asked_to_go_on_a_dead_rail() -> None:
    plan = dead_ring(200.0, duration_s=20.0)
    # The front stands 330 mm into d: pickups at 820 and 740, both on dead (700 to 900).
    orders = drive(
        {"do": "stop", "on": "d/P", "place_mm": 330.0, "for_s": 2.0},
        {"do": "circulate", "laps": 9},
    )
    record = plan.train(orders=orders, coasting_mm=200.0).record(ring=True)
    first, second = record.legs[:2]
    assert first.leg == "1: stop d/P"
    assert first.outcome == "clean"  # it stood where it was told before supply was back
    stall = record.stalls[0]
    assert stall.kind == "floating"
    assert stall.place_mm == pytest.approx(330.0, abs=1e-3)
    assert stall.time_s == pytest.approx(first.end_s + 2.0, abs=2e-6)
    assert second.outcome == "stalled"


def test_asked_to_go_below_its_start_voltage_is_a_starved_stall() -> None:
    # 8 mm/s on this motor is 2 + 8 V · 8/100 = 2.64 V: it turns, but does not start at 3 V.
    plan = Plan(10.0).supply(kind="dc").straight("a", 500.0, "cab").straight("b", 500.0)
    record = plan.train(speed_mm_s=8.0).record(ring=True)
    stall = record.stalls[0]
    assert (stall.time_s, stall.kind, stall.side) == (0.0, "starved", None)
    assert record.legs[0].outcome == "stalled"


def test_rolling_below_the_start_voltage_rolls_on() -> None:
    plan = Plan(30.0).supply(kind="dc").straight("a", 500.0, "cab").straight("b", 500.0)
    orders = drive(
        {"do": "circulate", "laps": 1, "speed_mm_s": 50.0},
        {"do": "circulate", "laps": 5, "speed_mm_s": 8.0},
    )
    record = plan.train(orders=orders).record(ring=True)
    assert record.stalls == ()
    assert record.dropouts == ()
    assert record.legs[0].outcome == "clean"


def test_a_train_behind_a_stalled_one_is_held() -> None:
    plan = dead_ring(200.0, duration_s=12.0)
    plan.train("first", place_mm=400.0).train("second", at="c/P", place_mm=450.0)
    record = plan.record(ring=True)
    assert {s.train for s in record.stalls} == {"first"}
    held = [e for e in record.events if e.what == "held"]
    assert [(e.who, e.detail) for e in held[:1]] == [("second", "by first")]
    outcomes = {leg.train: leg.outcome for leg in record.legs}
    assert outcomes == {"first": "stalled", "second": "not finished"}
    assert [leg.outcome for leg in record.legs if leg.train == "second"] == ["not finished"]


def test_held_and_without_supply_is_held_only_until_the_way_is_free() -> None:
    """A dead train behind another is held; once that one is gone it has stalled."""
    plan = dead_ring(200.0, duration_s=30.0)
    orders = drive(
        {"do": "stop", "on": "d/P", "place_mm": 490.0, "for_s": 9.0},
        {"do": "circulate", "laps": 9},
    )
    plan.train("first", place_mm=400.0, orders=orders, coasting_mm=300.0)
    # Stops 50 mm behind the first, whose rear is at 390: front at 340, pickups on dead rail.
    plan.train("second", at="c/P", place_mm=450.0, coasting_mm=300.0)
    record = plan.record(ring=True)
    released = next(e.time_s for e in record.events if e.what == "go on")
    stall = record.stalls[0]
    assert stall.train == "second"
    assert stall.time_s == pytest.approx(released)


def test_a_trip_halts_five_trains_once_and_none_of_them_stalls() -> None:
    plan = Plan(30.0).supply(trip_s=0.5, retry_s=6.0)
    for i in range(6):
        plan.straight(f"m{i}", 500.0, "cab" if i == 0 else None)
    plan.piece("T", "turnout", family="insulated frog, all live")
    for i in range(5):
        plan.train(f"t{i}", at=f"m{i}/P", place_mm=300.0)
    # A lever on a side piece closes a contact across the rails from 5 s to 8 s.
    plan.add(
        "[[piece]]",
        kind="shorter",
        sections=["N", "S"],
        levers=[{"name": "knife"}],
        ends=[
            {"name": "west", "outward": "west", "north": "N", "south": "S"},
            {"name": "east", "outward": "east", "north": "N", "south": "S"},
        ],
        routes=[
            {
                "from": "west",
                "to": "east",
                "spans": [{"from_mm": 0, "to_mm": 50, "left": "N", "right": "S"}],
            }
        ],
        contacts=[{"name": "across", "a": "N", "b": "S", "when": [{"knife": "diverging"}]}],
    )
    plan.line.remove("T")
    plan.piece("k", "shorter")
    plan.add("[[throw]]", at_s=5.0, lever="k/P/knife", to="diverging")
    plan.add("[[throw]]", at_s=8.0, lever="k/P/knife", to="through")
    record = plan.record(ring=True)
    (trip,) = record.trips
    assert trip.time_s == pytest.approx(5.0 + 0.3 + 0.5)
    assert trip.halted == tuple(f"t{i}" for i in range(5))
    assert cause_lines(trip.cause) == (
        "cab is shorted",
        "by the wiring itself, in this setting",
    )
    assert record.stalls == ()
    assert [e.time_s for e in record.events if e.what == "reset"] == [pytest.approx(11.8)]
    assert not any(e.what == "nudge" for e in record.events)
    legs = {leg.outcome for leg in record.legs}
    assert legs == {"tripped"}


def test_a_short_that_outlasts_the_retries_is_one_trip() -> None:
    plan = Plan(60.0).supply(trip_s=0.5, retry_s=4.0).straight("a", 500.0, "cab")
    plan.straight("b", 500.0).train()
    plan.add("[[jumper]]", **{"from": "a/P/north", "to": "b/P/south"})
    record = plan.record(ring=True)
    (trip,) = record.trips
    assert trip.time_s == 0.5
    assert [e.time_s for e in record.events if e.what == "reset"][:2] == [4.5, 9.0]
    assert record.stalls == ()


def test_a_nudge_within_the_same_dead_stretch_is_the_same_stall() -> None:
    # Dead for 200 mm under a span of 80: after the run-out of 20 it has 100 mm to go.
    plan = dead_ring(200.0, duration_s=60.0)
    plan.run = {"nudge_after_s": 2.0, "nudge_mm": 30.0, "nudge_speed_mm_s": 50.0}
    plan.train(orders=drive({"do": "circulate", "laps": 1}))
    record = plan.record(ring=True)
    (stall,) = record.stalls
    assert stall.nudges == 4
    nudges = [e.time_s for e in record.events if e.what == "nudge"]
    # each 30 mm take 0.6 s, and the hand takes 2 s to come again
    assert nudges == [pytest.approx(stall.time_s + 2.0 + 2.6 * k, abs=1e-5) for k in range(4)]
    (leg,) = record.legs
    assert leg.outcome == "stalled"


def test_the_next_dead_stretch_is_a_new_stall() -> None:
    plan = dead_ring(150.0, duration_s=120.0)
    plan.train(orders=drive({"do": "circulate", "laps": 2}))
    record = plan.record(ring=True)
    assert [leg.outcome for leg in record.legs] == ["stalled", "stalled"]
    assert len(record.stalls) == 2


def test_after_all_nudges_the_hand_pushes_until_there_is_supply() -> None:
    plan = dead_ring(400.0, duration_s=60.0)
    plan.run = {"nudge_after_s": 1.0, "nudge_mm": 5.0, "nudges_at_most": 2}
    record = plan.train(orders=drive({"do": "circulate", "laps": 1})).record(ring=True)
    (stall,) = record.stalls
    assert stall.nudges == 3
    assert record.legs[0].outcome == "stalled"
    # 400 - 80 - 20 - 2·5 = 290 mm remain, at 50 mm/s
    back = stall.time_s + 1.0 + 0.1 + 1.0 + 0.1 + 1.0 + 290.0 / 50.0
    motor = next(d for d in record.dropouts if d.where == "motor")
    assert motor.time_s + motor.duration_s == pytest.approx(back, abs=1e-5)


def test_an_energy_store_shorter_than_the_dropout() -> None:
    # Lost for 320 mm of travel: 1 s on the store covers 100 of them, then it runs out 20 mm.
    plan = dead_ring(400.0, duration_s=15.0).train(energy_store_s=1.0)
    record = plan.record(ring=True)
    (stall,) = record.stalls
    lost = first_entry_s(700.0, 90.0)
    assert stall.time_s == pytest.approx(lost + 1.0 + V / COAST, abs=3e-6)
    at_motor = next(d for d in record.dropouts if d.where == "motor")
    at_pickups = next(d for d in record.dropouts if d.where == "pickups")
    assert at_pickups.time_s == pytest.approx(lost, abs=2e-6)
    assert at_motor.time_s == pytest.approx(lost + 1.0, abs=3e-6)


def test_an_energy_store_longer_than_the_dropout_shows_at_the_pickups_only() -> None:
    plan = dead_ring(180.0, duration_s=30.0).train(energy_store_s=1.5)
    record = plan.record(ring=True)
    assert {d.where for d in record.dropouts} == {"pickups"}
    # 180 - 80 = 100 mm at 100 mm/s: the store keeps the speed.
    assert record.dropouts[0].duration_s == pytest.approx(1.0, abs=2e-6)
    assert record.hesitations == ()
    assert record.stalls == ()
    assert record.legs[0].outcome == "clean"


@pytest.mark.parametrize(("refill_s", "stalls"), [(10.0, 0), (60.0, 1)])
def test_an_empty_store_refills_in_the_stated_time(refill_s: float, stalls: int) -> None:
    """1 s of a 1.05 s store is used each round of 22 s; the round needs it back by then."""
    plan = dead_ring(180.0, duration_s=45.0).train(energy_store_s=1.05, refill_s=refill_s)
    record = plan.record(ring=True)
    motor = [d for d in record.dropouts if d.where == "motor"]
    assert bool(motor) == bool(stalls)
    assert len(record.stalls) == stalls


def test_outcome_of_a_pass_in_which_the_train_stalls_and_never_leaves() -> None:
    plan = Plan(10.0).supply().straight("a", 500.0, "cab")
    plan.turnout("T", family="live frog").straight("b", 500.0)
    plan.assumptions["contact_opens"] = 1.0
    record = plan.train().record()
    (passing,) = record.passes
    assert passing.route == "T/P/points-through"
    assert (passing.outcome, passing.leave_s) == ("stalled", None)
    assert record.stalls[0].charged_to == "T/P"


def test_a_stall_beyond_the_piece_is_charged_to_the_piece_in_its_cause() -> None:
    plan = Plan(15.0).supply().straight("a", 500.0, "cab")
    plan.turnout("T", family="live frog").straight("b", 500.0).straight("c", 500.0)
    plan.assumptions["contact_opens"] = 1.0
    # A long store carries it over the turnout, and lets it down on the straight beyond.
    record = plan.train(energy_store_s=4.5).record()
    (stall,) = record.stalls
    assert stall.route == "b/P/west-east"
    assert stall.section == "b/P/south"
    assert stall.charged_to == "T/P"
    assert stall.would_restore == (("T/P/through-contact",),) or len(stall.would_restore) == 1
