"""The order of equal instants, against a sorted list. Rules of this project, no source."""

from __future__ import annotations

from unittest.mock import patch

import simpy
from hypothesis import given
from hypothesis import strategies as st

from sim.run.agenda import Agenda, Once, Turn

TURNS = st.sampled_from(list(Turn))
#: What is asked for: (delay, turn, and what that asks for in its turn when it comes).
ASKED = st.lists(
    st.tuples(
        st.integers(0, 3), TURNS, st.lists(st.tuples(st.integers(0, 2), TURNS), max_size=2)
    ),
    max_size=8,
)


def done(agenda: Agenda, until_us: int = 100) -> None:
    while agenda.next_us < until_us:
        agenda.do_next()


def test_time_then_turn_then_who_asked_first() -> None:
    agenda, told = Agenda(), list[str]()
    agenda.at(5, Turn.WHEELS, told.append, "third")
    agenda.at(5, Turn.LEVERS, told.append, "second")
    agenda.at(5, Turn.WHEELS, told.append, "fourth")
    agenda.at(2, Turn.STALLS, told.append, "first")
    done(agenda)
    assert told == ["first", "second", "third", "fourth"]
    assert agenda.now == 5


def test_what_is_due_at_the_end_is_not_done() -> None:
    agenda, told = Agenda(), list[int]()
    for time_us in (0, 4, 5, 6):
        agenda.at(time_us, Turn.MOTION, told.append, time_us)
    agenda.run_until(5)
    assert (told, agenda.now, agenda.next_us) == ([0, 4], 5, 5)
    agenda.run_until(7)
    assert (told, agenda.now) == ([0, 4, 5, 6], 7)


@given(ASKED)
def test_everything_comes_in_its_turn(
    asked: list[tuple[int, Turn, list[tuple[int, Turn]]]],
) -> None:
    agenda = Agenda()
    came: list[tuple[int, Turn, int]] = []
    expected: list[tuple[int, Turn, int]] = []

    def ask(delay_us: int, turn: Turn, then: list[tuple[int, Turn]]) -> None:
        number = len(expected)
        expected.append((agenda.now + delay_us, turn, number))
        agenda.at(delay_us, turn, come, (turn, number, then))

    def come(what: tuple[Turn, int, list[tuple[int, Turn]]]) -> None:
        turn, number, then = what
        came.append((agenda.now, turn, number))
        for delay_us, next_turn in then:
            # What is asked for within an instant for a turn that is over comes at once,
            # so only later turns can be compared with a sorted list.
            if delay_us or next_turn >= turn:
                ask(delay_us, next_turn, [])

    for delay_us, turn, then in asked:
        ask(delay_us, turn, then)
    done(agenda)
    assert came == sorted(expected)


@given(st.lists(st.tuples(st.integers(0, 3), st.booleans()), max_size=12))
def test_a_plan_comes_as_if_each_had_been_asked_for(items: list[tuple[int, bool]]) -> None:
    def told(planned: bool) -> list[tuple[int, object]]:
        agenda, came = Agenda(), list[tuple[int, object]]()

        def come(what: object) -> None:
            came.append((agenda.now, what))

        agenda.at(1, Turn.LEVERS, come, "before")
        plans = [(delay_us, n) for n, (delay_us, _) in enumerate(items)]
        if planned:
            agenda.plan(Turn.LEVERS, come, plans)
        else:
            for delay_us, n in plans:
                agenda.at(delay_us, Turn.LEVERS, come, n)
        for n, (delay_us, also) in enumerate(items):
            if also:
                agenda.at(delay_us, Turn.LEVERS, come, f"after {n}")
        done(agenda)
        return came

    assert told(True) == told(False)


def test_simpy_waits_once_for_each_instant() -> None:
    agenda, told = Agenda(), list[int]()
    for n in range(12):
        agenda.at(n // 4, Turn.MOTION, told.append, n)
    made = list[float]()
    plain = simpy.Timeout.__init__

    def counted(self: simpy.Timeout, env: simpy.Environment, delay: float) -> None:
        made.append(delay)
        plain(self, env, delay)

    with patch.object(simpy.Timeout, "__init__", counted):
        agenda.run_until(10)
    assert told == list(range(12))
    assert made == [0, 1, 1]


def test_once_is_done_once_in_an_instant_and_again_in_the_next() -> None:
    agenda, told = Agenda(), list[int]()
    once = Once(agenda, Turn.SOLVE, lambda: told.append(agenda.now))
    for time_us in (1, 1, 2):
        agenda.at(time_us, Turn.WHEELS, lambda _: once.request(), None)
    agenda.at(2, Turn.STALLS, lambda _: once.request(), None)
    done(agenda)
    assert told == [1, 2, 2]
    assert not once.due
