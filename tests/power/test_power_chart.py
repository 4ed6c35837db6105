"""What a chart says of routes: stretches, plastic, shorts, and which are set."""

from __future__ import annotations

from sim.power.chart import DeadStretch, InsulatedSpan, RouteState, chart
from sim.records.model import Kind
from tests.power.small import Small

TWO = ["through", "diverging"]


def fed(rails: str) -> Small:
    """Rails N and S on a supply, and others."""
    made = Small(rails, {"lever": TWO})
    made.supply("A")
    made.join("A+", "N", "feeder")
    made.join("A-", "S", "feeder")
    return made


def state(made: Small, setting: int = 0) -> RouteState:
    return chart(made.case()).settings[setting].routes[0]


def dead(left: str | None, right: str | None, kind: Kind, a: float, b: float) -> DeadStretch:
    return DeadStretch(left and f"m/p/{left}", right and f"m/p/{right}", kind, a, b)


def test_a_route_is_live_when_all_its_metal_is() -> None:
    made = fed("N S")
    made.route("main", ("N", "S"), ("", "S"), ("N", ""), ("", ""), ("N", "S"))
    plastic = (
        InsulatedSpan("left", 10.0, 20.0),
        InsulatedSpan("right", 20.0, 30.0),
        InsulatedSpan("both", 30.0, 40.0),
    )
    assert state(made) == RouteState("m/p/main", True, "live", (), plastic)


def test_plastic_that_goes_on_beside_another_rail_is_one_span() -> None:
    made = fed("N S T")
    made.join("S", "T")
    made.route("main", ("N", "S"), ("", "S"), ("", "T"), ("N", "T"))
    assert state(made).insulated == (InsulatedSpan("left", 10.0, 30.0),)


def test_dead_neighbours_that_tell_the_same_are_one_stretch() -> None:
    made = fed("N S x y")
    made.join("x", "y")
    made.route("main", ("N", "x"), ("N", "x"), ("N", "y"), ("N", ""), ("N", "y"))
    assert state(made).dead == (
        dead("N", "x", "floating", 0.0, 20.0),
        dead("N", "y", "floating", 20.0, 30.0),
        dead("N", "y", "floating", 40.0, 50.0),  # the plastic between is told apart
    )
    assert state(made).state == "dead"


def test_a_short_goes_before_what_else_is_dead() -> None:
    made = fed("N S x")
    made.join("N", "S", "jumper")
    made.route("main", ("N", "S"), ("N", "x"), ("x", "x"))
    found = chart(made.case()).settings[0]
    assert found.routes[0].state == "short"
    assert found.routes[0].dead == (dead("x", "x", "floating", 20.0, 30.0),)
    assert found.short
    assert found.dead  # a route that is set and shorted is not live


def test_a_short_under_one_wheel_counts_though_the_other_is_on_plastic() -> None:
    made = fed("N S x y")
    made.supply("B")
    made.join("B+", "x", "feeder")
    made.join("B-", "x", "feeder")
    made.route("main", ("N", "S"), ("", "x"), ("N", "S"))
    assert state(made).state == "short"
    made.routes.clear()
    made.route("main", ("N", "S"), ("", "y"), ("N", "S"))
    assert state(made).state == "live"


def test_a_route_without_metal_under_both_wheels_is_dead() -> None:
    made = fed("N S")
    made.route("main", ("N", ""), ("", "S"), ("", ""))
    found = state(made)
    assert found.state == "dead"
    assert found.dead == (
        dead("N", None, "insulated", 0.0, 10.0),
        dead(None, "S", "insulated", 10.0, 20.0),
        dead(None, None, "insulated", 20.0, 30.0),
    )
    assert len(found.insulated) == 3


def test_a_route_is_set_when_its_levers_make_it() -> None:
    made = fed("N S x")
    made.route("through", ("N", "S"), lever="through")
    made.route("diverging", ("N", "x"), lever="diverging")
    made.route("always", ("N", "S"))
    at = [[(r.set, r.state) for r in s.routes] for s in chart(made.case()).settings]
    assert at == [
        [(True, "live"), (False, "dead"), (True, "live")],
        [(False, "live"), (True, "dead"), (True, "live")],
    ]
    # only a route that is set makes a setting dead
    assert [s.dead for s in chart(made.case()).settings] == [False, True]


def test_every_section_is_told_of_even_where_nothing_runs() -> None:
    made = fed("N S x")
    made.contact("x", "N", {"lever": "diverging"})
    told = [dict(s.fed_by) for s in chart(made.case()).settings]
    assert told == [
        {"m/p/N": ("A+",), "m/p/S": ("A-",), "m/p/x": ()},
        {"m/p/N": ("A+",), "m/p/S": ("A-",), "m/p/x": ("A+",)},
    ]


def test_a_common_is_seen_in_what_feeds_a_rail() -> None:
    made = Small("N S")
    made.supply("A", common="earth")
    made.supply("B", common="earth")
    made.join("A-", "B-", "common")
    made.join("A+", "N", "feeder")
    made.join("A-", "S", "feeder")
    made.route("main", ("N", "S"))
    (found,) = chart(made.case()).settings
    assert dict(found.fed_by)["m/p/S"] == ("A-", "B-")
    assert found.routes[0].state == "live"
    assert found.joined == ()
