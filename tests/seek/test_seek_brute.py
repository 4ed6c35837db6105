"""The search against every set of wires looked at one by one, and minimality by itself."""

from __future__ import annotations

from dataclasses import replace

import pytest

from sim.analyses.search.model import ALWAYS, Asked, Change, Demand
from sim.analyses.search.solver import Solver
from sim.layout.assemble import assemble
from sim.layout.project import Project
from sim.scenario.document import Scenario
from tests.seek.boards import every_board
from tests.seek.brute import Brute, Set

BOARDS = every_board()
ASKED = Asked(use=("jumper",), gangs=True, every_size=True)


def found(scenario: Scenario, brute: Brute, asked: Asked) -> set[Set]:
    """What the search gives, as sets of pairs of groups."""
    solved = Solver(Project(scenario), None, asked).solve(asked.demands)
    assert solved.complete

    def pair(change: Change) -> frozenset[int]:
        join = change.joins[0]
        return frozenset((brute.group[join.a], brute.group[join.b]))

    return {
        frozenset(map(pair, chosen))
        for solution in solved.solutions
        for chosen in solution.sets()
        if len(chosen) <= asked.most
    }


def check(scenario: Scenario, asked: Asked) -> set[Set]:
    case = assemble(scenario)
    brute = Brute(case.layout, "contact" in asked.demands, "lever" in asked.demands)
    sets = found(scenario, brute, asked)
    assert sets == brute.minimal(asked.most)
    for wires in sets:  # minimality by itself: any one wire less and it is no cure
        assert brute.is_good(wires)
        assert not any(brute.is_good(wires - {wire}) for wire in wires)
    return sets


@pytest.mark.parametrize("name", BOARDS)
def test_search_agrees_with_brute_force_up_to_two_wires(name: str) -> None:
    check(BOARDS[name], replace(ASKED, most=2))


@pytest.mark.slow
@pytest.mark.parametrize("name", BOARDS)
def test_search_agrees_with_brute_force_up_to_four_wires(name: str) -> None:
    check(BOARDS[name], replace(ASKED, most=4))


@pytest.mark.parametrize("more", [("contact",), ("lever",), ("contact", "lever")])
@pytest.mark.parametrize("name", ["turnout, live frog", "crossover, live frog",
                                  "scissors, live frog"])  # fmt: skip
def test_it_does_so_with_the_further_demands(name: str, more: tuple[Demand, ...]) -> None:
    most = 3 if name.startswith("turnout") else 2
    check(BOARDS[name], replace(ASKED, most=most, demands=(*ALWAYS, *more)))
