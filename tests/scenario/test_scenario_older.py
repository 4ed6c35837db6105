"""Files written with the keys of before still read, and mean what they meant."""

from __future__ import annotations

import pytest

from sim.layout.assemble import assemble
from sim.scenario.read import check_scenario, read_scenario
from tests.scenario.texts import FILES

OLDER = FILES / "older.toml"


def test_it_reads_without_a_word() -> None:
    assert check_scenario(OLDER) == []


def test_its_numbers_keep_their_meaning() -> None:
    case = assemble(read_scenario(OLDER))
    contacts = {e.id: (e.opens, e.bad) for e in case.layout.elements if e.kind == "contact"}
    assert contacts == {"fork/T/through": (0.2, 0.0), "fork/T/diverging": (0.1, 0.0)}
    motor = case.trains[0].vehicles[0].motor
    assert motor is not None
    assert (motor.running_a, motor.starting_a) == (0.15, 0.4)
    assert motor.standing_ohm == pytest.approx(3.0 / 0.4)  # start voltage over starting current
    assert {w.ohm for w in case.wear} == {8.0}  # tired contacts and joiners alike
    (turnout,) = (p.piece for p in case.layout.pieces if p.piece.kind == "turnout")
    dead = [
        s.to_mm - s.from_mm
        for r in turnout.routes
        for s in r.spans
        if None in (s.left, s.right)
    ]
    assert dead == pytest.approx([20.0, 20.0], abs=0.05)


def test_so_do_those_of_its_fix() -> None:
    case = assemble(read_scenario(OLDER), "clean")
    assert {e.opens for e in case.layout.elements if e.kind == "contact"} == {0.01}
