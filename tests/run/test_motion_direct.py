"""Direction and throttle: DC belongs to the supply, digital to the train.

Source of the polarity rule: NMRA S-9 and NEM 631 (right-hand rail positive, seen in the
direction of travel, means forward).
"""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.checked import check_scenario
from tests.run.plans import Plan, drive, set_up

RUN = drive({"do": "circulate", "laps": 99})


def dc_ring(**keys: object) -> Plan:
    plan = Plan(30.0).supply(kind="dc", **keys).straight("a", 500.0, "cab")
    return plan.straight("b", 500.0).straight("c", 500.0).straight("d", 500.0)


def rails(plan: Plan) -> tuple[float, float]:
    """Volts of south above north while the first train runs, and its speed along the route."""
    world = set_up(plan.case(ring=True))
    world.env.run(until=3_000_000)
    mover = world.movers[0]
    unit = mover.power.unit
    volts = world.throttles.volts(world.supply.reading(unit.number).steps)
    left_is_north = mover.road.path.at(mover.s).forward
    even_above_odd = volts
    left_above_right = even_above_odd if unit.left % 2 == 0 else -even_above_odd
    north_above_south = left_above_right if left_is_north else -left_above_right
    speed = mover.speed_now() if mover.road.path.at(mover.s).forward else -mover.speed_now()
    return -north_above_south, speed / 1000


@pytest.mark.parametrize("turned", [False, True])
@pytest.mark.parametrize("reversed_", [False, True])
@pytest.mark.parametrize(("heading", "sign"), [("east", 1.0), ("west", -1.0)])
def test_right_hand_rail_positive_is_forward(
    heading: str, sign: float, reversed_: bool, turned: bool
) -> None:
    """East has the south rail on the right. 100 mm/s is 10 V on this motor, by its data."""
    engine = {
        "name": "e",
        "length_mm": 100.0,
        "pickups_left_mm": [10.0, 90.0],
        "pickups_right_mm": [20.0, 80.0],
        "turned": turned,
        "motor": {"speed_mm_s": 100.0, "at_voltage_v": 10.0},
    }
    plan = dc_ring(reversed=reversed_).train(heading=heading, vehicles=[engine], orders=RUN)
    volts, speed = rails(plan)
    assert volts == pytest.approx(10.0 * sign)
    assert speed == pytest.approx(100.0 * sign)


def test_the_same_rails_drive_every_engine_the_same_way_whichever_way_it_faces() -> None:
    """One is put down facing west on rails that drive east: it is driven back east."""
    plan = dc_ring().train("first", at="a/P", orders=RUN)
    plan.train("second", at="c/P", place_mm=300.0, heading="west", orders=RUN)
    record = plan.record(ring=True, motions=True)
    assert [r.train for r in record.reversals] == ["second"]
    moving = [m.speed_mm_s for m in record.motions if m.speed_mm_s]
    assert min(moving) > 0.0


def test_the_throttle_belongs_to_the_supply_on_dc() -> None:
    """It is set for the slowest; when one is to stand, all stand."""
    plan = dc_ring()
    orders = drive(
        {"do": "circulate", "laps": 1, "speed_mm_s": 50.0}, {"do": "wait", "for_s": 5}
    )
    plan.duration_s = 60.0
    plan.train("slow", at="a/P", place_mm=300.0, orders=[*orders, *RUN])
    plan.train("fast", at="c/P", place_mm=300.0, speed_mm_s=80.0, orders=RUN)
    record = plan.record(ring=True, motions=True)
    fast = [m for m in record.motions if m.train == "fast"]
    assert max(m.speed_mm_s for m in fast if m.time_s < 40.0) == 50.0
    lap = next(leg.end_s for leg in record.legs if leg.train == "slow")
    # The throttle is closed: both run out from 50 mm/s at 250 mm/s² (20 mm from 100 mm/s),
    # and start again 5 s after they stand.
    stands = [m.time_s for m in fast if m.speed_mm_s == 0.0 and m.time_s > 1.0]
    assert stands[0] == pytest.approx(lap + 0.2, abs=1e-5)
    goes = next(m.time_s for m in fast if m.acceleration_mm_s2 > 0 and m.time_s > lap)
    assert goes == pytest.approx(lap + 5.2, abs=1e-5)
    assert record.stalls == ()


def test_on_dc_a_train_without_orders_runs_along() -> None:
    plan = dc_ring().train("first", at="a/P", orders=RUN)
    plan.train("parked", at="c/P", place_mm=300.0, orders=[])
    record = plan.record(ring=True, motions=True)
    assert max(m.speed_mm_s for m in record.motions if m.train == "parked") == 100.0
    assert {leg.train for leg in record.legs} == {"first"}


def test_on_dc_no_orders_left_anywhere_closes_the_throttle() -> None:
    plan = dc_ring().train(orders=drive({"do": "circulate", "laps": 1}))
    record = plan.record(ring=True, motions=True)
    assert record.motions[-1].speed_mm_s == 0.0
    assert record.stalls == ()


def test_on_digital_direction_and_speed_belong_to_the_train() -> None:
    plan = Plan(12.0).supply().straight("a", 500.0, "cab").straight("b", 500.0)
    plan.straight("c", 500.0).straight("d", 500.0)
    plan.train("east", at="a/P", place_mm=300.0, speed_mm_s=30.0, orders=RUN)
    plan.train("west", at="c/P", place_mm=200.0, heading="west", speed_mm_s=20.0, orders=RUN)
    plan.train("parked", at="d/P", place_mm=300.0, orders=[])
    record = plan.record(ring=True, motions=True)
    speeds = {m.train: m.speed_mm_s for m in record.motions if m.time_s < 6.0}
    assert speeds == {"east": 30.0, "west": -20.0, "parked": 0.0}
    assert record.reversals == ()


def two_supplies(
    kind: str, b: dict[str, object], length_mm: float = 2000.0, **run: object
) -> Plan:
    """A straight line: ``a`` on cab A, then ``b`` on cab B, gapped on both rails between."""
    plan = Plan(40.0).supply("A", kind).supply("B", kind, **b)
    plan.run = dict(run)
    plan.straight("a", length_mm, "A").straight("b", length_mm, "B")
    return plan.add("[[gap]]", at="a/P/east")


def test_crossing_into_supply_of_the_other_direction_fights_and_reverses() -> None:
    """One side's gap after the other, so that the engine never bridges both: no short."""
    plan = Plan(60.0).supply("A", "dc").supply("B", "dc")
    plan.strip(
        "between", [(300.0, "N1", "S1"), (200.0, "plastic", "plastic"), (300.0, "N2", "S2")]
    )
    plan.straight("a", 900.0, "A").piece("g", "between").straight("b", 900.0, "B")
    # A second train gives B the direction west.
    plan.train("local", at="a/P", orders=RUN, coasting_mm=400.0)
    plan.train("other", at="b/P", place_mm=800.0, heading="west", speed_mm_s=20.0, orders=RUN)
    record = plan.record(motions=True)
    first = record.reversals[0]
    assert (first.train, first.supply) == ("local", "B")
    back = [m for m in record.motions if m.train == "local" and m.time_s > first.time_s]
    assert back[0].speed_mm_s <= 0.0
    assert min(m.speed_mm_s for m in back) < 0.0


@pytest.mark.parametrize("circuit", [False, True])
def test_opposite_phase_is_a_short_of_both_while_the_train_bridges_the_gap(
    circuit: bool,
) -> None:
    plan = two_supplies(
        "digital", {"reversed": True, "trip_s": 0.1, "retry_s": 3.0}, nudge_after_s=1.0
    )
    record = plan.train(at="a/P", place_mm=1700.0, orders=RUN).record(circuit=circuit)
    assert record.trips
    first = record.trips[0]
    # Rest to 100 mm/s takes 1 s and 50 mm; the first pickup is at the gap after 310 mm.
    assert first.time_s == pytest.approx(1.0 + 2.6 + 0.1, abs=2e-6)
    assert any("joins rails of different poles" in line for line in first.cause)
    assert record.stalls == ()
    # A hand frees it; it gets across in the end.
    assert record.trips[-1].time_s < 40.0


def test_in_phase_a_train_that_crosses_only_joins_them() -> None:
    plan = two_supplies("digital", {})
    world = set_up(plan.train(at="a/P", place_mm=1700.0, orders=RUN).case())
    joined = []
    while world.env.peek() < 10_000_000:
        world.env.step()
        if len(world.supply.bridging_units()) == 1:
            joined.append(world.env.now)
    # From the first pickup's crossing to the last one's, 80 mm later.
    assert min(joined) == 3_600_000
    assert max(joined) >= 4_400_000 - 1
    assert world.ledger.trips == []
    assert world.ledger.dropouts == []


def test_backward_orders_stop_first_and_then_turn() -> None:
    plan = Plan(40.0).supply(kind="dc").straight("a", 900.0, "cab").straight("b", 900.0)
    plan.straight("c", 900.0)
    orders = drive(
        {"do": "run", "to": "b/P"},
        {"do": "stop", "on": "a/P", "place_mm": 400.0, "backward": True},
    )
    record = plan.train(orders=orders).record(motions=True)
    assert record.reversals == ()  # the driver turned it: no fight
    turn = next(m for m in record.motions if m.rear_leads)
    assert turn.speed_mm_s == 0.0
    # Runs out 20 mm into b, the throttle closed; the end that leads back is 100 mm behind.
    assert (turn.route, turn.place_mm) == ("a/P/west-east", 820.0)
    last = record.motions[-1]
    # "400 mm in" counts from where it enters the piece, which now is the east end.
    assert (last.route, last.place_mm, last.speed_mm_s) == ("a/P/west-east", 500.0, 0.0)
    assert [leg.outcome for leg in record.legs] == ["clean", "clean"]


def loop() -> Plan:
    """A return loop: turnout ``T``, whose legs are joined by a curve of one piece."""
    plan = Plan(60.0).supply().straight("a", 900.0, "cab")
    plan.piece("T", "turnout", on_line=False, family="insulated frog, all live")
    plan.piece("r", "straight", on_line=False, length_mm=1500.0)
    plan.line.clear()
    plan.add("[[join]]", a="a/P/east", b="T/P/points")
    plan.add("[[join]]", a="T/P/through", b="r/P/west")
    return plan.add("[[join]]", a="r/P/east", b="T/P/diverging")


def test_a_return_loop_joins_left_to_right_and_shorts_until_it_is_gapped() -> None:
    record = loop().train(orders=RUN).record()
    (trip,) = record.trips
    assert trip.cause[1] == "by the wiring itself, in this setting"


def test_a_gapped_return_loop_brings_the_train_back_out_the_other_way() -> None:
    plan = loop().add("[[gap]]", at="T/P/through").add("[[gap]]", at="T/P/diverging")
    plan.supply("loop").feed("r/P/north", "r/P/south", "loop")
    plan.parts = [
        p.replace('kind = "digital"', 'kind = "digital"\ntrip_s = 3') for p in plan.parts
    ]
    record = plan.train(orders=RUN, coasting_mm=300.0).record(motions=True)
    (through,) = record.run_throughs  # it comes back through the leg that is not set
    assert through.route == "T/P/points-diverging"
    routes = list(dict.fromkeys(m.route for m in record.motions))
    assert routes[:3] == ["a/P/west-east", "T/P/points-through", "r/P/west-east"]
    last = record.motions[-1]
    assert last.route == "a/P/west-east"
    # It stops 10 mm before the end of the track, facing west.
    assert (last.place_mm, last.speed_mm_s) == (10.0, 0.0)


def warnings(text: str, tmp_path: Path) -> list[str]:
    path = tmp_path / "s.toml"
    path.write_text(text, "utf-8")
    return [p.found for p in check_scenario(path) if p.severity == "warning"]


def test_check_warns_of_a_reversing_loop_and_of_nothing_else(tmp_path: Path) -> None:
    told = warnings(loop().train(orders=RUN).text(), tmp_path)
    assert len(told) == 1
    assert told[0].startswith("a reversing loop by way of ")
    assert {"'T/P'", "'r/P'"} <= {word.strip(",:") for word in told[0].split()}
    for plan in (dc_ring(), two_supplies("digital", {})):
        assert warnings(plan.train(orders=RUN).text(ring=True), tmp_path) == []


def test_a_wye_is_a_reversing_loop_too(tmp_path: Path) -> None:
    """Three turnouts, each leg joined to one of the next: a train comes back turned."""
    plan = Plan(10.0).supply()
    for name in "xyz":
        plan.piece(name, "turnout", on_line=False, family="insulated frog, all live")
    plan.feed("x/P/SN", "x/P/SS")
    for a, b in ("xy", "yz", "zx"):
        plan.add("[[join]]", a=f"{a}/P/through", b=f"{b}/P/diverging")
    told = warnings(plan.text(), tmp_path)
    assert [t for t in told if t.startswith("a reversing loop")]
