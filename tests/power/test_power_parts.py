"""Which settings there are, and parts that are charted one by one."""

from __future__ import annotations

from collections.abc import Sequence

from sim.layout.model import Control
from sim.layout.traffic import Order, Throw, Train
from sim.power.chart import chart, count, parts_of
from sim.power.settings import (
    COUNTLESS,
    number_of_settings,
    rest_positions,
    settings_of,
    timetable_settings,
)
from tests.power.small import Small

TWO = ["through", "diverging"]


def board(made: Small, name: str, lever: str) -> None:
    """A live-frog leg on its own two rails, whose lever feeds it from either."""
    made.contact(f"{name}F", f"{name}S", {lever: "through"})
    made.contact(f"{name}F", f"{name}N", {lever: "diverging"})
    made.route(f"{name}-main", (f"{name}N", f"{name}S"), (f"{name}N", f"{name}F"),
               **{lever: "through"})  # fmt: skip


def two_boards(supplies: str = "AB") -> Small:
    """Boards x and y, each on the supply that ``supplies`` names for it."""
    made = Small("xN xS xF yN yS yF", {"one": TWO, "two": TWO})
    for name in dict.fromkeys(supplies):
        made.supply(name)
    for rails, name in zip("xy", supplies, strict=True):
        made.join(f"{name}+", f"{rails}N", "feeder", f"{rails} plus")
        made.join(f"{name}-", f"{rails}S", "feeder", f"{rails} minus")
    board(made, "x", "one")
    board(made, "y", "two")
    return made


def levers(settings: Sequence[object]) -> list[dict[str, str]]:
    return [dict(s.levers) for s in settings]  # type: ignore[attr-defined]


def test_two_modules_on_separate_supplies_are_charted_one_by_one() -> None:
    found = chart(two_boards().case())
    assert (found.groups, found.total, found.skipped) == (2, 4, None)
    assert levers(found.settings) == [
        {"m/p/one": "through"},
        {"m/p/one": "diverging"},
        {"m/p/two": "through"},
        {"m/p/two": "diverging"},
    ]
    first, last = found.settings[0], found.settings[3]
    assert [name for name, _ in first.fed_by] == ["m/p/xN", "m/p/xS", "m/p/xF"]
    assert dict(last.fed_by)["m/p/yF"] == ("B+",)
    assert [r.route for r in last.routes] == ["m/p/y-main"]


def test_on_one_supply_they_are_charted_together() -> None:
    found = chart(two_boards("AA").case())
    assert (found.groups, found.total) == (1, 4)
    assert all(len(s.levers) == 2 for s in found.settings)


def test_what_links_parts_and_what_does_not() -> None:
    for kind, groups in (("gap", 2), ("joiner", 1), ("jumper", 1)):
        made = two_boards()
        made.join("xN", "yN", kind)  # type: ignore[arg-type]
        assert chart(made.case()).groups == groups
    open_contact = two_boards()
    open_contact.contact("xN", "yN", {"one": "diverging", "two": "diverging"})
    assert chart(open_contact.case()).groups == 1
    over_both = two_boards()
    over_both.route("over", ("xN", "xS"), ("yN", "yS"))
    assert chart(over_both.case()).groups == 1
    ganged = two_boards()
    ganged.controls = [Control("m/p/gang", (0, 1), tuple(TWO))]
    assert (chart(ganged.case()).groups, chart(ganged.case()).total) == (1, 2)
    assert chart(ganged.case(), each=True).groups == 2


def test_a_short_belongs_to_its_own_part() -> None:
    made = two_boards()
    made.join("xN", "xS", "jumper")
    found = chart(made.case())
    assert [s.short for s in found.settings] == [True, True, False, False]
    counts = count(made.case())
    assert (counts.total, counts.dead, counts.short) == (4, 1, 2)


def test_track_without_levers_is_one_more_setting() -> None:
    plain = Small("xN xS xF yN yS yF zN zS", {"one": TWO, "two": TWO})
    for rails, name in (("x", "A"), ("y", "B"), ("z", "C")):
        plain.supply(name)
        plain.join(f"{name}+", f"{rails}N", "feeder")
        plain.join(f"{name}-", f"{rails}S", "feeder")
    board(plain, "x", "one")
    board(plain, "y", "two")
    plain.route("z-main", ("zN", "zS"))
    found = chart(plain.case())
    assert (found.groups, found.total) == (2, 5)
    last = found.settings[-1]
    assert last.levers == ()
    assert [(r.route, r.state) for r in last.routes] == [("m/p/z-main", "live")]


def test_a_layout_without_levers_has_one_setting() -> None:
    made = Small("N S")
    made.route("main", ("N", "S"))
    found = chart(made.case())
    assert (found.groups, found.total, len(found.settings)) == (0, 1, 1)
    assert found.settings[0].dead  # nothing feeds it


def test_a_part_tells_where_it_lies_in_the_whole() -> None:
    case = two_boards().case()
    parts = parts_of(case)
    second = parts.parts[1]
    assert second.settings == ((0, 0), (0, 1))
    assert second.own_settings == ((0,), (1,))
    assert second.routes == (1,)
    assert second.nodes == {3, 4, 5, 8, 9}
    for part in parts.parts:
        for own, whole in enumerate(part.cut.nodes):
            assert part.layout.nodes[own] == case.layout.nodes[whole]
        for own, whole in enumerate(part.cut.elements):
            assert part.layout.elements[own].id == case.layout.elements[whole].id


# -- how many ------------------------------------------------------------------


def many(count: int) -> Small:
    """One pair of rails with ``count`` levers, each feeding a frog of its own."""
    names = [f"l{k}" for k in range(count)]
    made = Small("N S " + " ".join(f"f{k}" for k in range(count)), dict.fromkeys(names, TWO))
    made.supply("A")
    made.join("A+", "N", "feeder")
    made.join("A-", "S", "feeder")
    for k, name in enumerate(names):
        made.contact(f"f{k}", "S", {name: "through"})
        made.contact(f"f{k}", "N", {name: "diverging"})
        made.route(f"r{k}", ("N", f"f{k}"), **{name: "through"})
    return made


def train(*orders: Order) -> Train:
    return Train("t", (), 0, 0.0, True, orders, False, 50.0, 50.0, 50.0, 0.0, 50.0)


def test_past_the_limit_only_the_timetable_is_charted() -> None:
    made = many(4)
    assert chart(made.case(), limit=16).skipped is None
    throws = [Throw(20.0, 1, "diverging"), Throw(5.0, 0, "diverging")]
    orders = (Order("throw", control=3, position="diverging"), Order("wait", for_s=1.0))
    case = made.case([train(*orders)], throws)
    found = chart(case, limit=15)
    assert (found.total, found.groups) == (16, 1)
    assert found.skipped is not None
    assert found.skipped.startswith("16 settings are too many to chart: only the 4 that")
    assert "Chart one module at a time" in found.skipped
    # throws by the clock follow one another; the train's own start from rest
    away = [{x for x, at in s.items() if at != "through"} for s in levers(found.settings)]
    assert away == [set(), {"m/p/l0"}, {"m/p/l0", "m/p/l1"}, {"m/p/l3"}]
    counts = count(case, limit=15)
    assert (counts.total, counts.dead) == (4, 0)


def test_numbers_past_counting() -> None:
    made = many(60)
    found = chart(made.case())
    assert found.total == COUNTLESS
    assert found.skipped is not None
    assert found.skipped.startswith("More than a million settings")
    assert "with every lever at rest" in found.skipped
    assert len(found.settings) == 1


def test_independent_parts_past_the_limit_stay_apart() -> None:
    made = two_boards()
    case = made.case((), [Throw(1.0, 1, "diverging")])
    found = chart(case, limit=3)
    assert found.skipped is not None
    assert levers(found.settings) == [
        {"m/p/one": "through"},
        {"m/p/two": "through"},
        {"m/p/two": "diverging"},
    ]


def test_settings_in_order_the_last_control_fastest() -> None:
    made = Small("N", {"one": ["a", "b"], "two": ["a", "b", "c"]})
    layout = made.layout()
    assert number_of_settings(layout) == 6
    assert settings_of(layout) == [(0, 0), (0, 1), (0, 2), (1, 0), (1, 1), (1, 2)]
    assert rest_positions(layout) == [0, 0]


def test_a_gang_moves_to_positions_of_the_same_name() -> None:
    made = Small("N", {"one": ["a", "b"], "two": ["b", "a"], "three": ["x", "y"]})
    made.controls = [Control("g", (0, 1), ("a", "b")), Control("none", (2,), ())]
    assert settings_of(made.layout()) == [(0, 1, 0), (1, 0, 0)]
    assert number_of_settings(made.layout()) == 2


def test_the_timetable_uses_each_setting_once() -> None:
    made = many(2)
    back = [Throw(1.0, 0, "diverging"), Throw(2.0, 0, "through"), Throw(3.0, 0, "diverging")]
    assert timetable_settings(made.case((), back)) == [(0, 0), (1, 0)]
