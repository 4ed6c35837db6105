"""The four ways in which supplies are joined, and the elements that do it."""

from __future__ import annotations

import pytest

from sim.power.chart import chart
from sim.power.graph import How, JoinedSupplies, Short, how_joined
from tests.power.small import Small, supply


def two(turned: bool = False, common: str | None = None, volts: float = 12.0) -> Small:
    """Two fed tracks, A and B, each with a north and a south rail."""
    made = Small("AN AS BN BS")
    made.supply("A", common=common)
    made.supply("B", volts, turned=turned, common=common)
    for track in "AB":
        made.join(f"{track}+", f"{track}N", "feeder", f"{track}+ wire")
        made.join(f"{track}-", f"{track}S", "feeder", f"{track}- wire")
    if common:
        made.join("A-", "B-", "common", "earth wire")
    return made


def only(made: Small) -> tuple[tuple[JoinedSupplies, ...], tuple[Short, ...]]:
    (setting,) = chart(made.case()).settings
    return setting.joined, setting.shorts


NORTH = ("A+ wire", "bond AN BN", "B+ wire")
SOUTH = ("A- wire", "bond AS BS", "B- wire")


def test_isolated_supplies_are_not_joined() -> None:
    assert only(two()) == ((), ())
    assert only(two(common="earth")) == ((), ())


def test_by_one_pole() -> None:
    made = two()
    made.join("AN", "BN")
    assert only(made) == ((JoinedSupplies(("A+", "B+"), "one pole", NORTH),), ())
    crossed = two()
    crossed.join("AN", "BS")
    (joined,), shorts = only(crossed)
    assert (joined.poles, joined.how, shorts) == (("A+", "B-"), "one pole", ())
    assert joined.elements == ("A+ wire", "bond AN BS", "B- wire")


def test_by_one_pole_with_a_common_elsewhere() -> None:
    """Current can flow: with equal voltages in phase none does, otherwise it is a short."""
    made = two(common="earth")
    made.join("AN", "BN")
    assert only(made) == ((JoinedSupplies(("A+", "B+"), "common return", NORTH),), ())
    for other in (two(common="earth", turned=True), two(common="earth", volts=14.0)):
        other.join("AN", "BN")
        (joined,), (short,) = only(other)
        assert joined == JoinedSupplies(("A+", "B+"), "common return", NORTH)
        assert short.poles == ("A+", "B+", "A-", "B-")
        assert short.elements == (*NORTH, "earth wire")


def test_by_two_poles_in_phase() -> None:
    made = two()
    made.join("AN", "BN")
    made.join("AS", "BS")
    poles = ("A+", "A-", "B+", "B-")
    assert only(made) == ((JoinedSupplies(poles, "paralleled", (*NORTH, *SOUTH)),), ())
    crossed = two(turned=True)
    crossed.join("AN", "BS")
    crossed.join("AS", "BN")
    (joined,), shorts = only(crossed)
    assert (joined.how, shorts) == ("paralleled", ())


def test_by_two_poles_opposed() -> None:
    """A short of both voltages."""
    made = two(turned=True)
    made.join("AN", "BN")
    made.join("AS", "BS")
    poles = ("A+", "A-", "B+", "B-")
    elements = (*NORTH, *SOUTH)
    expected = (
        JoinedSupplies(poles, "opposed", elements),
        Short(("A+", "B+", "A-", "B-"), elements),
    )
    assert only(made) == ((expected[0],), (expected[1],))
    crossed = two()
    crossed.join("AN", "BS")
    crossed.join("AS", "BN")
    (joined,), (short,) = only(crossed)
    assert joined.how == "opposed"
    assert set(short.poles) == set(poles)


def test_paralleled_supplies_of_different_voltage_are_shorted() -> None:
    made = two(volts=14.0)
    made.join("AN", "BN")
    made.join("AS", "BS")
    (joined,), (short,) = only(made)
    assert joined.how == "paralleled"
    assert set(short.poles) == {"A+", "A-", "B+", "B-"}


@pytest.mark.parametrize(
    ("pairs", "how"),
    [
        ([(0, 2)], "one pole"),
        ([(0, 2), (1, 2)], "one pole"),  # A is a short by itself, on one pole of B
        ([(0, 2), (1, 3)], "paralleled"),
        ([(0, 3), (1, 2)], "opposed"),
        ([(0, 2), (0, 3), (1, 2), (1, 3)], "opposed"),
    ],
)
def test_how(pairs: list[tuple[int, int]], how: How) -> None:
    a, b = supply("A", 0, 1), supply("B", 2, 3)
    assert how_joined(a, b, pairs) == how


def test_a_short_names_one_way_from_pole_to_pole() -> None:
    made = Small("N S frog", {"lever": ["through", "diverging"]})
    made.supply("A")
    made.join("A+", "N", "feeder", "plus wire")
    made.join("A-", "S", "feeder", "minus wire")
    made.join("frog", "S", "jumper", "jumper 1")
    made.contact("frog", "N", {"lever": "diverging"}, name="blade")
    through, diverging = chart(made.case()).settings
    assert through.shorts == ()
    assert diverging.shorts == (
        Short(("A+", "A-"), ("plus wire", "blade", "jumper 1", "minus wire")),
    )
    assert dict(diverging.fed_by) == dict.fromkeys(("m/p/N", "m/p/S", "m/p/frog"), ("A+", "A-"))


def test_three_supplies_are_told_pair_by_pair() -> None:
    made = Small("AN BN CN")
    for name in "ABC":
        made.supply(name)
        made.join(f"{name}+", f"{name}N", "feeder", f"{name} wire")
    made.join("AN", "BN")
    made.join("BN", "CN")
    joined, shorts = only(made)
    assert [j.poles for j in joined] == [("A+", "B+"), ("A+", "C+"), ("B+", "C+")]
    assert joined[1].elements == ("A wire", "bond AN BN", "bond BN CN", "C wire")
    assert shorts == ()
