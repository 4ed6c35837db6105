"""Which fix: the order, what is enough, and what more work buys.

The rules are this project's own; hand-made facts, no source.
"""

from __future__ import annotations

from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from sim.judge.judgement import AfterFault, CaseFacts, Fact, Verdict, Work, judge

JUMPERS, FEED, HOLES = Work(opened=2, joints=8), Work(wires_at_every_show=1), Work(holes=8)


def case(
    name: str,
    clean: int | tuple[int, ...],
    in_order: bool = True,
    work: Work | None = None,
    shorts: bool = False,
    short_of_mm: float = 0.0,
    faults: tuple[AfterFault, ...] = (),
) -> CaseFacts:
    runs = (clean,) if isinstance(clean, int) else clean
    work = Work() if work is None else work
    return CaseFacts(name, in_order, shorts, runs, len(runs) > 1, work, short_of_mm, faults)


BUILT = case("as built", 6, in_order=False)


def kinds(found: Verdict) -> dict[str, str]:
    """The first thing that is said of each case."""
    said: dict[str, str] = {}
    for fact in found.facts:
        said.setdefault(fact.case, fact.kind)
    return said


def test_the_least_work_that_puts_all_in_order_is_enough() -> None:
    found = judge(
        [
            BUILT,
            case("feed", 316, work=FEED),
            case("jumpers", 316, work=JUMPERS),
            case("holes", 316, work=HOLES),
        ]
    )
    # Wires at every show come before holes, holes before pieces that are opened.
    assert (found.enough, found.choice) == ("jumpers", "jumpers")
    assert found.order == ("jumpers", "holes", "feed", "as built")
    assert kinds(found) == {
        "jumpers": "enough",
        "holes": "more work",
        "feed": "more work",
        "as built": "out of order",
    }


def test_what_shorts_or_does_not_fit_is_out_whatever_else_it_cures() -> None:
    found = judge(
        [
            BUILT,
            case("shorting", 318, shorts=True, work=JUMPERS),
            case("long", 318, short_of_mm=48.0),
            case("holes", 300, work=HOLES),
        ]
    )
    assert found.enough == "holes"
    assert Fact("long", "does not fit", number=48.0) in found.facts
    assert kinds(found)["shorting"] == "shorts in use"
    assert set(found.order[-2:]) == {"shorting", "long"}


def test_as_built_wins_where_it_is_in_order() -> None:
    built = replace(BUILT, in_order=True)
    found = judge([built, case("jumpers", 318, work=JUMPERS)])
    assert (found.enough, found.choice) == ("as built", "as built")


def test_what_leaves_something_out_of_order_only_helps() -> None:
    found = judge([BUILT, case("half", 100, in_order=False, work=JUMPERS)])
    assert (found.enough, found.choice) == (None, "half")
    assert kinds(found)["half"] == "helps most"
    nothing = judge([BUILT, case("none", 6, in_order=False, work=JUMPERS)])
    assert nothing.choice is None


def test_where_nothing_is_random_any_difference_is_real() -> None:
    found = judge([BUILT, case("jumpers", 315, work=JUMPERS), case("holes", 316, work=HOLES)])
    assert found.leaders == ("holes",)
    assert kinds(found)["jumpers"] == "does less"


def test_what_cannot_be_told_apart_is_judged_by_its_work() -> None:
    """Six runs, three for and three against: the sign-flip test tells nothing."""
    one, other = (50, 52, 50, 52, 50, 52), (52, 50, 52, 50, 52, 51)
    found = judge(
        [
            case("as built", (0,) * 6, in_order=False),
            case("holes", other, work=HOLES),
            case("jumpers", one, work=JUMPERS),
        ]
    )
    assert set(found.leaders) == {"holes", "jumpers"}
    assert found.enough == "jumpers"


def test_fewer_than_six_random_runs_tell_nothing() -> None:
    found = judge(
        [
            case("as built", (0,) * 5, in_order=False),
            case("feed", (50,) * 5, work=FEED),
            case("jumpers", (40,) * 5, work=JUMPERS),
        ]
    )
    assert not found.told_apart
    assert found.enough == "jumpers"
    assert any(fact.kind == "cannot be told" for fact in found.facts)


OPEN = AfterFault("contact F open", "contact", survived=True)
LAG = AfterFault("lever AW stays", "lever", survived=False, shorts_by_metal=True)


def test_more_work_is_chosen_only_when_asked_and_adds_no_short_by_metal() -> None:
    jumpers = case("jumpers", 316, work=JUMPERS)
    more = Work(opened=2, joints=16)
    four = case("four", 316, work=more, faults=(OPEN, LAG))
    changeovers = case("changeovers", 316, work=Work(joints=20, opened=2), faults=(OPEN,))
    plain = judge([BUILT, jumpers, four, changeovers])
    assert plain.choice == plain.enough == "jumpers"
    assert Fact("four", "survives more", ("contact F open",), 1) in plain.facts
    assert Fact("four", "shorts by metal", ("lever AW stays",), 1) in plain.facts
    asked = judge([BUILT, jumpers, four, changeovers], survive="contact")
    assert (asked.enough, asked.choice) == ("jumpers", "changeovers")
    assert judge([BUILT, jumpers, four], survive="contact").choice == "jumpers"
    assert judge([BUILT, jumpers, changeovers], survive="lever").choice == "jumpers"


works = st.builds(Work, *(st.integers(0, 3) for _ in Work._fields))
cases = st.builds(
    case,
    st.just(""),
    st.integers(0, 5),
    st.booleans(),
    works,
    st.booleans(),
    st.sampled_from([0.0, 5.0]),
)


@given(st.lists(cases, min_size=1, max_size=6), st.permutations(range(6)))
def test_the_answer_does_not_hang_on_the_order_of_the_file(
    drawn: list[CaseFacts], order: list[int]
) -> None:
    fixes = [replace(c, name=f"fix {n}") for n, c in enumerate(drawn)]
    turned = [fixes[k] for k in order if k < len(fixes)]
    one, other = judge([BUILT, *fixes]), judge([BUILT, *turned])
    assert sorted(one.order) == sorted(other.order)
    assert set(one.leaders) == set(other.leaders)
    by_name = {c.name: c for c in (BUILT, *fixes)}
    for a, b in ((one.choice, other.choice), (one.enough, other.enough)):
        assert (a is None) == (b is None)
        if a is not None and b is not None:  # of equal ones the first in the file
            assert by_name[a].work == by_name[b].work
    if one.enough is not None:
        assert by_name[one.enough].in_order and not by_name[one.enough].out


@pytest.mark.parametrize("survive", ["contact", "lever", "both"])
def test_nothing_is_chosen_where_all_are_out(survive: str) -> None:
    built = replace(BUILT, shorts=True)
    found = judge([built, case("bad", 9, shorts=True)], survive)  # type: ignore[arg-type]
    assert (found.choice, found.enough, found.leaders) == (None, None, ())
