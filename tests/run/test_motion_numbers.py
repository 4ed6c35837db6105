"""Times and distances against closed form, and draws against what chance allows.

v² = u² + 2ad and s = ut + at²/2 are textbook kinematics; scale speeds are in the
test of units.
"""

from __future__ import annotations

from collections import Counter
from math import inf, sqrt

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.stats import chisquare

from sim.run import kinematics as k
from sim.run.chance import draw, happens
from sim.run.run import run
from sim.scenario.fields import speed_in_mm_s
from tests.run.plans import Plan, dead_ring, drive, set_up

RUN = drive({"do": "circulate", "laps": 99})


@pytest.mark.parametrize(("mph", "mm_s"), [(20, 55.9), (40, 111.8), (60, 167.6)])
def test_scale_speeds_at_1_160(mph: int, mm_s: float) -> None:
    """HO/N speed table of the references: unit conversion, 1 mile = 1609.344 m."""
    assert speed_in_mm_s(f"{mph} mph", 160.0) == pytest.approx(mm_s, abs=0.05)
    # v_mm_s = v_scale_km_h / 3.6 · 1000 / ratio
    assert speed_in_mm_s(f"{mph * 1.609344} km/h", 160.0) == pytest.approx(
        mph * 1.609344 / 3.6 * 1000 / 160
    )


@pytest.mark.parametrize("coasting_mm", [0.5, 10.0, 40.0])
@pytest.mark.parametrize(("from_mm_s", "speed"), [(100.0, 100.0), (70.0, 100.0), (150.0, 60.0)])
def test_coasting_goes_as_the_square_of_the_speed(
    coasting_mm: float, from_mm_s: float, speed: float
) -> None:
    plan = dead_ring(450.0, duration_s=30.0)
    plan.train(
        coasting_mm=coasting_mm, coasting_from_mm_s=from_mm_s, speed_mm_s=speed, orders=RUN
    )
    (stall,) = plan.record(ring=True).stalls
    # Both pickups are on the dead rail once the rear one, 90 mm back, is: front at d, 290 mm.
    run_out = coasting_mm * (speed / from_mm_s) ** 2
    assert stall.place_mm == pytest.approx(290.0 + run_out, abs=1.5e-3)


def test_a_train_without_run_out_stops_dead_and_is_nudged_on() -> None:
    plan = dead_ring(450.0, duration_s=30.0).train(coasting_mm=0.0, orders=RUN)
    (stall,) = plan.record(ring=True).stalls
    assert stall.place_mm == pytest.approx(290.0, abs=5e-3)
    assert stall.nudges > 0


@pytest.mark.parametrize("rate", [20.0, 100.0, 333.0])
def test_every_crossing_while_it_gathers_speed_is_exact(rate: float) -> None:
    """Twenty rails in a row, of two supplies in turn: every crossing by closed form."""
    plan = Plan(20.0).supply("A").supply("B")
    for i in range(20):
        plan.straight(f"m{i}", 30.0, "AB"[i % 2])
        plan.add("[[gap]]", at=f"m{i}/P/east") if i < 19 else None
    plan.train(at="m4/P", place_mm=5.0, orders=RUN, acceleration_mm_s2=rate, speed_mm_s=100.0)
    live = set_up(plan.case())
    moves: list[tuple[int, int]] = []
    move = live.supply.move

    def noted(side: int, slot: int, node: int) -> bool:
        moves.append((live.agenda.now, side))
        return move(side, slot, node)

    live.supply.move = noted  # type: ignore[method-assign]
    live.agenda.run_until(4_000_000)
    wanted = []
    for boundary in range(30, 600, 30):
        for offset in (10.0, 90.0):
            way = boundary + offset - 125.0  # the front starts 125 mm along
            to_full = 100.0**2 / (2 * rate)
            if way > 0.0:
                t = (
                    sqrt(2 * way / rate)
                    if way < to_full
                    else 100 / rate + (way - to_full) / 100
                )
                wanted += [t, t]  # left and right
    wanted = [t for t in sorted(wanted) if t < 4.0]
    assert len(moves) == len(wanted) > 20
    # Each leg of the way is rounded once, to a microsecond.
    assert [t / 1e6 for t, _ in moves] == pytest.approx(wanted, abs=2e-5)


def plain(most: float) -> st.SearchStrategy[float]:
    """0, or a number that is not so small that doubles lose its digits."""
    return st.just(0.0) | st.floats(1e-3, most)


signed = plain(1e5) | plain(1e5).map(lambda x: -x)


@given(plain(2e5), plain(1e6) | plain(1e6).map(lambda x: -x), plain(1e6))
def test_time_over_a_distance_gets_there(speed: float, rate: float, way: float) -> None:
    t = k.time_over(speed, rate, way)
    if t < inf:
        # 1e-6 of the greatest term: what doubles allow where terms nearly cancel.
        size = abs(speed * t) + abs(rate * t * t) + way + 1.0
        assert speed * t + rate * t * t / 2 == pytest.approx(way, abs=1e-6 * size)
    else:
        assert way > 0.0
        assert speed == 0.0 >= rate or speed * speed < -2 * rate * way


@given(st.floats(1, 2e5), st.floats(0, 5e5), st.floats(1e4, 1e6), st.floats(0, 1e7))
def test_braking_begins_where_it_just_stops_in_time(
    speed: float, rate: float, brake: float, room: float
) -> None:
    x = k.distance_until_braking(speed, rate, brake, room)
    if x > 0.0:
        then = k.speed_after(speed, rate, x)
        assert then * then / (2 * brake) == pytest.approx(room - x, rel=1e-6, abs=1e-2)
    else:
        assert speed * speed / (2 * brake) >= room * (1 - 1e-9)


@given(signed, signed, signed)
def test_first_root(a: float, b: float, c: float) -> None:
    t = k.first_root(a, b, c)
    if c <= 0.0:
        assert t == 0.0
    elif t < inf:
        size = abs(c) + abs(b * t) + abs(a * t * t)
        assert c + b * t + a * t * t == pytest.approx(0.0, abs=1e-6 * size)
        middle = t / 2
        assert c + b * middle + a * middle * middle >= -1e-6 * size
    else:
        assert all(
            c + b * x + a * x * x > -1e-6 * (c + abs(b) * x + abs(a) * x * x)
            for x in (0.1, 1.0, 10.0, 1000.0)
        )


# -- chance ---------------------------------------------------------------------


def test_a_draw_is_a_pure_function_of_seed_name_and_ordinal() -> None:
    assert draw(1, "x", 2) == draw(1, "x", 2)
    different = {draw(s, n, i) for s in (1, 2) for n in ("x", "y") for i in (1, 2)}
    assert len(different) == 8
    assert draw(1, "2/x", 3) != draw(12, "x", 3)


@pytest.mark.parametrize("vary", ["seed", "name", "ordinal"])
def test_draws_are_uniform(vary: str) -> None:
    """Chi-square over 20 cells; one such test in ten thousand fails by chance alone."""
    count = 20_000
    cells = Counter(
        int(
            draw(
                i if vary == "seed" else 7,
                f"m/p/{i}" if vary == "name" else "m/p/c",
                i if vary == "ordinal" else 3,
            )
            * 20
        )
        for i in range(count)
    )
    assert chisquare([cells[c] for c in range(20)]).pvalue > 1e-4


@pytest.mark.parametrize("p", [0.0, 0.05, 0.5, 1.0])
def test_events_happen_as_often_as_they_should(p: float) -> None:
    """Binomial: within 4.5 standard deviations, one in 150 000 fails by chance alone."""
    n = 20_000
    found = sum(happens(11, "m/p/c", i, p) for i in range(n))
    assert abs(found - n * p) <= 4.5 * sqrt(n * p * (1 - p))


def failing(jumper: bool) -> Plan:
    """A ring with a power-routing turnout, thrown there and back each lap; contacts fail."""
    plan = Plan(300.0).supply()
    plan.assumptions = {"contact_opens": 0.3, "lever_fails": 0.0}
    plan.straight("a", 900.0, "cab")
    plan.turnout("T", family="insulated frog, power routing")
    plan.straight("b", 700.0)
    # Past the gap the ring goes on; up to it the rail has supply through the contact only.
    plan.add("[[gap]]", at="T/P/through", rails="south")
    if jumper:
        plan.add("[[jumper]]", **{"from": "T/P/SS", "to": "T/P/CS"})
    there_and_back = drive(
        {"do": "circulate", "laps": 1},
        {"do": "wait", "for_s": 1},
        {"do": "throw", "lever": "T/P/lever", "to": "diverging"},
        {"do": "wait", "for_s": 1},
        {"do": "throw", "lever": "T/P/lever", "to": "through"},
        {"do": "wait", "for_s": 1},
    )
    return plan.train(orders=there_and_back, repeat=True, place_mm=400.0)


def test_two_cases_that_differ_in_a_jumper_meet_the_same_faults_at_the_same_throws() -> None:
    lost = 0
    for seed in range(6):
        one, two = (failing(j).record(ring=True, seed=seed) for j in (False, True))
        faults = [
            [(e.who, e.detail) for e in r.events if e.what == "stayed open"] for r in (one, two)
        ]
        shared = min(map(len, faults))
        assert faults[0][:shared] == faults[1][:shared]
        assert shared > 1
        # Legs pair one to one, as far as the slower case got.
        names = [[leg.leg for leg in r.legs] for r in (one, two)]
        shared = min(map(len, names))
        assert names[0][:shared] == names[1][:shared]
        assert two.stalls == ()
        lost += len(names[1]) - len(names[0])
    assert lost > 0  # it lost time, and met the same faults all the same


def test_the_same_seed_gives_the_same_record_and_another_gives_another() -> None:
    case = failing(False).case(ring=True)
    assert run(case, 3) == run(case, 3)
    assert len({repr(run(case, seed).events) for seed in range(6)}) > 3
    assert run(case, 3).random


def test_without_chance_every_seed_gives_the_same() -> None:
    case = dead_ring(150.0).train(orders=RUN).case(ring=True)
    one, two = run(case, 1), run(case, 2)
    assert not one.random
    assert (one.legs, one.stalls, one.dropouts) == (two.legs, two.stalls, two.dropouts)
