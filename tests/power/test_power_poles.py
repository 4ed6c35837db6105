"""Each kind of dead, literal: which poles share a net is given, the verdict is checked.

The definitions are the trade's own (common practice, no source); volts are sums.
"""

from __future__ import annotations

import pytest

from sim.power.poles import PoleState, Source, Verdict, pole_state

#: Pole numbers of up to three supplies.
A, A_, B, B_, C, C_ = range(6)


def state(
    supplies: int, *shared: tuple[int, ...], volts: tuple[float, ...] = (), off: str = ""
) -> PoleState:
    """Poles of each tuple share a net; ``off`` names supplies that are off."""
    pattern = list(range(2 * supplies))
    for poles in shared:
        for pole in poles:
            pattern[pole] = min(poles)
    signed = volts or (12.0,) * supplies
    sources = (Source(v, "ABC"[s] not in off) for s, v in enumerate(signed))
    return pole_state(tuple(pattern), tuple(sources))


def test_one_supply() -> None:
    it = state(1)
    assert it.kind(A, A_) is None
    assert it.kind(A_, A) is None
    assert it.kind(A, A) == "same pole"
    assert it.kind(A, None) == it.kind(None, A_) == it.kind(None, None) == "floating"
    assert it.shorts == ()


def test_a_supply_shorted_by_itself_goes_before_everything() -> None:
    it = state(2, (A, A_))
    assert it.shorts == ((0,),)
    for other in (A_, B, None):
        assert it.kind(A, other) == it.kind(other, A) == "short"
    assert it.kind(B, B_) is None  # untouched
    assert it.kind(B, None) == "floating"


def test_two_isolated_supplies_have_no_return() -> None:
    it = state(2)
    assert {it.kind(a, b) for a in (A, A_) for b in (B, B_)} == {"no return"}


@pytest.mark.parametrize(
    ("left", "right", "kind", "volts"),
    [
        # A+ joined to B-: between A- and B+ stands twice as much as either gives.
        (A_, B, "wrong voltage", -24.0),
        (A, B, None, -12.0),
        (A_, B_, None, -12.0),
        (A, B_, "same pole", 0.0),
    ],
)
def test_unlike_poles_joined(left: int, right: int, kind: Verdict, volts: float) -> None:
    it = state(2, (A, B_))
    assert it.kind(left, right) == kind
    assert it.potential[left] - it.potential[right] == pytest.approx(volts)
    assert sum(12.0 * n for _, n in it.steps(left, right)) == pytest.approx(volts)
    assert it.shorts == ()


def test_equal_potential_in_one_island_is_the_same_pole() -> None:
    """A common return: A- is B-; then A+ and B+ are equally high."""
    it = state(2, (A_, B_))
    assert it.kind(A, B) == "same pole"
    assert it.kind(A, B_) is None
    turned = state(2, (A_, B_), volts=(12.0, -12.0))
    assert turned.kind(A, B) == "wrong voltage"  # 24 V stand between them
    uneven = state(2, (A_, B_), volts=(12.0, 15.0))
    assert uneven.kind(A, B) == "wrong voltage"  # 3 V, which neither supply gives


def test_two_supplies_by_two_poles() -> None:
    """In phase they are paralleled; opposed, it is a short of both voltages."""
    assert state(2, (A, B), (A_, B_)).shorts == ()
    assert state(2, (A, B), (A_, B_)).kind(A, B_) is None
    for it in (
        state(2, (A, B_), (A_, B)),
        state(2, (A, B), (A_, B_), volts=(12.0, -12.0)),
        state(2, (A, B), (A_, B_), volts=(12.0, 14.0)),
    ):
        assert it.shorts == ((0, 1),)
        assert {it.kind(A, right) for right in (A_, B, B_, None)} == {"short"}
    assert state(2, (A, B_), (A_, B), volts=(12.0, -12.0)).shorts == ()


def test_three_supplies_in_a_ring() -> None:
    """A+ to B-, B+ to C-, and C+ back to A-: 36 V in a loop; 12 + 12 - 24 is none."""
    ring = ((A, B_), (B, C_), (A_, C))
    assert state(3, *ring).shorts == ((0, 1, 2),)
    even = state(3, *ring, volts=(12.0, 12.0, -24.0))
    assert even.shorts == ()
    assert even.kind(A, A_) is None
    # Between A+ and B+ stand 12 V; from A- to B+ 24 V, which C gives.
    assert even.kind(A_, B) is None
    open_chain = state(3, (A, B_), (B, C_))
    assert open_chain.kind(A_, C) == "wrong voltage"
    assert open_chain.potential[C] - open_chain.potential[A_] == pytest.approx(36.0)


def test_a_bystander_of_a_short_is_live_unless_it_touches_it() -> None:
    """A and B oppose each other; C hangs on A+ by one pole."""
    it = state(3, (A, B_, C), (A_, B))
    assert it.shorts == ((0, 1),)
    assert it.kind(C, C_) == "short"
    assert it.kind(C_, None) == "floating"
    apart = state(3, (A, B_), (A_, B))
    assert apart.kind(C, C_) is None


def test_a_short_by_itself_does_not_drag_in_its_neighbours() -> None:
    """A+, A- and B+ in one net: only A is shorted."""
    it = state(2, (A, A_, B))
    assert it.shorts == ((0,),)
    assert it.kind(B, B_) == "short"
    both = state(2, (A, A_, B, B_))
    assert both.shorts == ((0,), (1,))


def test_what_a_tripped_supply_explains() -> None:
    off = state(2, off="A")
    assert off.kind(A, A_) == "tripped"
    assert off.kind(B, B_) is None
    assert off.kind(A, A) == "same pole"  # it would be dead anyway
    assert off.kind(A, None) == "floating"
    assert off.kind(A, B) == "no return"
    # A short of a supply that is off is no short, and is told as tripped.
    shorted = state(1, (A, A_), off="A")
    assert shorted.shorts == ()
    assert shorted.kind(A, A_) == "tripped"
    # With A off, B still feeds what they share.
    assert state(2, (A, B), (A_, B_), off="A").kind(A, A_) is None
    assert state(2, (A, B_), (A_, B), off="A").shorts == ()


def test_polarity_is_left_minus_right() -> None:
    """Right-hand rail positive means forward. Source: NMRA S-9; NEM 631."""
    forward = state(1)
    assert forward.steps(A_, A) == ((0, -1),)  # right is plus: right above left
    assert forward.steps(A, A_) == ((0, 1),)
    turned = state(1, volts=(-12.0,))
    assert turned.potential[A] - turned.potential[A_] == pytest.approx(-12.0)
