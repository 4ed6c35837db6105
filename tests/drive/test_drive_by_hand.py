"""Drives on layouts so small that what comes of them can be worked out by hand.

Motion: v² = 2 a d, so a run-out of 20 mm from 100 mm/s is 5 mm from 50 mm/s.
"""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

import pytest

from sim.drive.drive import Drive, Drives
from sim.drive.in_order import InOrder, JudgedCase, in_order
from sim.layout.assemble import assemble
from sim.layout.traffic import Case
from sim.scenario.problems import ScenarioError
from sim.scenario.read import read_scenario
from tests.faults.layouts import case as case_of
from tests.faults.layouts import loops
from tests.run.plans import Plan

CLUB = Path(__file__).parents[2] / "scenarios" / "club-loops.toml"


def over(case: Case, route: str, positions: Sequence[int] = (), forward: bool = True) -> Drive:
    """The drive of the first train over a route, by its id."""
    number = next(n for n, r in enumerate(case.layout.routes) if r.id == route)
    settings = tuple(positions) or tuple(x.rest for x in case.layout.levers)
    found = Drives(case.layout, case.conduct).drive(case.trains[0], number, forward, settings)
    assert found is not None
    return found


def strip(spans: Sequence[tuple[float, str, str]], **train: object) -> Case:
    """Fed straights with a described piece ``d/P`` between them; all in one line."""
    plan = Plan().supply().strip("odd", spans).straight("a", 1000.0, "cab").piece("d", "odd")
    plan.straight("b", 1000.0, "cab")
    return plan.train(**{"place_mm": 300.0, **train}).case()  # type: ignore[arg-type]


def plastic(length_mm: float, **train: object) -> Case:
    """Both rails run through, but the north rail is of plastic for so far."""
    spans = [(200.0, "N", "S"), (length_mm, "plastic", "S"), (300.0, "N", "S")]
    return strip(spans, **train)


# -- a frog of plastic ---------------------------------------------------------


@pytest.mark.parametrize(
    ("length_mm", "speed_mm_s", "outcome"),
    [
        (79.0, 100.0, "clear"),  # pickups are 80 mm apart
        (99.0, 100.0, "stops at crawl"),  # 19 mm without, of 20 mm that it coasts
        (101.0, 100.0, "stops"),
        (84.0, 50.0, "stops at crawl"),  # of 5 mm
        (86.0, 50.0, "stops"),
    ],
)
def test_plastic_longer_than_the_pickups(
    length_mm: float, speed_mm_s: float, outcome: str
) -> None:
    drive = over(plastic(length_mm, speed_mm_s=speed_mm_s), "d/P/west-east")
    assert drive.outcome == outcome
    if outcome != "clear":
        assert (drive.side, drive.kind, drive.elements) == ("left", "insulated", ())
        # Lost when the rear pickup, 90 mm behind the front, enters at 200 mm.
        coasted = 0.0 if outcome == "stops at crawl" else 20.0 * (speed_mm_s / 100.0) ** 2
        assert drive.place_mm == pytest.approx(290.0 + coasted, abs=0.01)


def test_backward_the_other_end_leads_and_places_count_from_the_same_end() -> None:
    drive = over(plastic(101.0), "d/P/west-east", forward=False)
    assert (drive.outcome, drive.side, drive.direction) == ("stops", "left", "backward")
    assert drive.place_mm == pytest.approx(301.0 - 90.0 - 20.0, abs=0.01)


@pytest.mark.parametrize(
    ("length_mm", "outcome"), [(93.0, "clear"), (95.0, "stops at crawl"), (181.0, "stops")]
)
def test_an_energy_store_goes_on_at_a_crawl_for_as_long_as_it_lasts(
    length_mm: float, outcome: str
) -> None:
    # 5 scale mph are 13.97 mm/s in 1:160; at 60 mm/s it goes 60 mm and coasts 7.2 mm.
    case = plastic(length_mm, speed_mm_s=60.0, energy_store_s=1.0)
    if outcome == "stops":
        case = plastic(80.0 + 60.0 + 8.0, speed_mm_s=60.0, energy_store_s=1.0)
    assert over(case, "d/P/west-east").outcome == outcome


# -- dead rails between gaps ------------------------------------------------------


def test_a_long_engine_bridges_what_a_short_one_stops_on() -> None:
    spans = [(200.0, "Nw", "Sw"), (110.0, "Nm", "Sm"), (300.0, "Ne", "Se")]
    short = over(strip(spans), "d/P/west-east")
    assert (short.outcome, short.kind, short.side) == ("stops", "floating", "both")
    case = strip(spans, length_mm=140.0, pickups_mm=(10.0, 130.0))
    assert over(case, "d/P/west-east").outcome == "clear"
    gaps = {strip(spans).layout.elements[e].id for e in short.elements}
    assert gaps == {
        f"d/P/gap {a} {b}" for r in "NS" for a, b in ((r + "w", r + "m"), (r + "m", r + "e"))
    }


def test_the_whole_of_a_dead_road_stops_it_where_the_route_is_entered() -> None:
    plan = Plan().supply().straight("a", 300.0, "cab")
    plan.strip("odd", [(10.0, "Nw", "Sw"), (290.0, "N", "S")]).piece("b", "odd")
    case = plan.straight("c", 300.0).train(place_mm=300.0).case()
    # Lost when the rear pickup enters at 10 mm, and 20 mm of run-out beyond.
    met = over(case, "b/P/west-east")
    assert met.outcome == "stops"
    assert met.place_mm == pytest.approx(120.0, abs=0.01)
    dead = over(case, "c/P/west-east")
    assert (dead.outcome, dead.at, dead.place_mm) == ("stops", dead.route, 0.0)
    back = over(case, "c/P/west-east", forward=False)
    assert (back.outcome, back.at, back.place_mm) == ("stops", back.route, 300.0)


def test_a_drive_ends_with_the_trains_end_where_the_track_does() -> None:
    # The last 150 mm, of which 40 mm are dead, lie beyond every pickup but going back.
    plan = Plan().supply().straight("a", 300.0, "cab")
    spans = [(300.0, "N", "S"), (100.0, "Nd", "S"), (50.0, "Ne", "S")]
    plan.strip("end", spans).piece("d", "end")
    coach = {"name": "coach", "length_mm": 150.0}
    motor = {"speed_mm_s": 100.0, "at_voltage_v": 10.0, "minimum_v": 7.0}
    engine = {"name": "engine", "length_mm": 100.0, "pickups_mm": [10.0, 90.0], "motor": motor}
    case = plan.train(place_mm=290.0, vehicles=[coach, engine]).case()
    assert over(case, "d/P/west-east").outcome == "clear"
    # Backward the coach leads no more: the engine begins with its end at the end of track.
    assert over(case, "d/P/west-east", forward=False).outcome != "clear"


def test_a_route_that_cannot_hold_the_train_has_no_drive() -> None:
    plan = Plan().supply().straight("a", 90.0, "cab").straight("b", 500.0, "cab")
    case = plan.add("[[gap]]", at="a/P/east").train(at="b/P", place_mm=300.0).case()
    assert over(case, "a/P/west-east").outcome == "clear"
    lone = (
        Plan()
        .supply()
        .straight("b", 500.0, "cab")
        .piece("a", "straight", on_line=False, length_mm=90.0)
    )
    case = lone.train(at="b/P", place_mm=300.0).case()
    number = next(n for n, r in enumerate(case.layout.routes) if r.id.startswith("a/"))
    drives = Drives(case.layout, case.conduct)
    assert drives.drive(case.trains[0], number, True, ()) is None


def test_rails_that_are_one_net_with_both_poles_short_from_the_first() -> None:
    plan = Plan().supply().straight("a", 500.0, "cab")
    plan.add("[[jumper]]", from_="a/P/north", to="a/P/south")
    case = plan.train(place_mm=300.0).case()
    drive = over(case, "a/P/west-east")
    assert (drive.outcome, drive.trips, drive.shorted) == ("shorts", True, (0,))
    assert in_order(case).why == ("short", "short when crossing")


def test_rails_that_no_supply_reaches_are_dead() -> None:
    plan = Plan().supply().straight("a", 500.0)
    case = plan.train(place_mm=300.0).case()
    assert over(case, "a/P/west-east").outcome == "stops"


# -- what the orders say ---------------------------------------------------------------


def test_it_is_driven_at_the_slowest_speed_that_an_order_gives() -> None:
    orders: list[dict[str, object]] = [
        {"do": "circulate"},
        {"do": "run", "to": "a/P", "speed_mm_s": 50.0},
    ]
    spans = [(200.0, "N", "S"), (96.0, "plastic", "S"), (300.0, "N", "S")]
    plan = Plan().supply().strip("odd", spans).straight("a", 1000.0, "cab").piece("d", "odd")
    fast = in_order(plan.train(place_mm=300.0).case(ring=True))
    assert (fast.counts.stops, fast.counts.stops_at_crawl > 0) == (0, True)
    plan.parts.pop()
    plan.parts.pop()
    slow = in_order(plan.train(place_mm=300.0, orders=orders).case(ring=True))
    assert slow.counts.stops > 0  # 16 mm without, of 5 mm that it coasts from 50 mm/s


@pytest.mark.parametrize(("internal_ohm", "outcome"), [(5.0, "clear"), (6.0, "stops at crawl")])
def test_it_is_started_from_rest_where_an_order_makes_it_stand(
    internal_ohm: float, outcome: str
) -> None:
    # Of 12 V a start of 0.9 A leaves 7.5 V or 6.6 V, and the decoder needs 7 V; it runs
    # on 0.15 A. Beyond the standing place it is not started.
    plan = Plan().supply(internal_ohm=internal_ohm, trip_a=3.0)
    plan.straight("a", 1000.0, "cab").straight("d", 500.0)
    stop = {"do": "stop", "on": "d/P", "for_s": 2.0}
    motor = {"running_a": 0.15, "starting_a": 0.9}
    case = plan.train(place_mm=300.0, orders=[stop], motor=motor).case(ring=True)
    [setting] = in_order(case).settings
    found = {(case.layout.routes[d.route].id[0], d.forward): d.outcome for d in setting.drives}
    assert found["d", True] == found["a", True] == outcome


# -- turnouts, and what is in use ------------------------------------------------------


def test_blades_and_a_siding_of_a_road_that_is_not_set_are_no_defect() -> None:
    case = case_of(YARD)
    found = in_order(case)
    assert found.ok and not found.by_timetable
    assert found.counts.total == found.counts.clear > 0
    # In each of the two settings the road that is not set, and what lies beyond, is dead.
    for setting in found.settings:
        driven = {case.layout.routes[d.route].id for d in setting.drives}
        through = setting.positions == (0,)
        assert ("yard/main/west-east" in driven) == through
        assert ("yard/siding/west-east" in driven) != through


def test_what_is_to_be_kept_live_is_asked_for_in_every_setting() -> None:
    found = in_order(
        case_of(YARD.replace("gauge_mm = 9", 'gauge_mm = 9\nkeep_live = ["yard/siding/*"]'))
    )
    assert found.why == ("not kept live",)
    [setting] = [s for s in found.settings if s.dead_kept]
    assert {kind for _, _, kind in setting.dead_kept} <= {"same pole", "floating"}
    everywhere = in_order(
        case_of(YARD.replace("gauge_mm = 9", 'gauge_mm = 9\nkeep_live = ["yard/a/*"]'))
    )
    assert everywhere.ok


def test_keep_live_that_matches_nothing_is_an_error() -> None:
    with pytest.raises(ScenarioError) as error:
        case_of(
            YARD.replace("gauge_mm = 9", 'gauge_mm = 9\nkeep_live = ["yard/a/*", "nowhere/*"]')
        )
    [problem] = error.value.problems
    assert (problem.where, problem.found) == ("keep_live[1]", "'nowhere/*'")


YARD = """format = 1
title = "test"
scale_ratio = 160
gauge_mm = 9
supply = [{ name = "cab", kind = "digital" }]
feeder = [{ name = "f", supply = "cab", plus = "yard/a/north", minus = "yard/a/south" }]
[[module]]
name = "yard"
joins = [["a/east", "T/points"], ["T/through", "main/west"], ["T/diverging", "siding/west"]]
piece = [
  { name = "a", kind = "straight", length_mm = 900 },
  { name = "T", kind = "turnout", family = "insulated frog, power routing" },
  { name = "main", kind = "straight", length_mm = 900 },
  { name = "siding", kind = "straight", length_mm = 900 },
]
"""


# -- two loops ------------------------------------------------------------------------


def two_loops(kind: str, turned: bool) -> Case:
    """Two loops in good order in themselves, whose supplies are in opposite phase if so."""
    text = loops("insulated frog, all live", centre_gap=False)
    text = text.replace('name = "cab A"', f'name = "cab A", kind = "{kind}"')
    more = f'name = "cab B", kind = "{kind}", reversed = {str(turned).lower()}'
    return case_of(text.replace('name = "cab B"', more, 1) + ENGINE)


#: Its pickups reach from metal of one loop to metal of the other, on both rails. No orders.
ENGINE = """
[[train]]
name = "local"
at = "west/A"
place_mm = 300
speed_mm_s = 100
[[train.vehicle]]
name = "engine"
length_mm = 140
pickups_mm = [10, 50, 90, 130]
motor = { speed_mm_s = 100, at_voltage_v = 10, minimum_v = 7 }
"""


def crossings(found: InOrder, case: Case) -> list[Drive]:
    """Drives over a route from one track to the other."""
    routes = case.layout.routes
    names = [
        (d, routes[d.route].id.rsplit("/", 1)[1]) for s in found.settings for d in s.drives
    ]
    return [
        d
        for d, name in names
        if {"A", "B"} <= set(name.replace("west", "").replace("east", ""))
    ]


@pytest.mark.parametrize("kind", ["digital", "dc"])
def test_two_loops_in_phase_are_in_order(kind: str) -> None:
    case = two_loops(kind, turned=False)
    found = in_order(case)
    assert (found.ok, found.counts.clear) == (True, found.counts.total)
    assert all(len(d.joins) == 4 and not d.opposed for d in crossings(found, case))


def test_digital_loops_in_opposite_phase_short_at_every_crossing() -> None:
    case = two_loops("digital", turned=True)
    found = in_order(case)
    over_both = crossings(found, case)
    assert found.why == ("short when crossing",)
    assert over_both
    assert {(d.outcome, d.shorted, d.trips) for d in over_both} == {("shorts", (0, 1), True)}
    # A drive over one track ends on it, unless the train is still on the crossing.
    straight = [d for _, d in found.drives("clear")]
    assert {case.layout.routes[d.route].id for d in straight} >= {
        "west/A/west-east",
        "west/B/west-east",
    }


def test_dc_loops_in_opposite_phase_do_not_short_but_say_on_what_it_hangs() -> None:
    case = two_loops("dc", turned=True)
    found = in_order(case)
    assert (found.ok, found.shorts) == (True, False)
    assert {d.opposed for d in crossings(found, case)} == {(0,), (1,)}


def test_club_loops_as_built_half_of_each_loop_stops_at_its_beginning() -> None:
    case = assemble(read_scenario(CLUB))
    found = in_order(case)
    assert found.why == ("train stops",)
    half = ("far board", "corner 3", "corner 4")
    for setting in found.settings:
        for drive in setting.drives:
            route = case.layout.routes[drive.route]
            if route.id.startswith(half):
                begin = 0.0 if drive.forward else route.length_um / 1000
                assert (drive.outcome, drive.kind) == ("stops", "floating")
                assert (drive.at, drive.place_mm) == (drive.route, begin)
            elif route.id.startswith(("feed board", "corner 1")):
                assert drive.outcome == "clear"


@pytest.mark.parametrize(
    "fix", ["second feed", "feeder lengths", "two jumpers", "four jumpers"]
)
def test_club_loops_with_a_fix_are_in_order(fix: str) -> None:
    found = in_order(assemble(read_scenario(CLUB), fix))
    assert (found.ok, found.counts.clear) == (True, found.counts.total)


def test_four_jumpers_survive_a_contact_and_short_by_metal_where_two_short_under_a_train() -> (
    None
):
    scenario = read_scenario(CLUB)
    two, four = (JudgedCase(assemble(scenario, f"{n} jumpers")) for n in ("two", "four"))
    contacts = [n for n, e in enumerate(two.case.layout.elements) if e.kind == "contact"]
    assert all(not two.in_order(failed={e}).ok for e in contacts)
    assert all(four.in_order(failed={e}).ok for e in contacts)
    levers = range(len(two.case.layout.levers))
    for lever in levers:
        assert two.in_order(stuck={lever: 0}).why == ("short when crossing",)
        assert "short" in four.in_order(stuck={lever: 0}).why
