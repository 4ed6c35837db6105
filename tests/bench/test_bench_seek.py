"""How much the search leaves out, and that it scales with the layout's parts.

The twin looks at every set of wires.  Both run here, in the same process; what is
asserted is the ratio, never a time.
"""

from __future__ import annotations

import time

import pytest

from sim.analyses.search.model import ALWAYS, Asked
from sim.analyses.search.solver import Solver
from sim.layout.assemble import assemble
from sim.layout.project import Project
from sim.scenario.document import Scenario
from tests.checked import scenario_from_text
from tests.seek.boards import HEAD, TWIN, scissors
from tests.seek.brute import Brute

FLOOR = 20.0


@pytest.mark.bench
def test_search_against_every_set_of_wires() -> None:
    scenario = scissors("live frog")
    asked = Asked(use=("jumper",), gangs=True, every_size=True, most=4)
    started = time.perf_counter()
    solved = Solver(Project(scenario), None, asked).solve(ALWAYS)
    ours = time.perf_counter() - started
    brute = Brute(assemble(scenario).layout)
    started = time.perf_counter()
    sets = brute.minimal(4)
    theirs = time.perf_counter() - started
    assert sum(s.count for s in solved.solutions) == len(sets)
    ratio = theirs / ours
    print(f"\nsearch {ours:.3f} s, every set {theirs:.3f} s: {ratio:.0f} times")
    assert ratio > FLOOR


def club(modules: int) -> Scenario:
    """Pairs of boards on two loops: a scissors that passes nothing on, and plain track.

    Every other plain board is fed, so each scissors has one dead side.
    """
    text = HEAD
    for loop in "AB":
        text += f'[[supply]]\nname = "cab {loop}"\n[[district]]\nname = "loop {loop}"\n'
        text += f'supply = "cab {loop}"\n'
        text += f'sections = ["*/{loop}/*", "*/scissors/{loop}-*"]\n'
    names = []
    for number in range(modules // 2):
        names += [f"plain {number}", f"cross {number}"]
        text += f'[[module]]\nname = "plain {number}"\n'
        for loop in "AB":
            text += f'[[module.piece]]\nname = "{loop}"\nkind = "straight"\nlength_mm = 310\n'
            if number % 2 == 0:
                text += ""
        text += f'[[module]]\nname = "cross {number}"\n[[module.piece]]\nname = "scissors"\n'
        text += f'kind = "scissors crossover"\n{TWIN}gangs = "per diagonal"\n'
    for number in range(0, modules // 2, 2):
        for loop in "AB":
            text += f'[[feeder]]\nname = "feed {loop} {number}"\nsupply = "cab {loop}"\n'
            text += f'plus = "plain {number}/{loop}/north"\n'
            text += f'minus = "plain {number}/{loop}/south"\n'
    lines = ", ".join(f'"{name}"' for name in names)
    return scenario_from_text(f"{text}[[line]]\nmodules = [{lines}]\nring = true\n")


def seconds(scenario: Scenario, asked: Asked) -> tuple[float, int | None]:
    started = time.perf_counter()
    solved = Solver(Project(scenario), None, asked).solve(ALWAYS)
    return time.perf_counter() - started, solved.size


@pytest.mark.bench
def test_a_hundred_boards_are_searched_part_by_part() -> None:
    asked = Asked(use=("jumper", "feeder"), gangs=True)
    small, size = seconds(club(8), asked)
    assert size == 4  # of four plain boards two are fed: two dead ones, two loops
    large, size = seconds(club(80), asked)
    assert size == 40
    print(f"\n8 boards {small:.3f} s, 80 boards {large:.3f} s: {large / small:.1f} times")
    assert large / small < 60.0  # ten times the parts; far from the power of the wires
