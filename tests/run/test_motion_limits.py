"""What a throttle, a breaker and a mended contact can do at most.

Worked out by hand from the motor of :data:`tests.run.plans.MOTOR` (100 mm/s at 10 V,
turning down to 2 V, a start at 3 V and 0.4 A: 7.5 ohm) and Ohm's law.
"""

from __future__ import annotations

import pytest

from sim.records.model import Trip
from tests.run.plans import Plan, drive, set_up

ROUND = drive({"do": "circulate", "laps": 99})


@pytest.mark.parametrize(
    ("asked_mm_s", "volts", "speed_mm_s"),
    [(100.0, 10.0, 100.0), (125.0, 12.0, 125.0), (200.0, 12.0, 125.0)],
)
def test_a_dc_throttle_gives_no_more_than_its_full_voltage(
    asked_mm_s: float, volts: float, speed_mm_s: float
) -> None:
    """200 mm/s would take 2 + 8 · 2 = 18 V; 12 V are there: (12 - 2) / 8 · 100 mm/s."""
    plan = Plan(20.0).supply(kind="dc", voltage_v=12.0).straight("a", 2000.0, "cab")
    plan.train(speed_mm_s=asked_mm_s, orders=ROUND)
    live = set_up(plan.straight("b", 2000.0).case(ring=True))
    live.agenda.run_until(10_000_000)
    train = live.trains[0]
    steps = live.supply.reading(train.power.unit.number).steps
    assert abs(live.throttle_settings.volts(steps)) == pytest.approx(volts)
    assert abs(train.speed_now()) / 1000.0 == pytest.approx(speed_mm_s)


def knife_trips(*shut_s: tuple[float, float]) -> tuple[list[Trip], list[float]]:
    """Trips, and times of resets, where a knife switch lies across the rails.

    It is thrown over at the first and back at the second of each pair of times, and
    makes and breaks 0.3 s later.  The supply trips after 1 s and comes back after 4 s.
    """
    plan = Plan(40.0).supply(trip_s=1.0, retry_s=4.0).straight("a", 500.0, "cab")
    rails = {"north": "N", "south": "S"}
    span = {"from_mm": 0, "to_mm": 50, "left": "N", "right": "S"}
    plan.add(
        "[[piece]]",
        kind="knife switch",
        sections=["N", "S"],
        levers=[{"name": "knife"}],
        ends=[{"name": end, "outward": end, **rails} for end in ("west", "east")],
        routes=[{"from": "west", "to": "east", "spans": [span]}],
        contacts=[{"name": "across", "a": "N", "b": "S", "when": [{"knife": "diverging"}]}],
    )
    plan.piece("k", "knife switch").train(orders=[])
    for over_s, back_s in shut_s:
        plan.add("[[throw]]", at_s=over_s, lever="k/P/knife", to="diverging")
        plan.add("[[throw]]", at_s=back_s, lever="k/P/knife", to="through")
    record = plan.record(ring=True)
    return list(record.trips), [e.time_s for e in record.events if e.what == "reset"]


def test_a_short_that_ends_before_the_next_trip_is_over() -> None:
    """The next short is a trip of its own.

    Shorted from 2.3 s the supply trips at 3.3 s and is switched on at 7.3 s, still
    shorted; at 7.8 s, before it trips again, the short ends.  The one from 12.3 s on is
    another.
    """
    trips, resets = knife_trips((2.0, 7.5), (12.0, 15.0))
    assert [t.time_s for t in trips] == pytest.approx([3.3, 13.3])
    assert resets == pytest.approx([7.3, 17.3])


def test_a_short_that_lasts_until_the_next_trip_is_the_same() -> None:
    """On again at 7.3 s and off at 8.3 s, for the same short: one trip is counted."""
    trips, resets = knife_trips((2.0, 10.0))
    assert [t.time_s for t in trips] == pytest.approx([3.3])
    assert resets == pytest.approx([7.3, 12.3])


@pytest.mark.parametrize(
    ("worn_ohm", "alone"),
    [(20.0, True), (24.0, False)],
)
def test_a_joiner_that_is_mended_is_as_good_as_new(worn_ohm: float, alone: bool) -> None:
    """Two worn joiners starve a start; whether to renew one is enough, the other decides.

    The throttle is opened for 125 mm/s, 12 V.  Two of 20 ohm leave 12 V · 7.5 / 47.5 =
    1.9 V; with either as good as new it is 3.2 V, enough for 3 V.  With two of 24 ohm one
    renewed leaves 2.8 V, so that both have to be.
    """
    plan = Plan(5.0).supply(kind="dc").straight("a", 500.0, "cab").straight("b", 500.0)
    plan.straight("c", 500.0).train(
        at="c/P", place_mm=300.0, orders=ROUND, speed_mm_s=125.0, motor={"starting_a": 0.4}
    )
    plan.add("[[joiner]]", at="a/P/east", rails="north", resistance_ohm=worn_ohm)
    plan.add("[[joiner]]", at="b/P/east", rails="south", resistance_ohm=worn_ohm)
    stall = plan.record(circuit=True).stalls[0]
    assert stall.kind == "starved"
    worn = ("a/P/joiner-east-north", "b/P/joiner-east-south")
    cures = {frozenset(cure) for cure in stall.would_restore}
    assert cures == ({frozenset((w,)) for w in worn} if alone else {frozenset(worn)})
