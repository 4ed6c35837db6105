"""One bit per setting: spreading along elements."""

from __future__ import annotations

from hypothesis import given
from hypothesis import strategies as st

from sim.power.bit_reach import bits_of, each_bit, spread, spread_all
from sim.power.trace import closed_bits, literal_bits, trace
from tests.power.small import Small


def test_spread_through_contacts_in_series_and_side_by_side() -> None:
    """Settings 0 to 3: 0-1 closed in 1 and 3, 1-2 in 2 and 3, 0-2 in 0."""
    edges = [(0, 1, 0b1010), (1, 2, 0b1100), (0, 2, 0b0001)]
    assert spread(4, edges, 0, 0b1111) == [0b1111, 0b1010, 0b1001, 0]
    assert spread(4, edges, 3, 0b1111) == [0, 0, 0, 0b1111]
    assert spread_all(4, edges, [2, 0], 0b1111)[0] == [0b1001, 0b1100, 0b1111, 0]


def test_spread_goes_against_the_order_of_the_elements_and_round_rings() -> None:
    edges = [(2, 3, 1), (1, 2, 1), (0, 1, 1), (3, 0, 1)]
    assert spread(4, edges, 0, 1) == [1, 1, 1, 1]


@given(st.lists(st.booleans(), max_size=200))
def test_packing_and_unpacking_bits(flags: list[bool]) -> None:
    assert each_bit(bits_of(flags)) == [k for k, flag in enumerate(flags) if flag]


def test_when_a_contact_is_closed() -> None:
    made = Small("x y", {"one": ["through", "diverging"], "two": ["left", "mid", "right"]})
    settings = [(0, 0), (0, 2), (1, 1), (-1, 0), (1, -1)]
    literal = literal_bits(made.layout(), settings)
    assert literal[0, 0] == 0b00011
    assert literal[1, 0] == 0b01001
    either = (((0, 1),), ((0, 0), (1, 2)))
    assert closed_bits(either, literal, 0b11111) == 0b10110
    assert closed_bits((((0, 7),),), literal, 0b11111) == 0
    assert closed_bits((), literal, 0b11111) == 0
    assert closed_bits(((),), literal, 0b11111) == 0b11111


def test_a_failed_element_is_left_out() -> None:
    made = Small("x y z", {"one": ["through", "diverging"]})
    made.supply("A")
    feeder = made.join("A+", "x", "feeder")
    bond = made.join("x", "y")
    contact = made.contact("y", "z", {"one": "through"})
    layout, z = made.layout(), made.node("z")
    settings = [(0,), (1,), (-1,)]
    assert [trace(layout, settings).poles_at(z, k) for k in range(3)] == [[0], [], []]
    for lost in (feeder, bond, contact):
        assert trace(layout, settings, {lost}).poles_at(z, 0) == []


def test_a_lever_of_very_many_positions() -> None:
    made = Small("x y", {"one": [str(k) for k in range(300)], "two": ["a", "b"]})
    settings = [(k, k % 2) for k in (0, 127, 128, 299, 128)]
    few = literal_bits(made.layout(), [(k, k % 2) for k in (255, 127, 255)])
    assert (few[0, 255], few[0, 127], few[1, 1]) == (0b101, 0b010, 0b111)
    literal = literal_bits(made.layout(), settings)
    assert literal[0, 128] == 0b10100
    assert literal[0, 299] == 0b01000
    assert literal[1, 1] == 0b01010
    assert literal_bits(made.layout(), []) == {}
