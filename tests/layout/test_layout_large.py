"""Large layouts: time grows with their size, and nothing else does."""

from __future__ import annotations

import time

from sim.layout.assemble import assemble
from sim.scenario.read import scenario_from_text
from tests.scenario.texts import HEAD


def ring_of(count: int) -> str:
    boards = "".join(
        f'[[module]]\nname = "m{n}"\n[[module.piece]]\nname = "P"\n'
        'kind = "scissors crossover"\ntrack_centres_mm = 33\nlength_mm = 310\n'
        for n in range(count)
    )
    names = [f"m{n}" for n in range(count)]
    return HEAD + boards + f"[[line]]\nmodules = {names}\nring = true\n"


def timed(count: int) -> float:
    """Best of three, s: what disturbs a machine only ever makes it slower."""
    text = ring_of(count)
    best = float("inf")
    for _ in range(3):
        start = time.perf_counter()
        assemble(scenario_from_text(text))
        best = min(best, time.perf_counter() - start)
    return best


def test_a_ring_of_a_thousand_boards() -> None:
    layout = assemble(scenario_from_text(ring_of(1000))).layout
    assert len(layout.pieces) == 1000
    assert sum(e.kind == "joiner" for e in layout.elements) == 4000
    outer = {}
    for element in layout.elements:
        if element.kind == "joiner" and element.id.endswith("joiner-A-east-north"):
            outer[layout.nodes[element.a]] = layout.nodes[element.b]
    here, seen = "m0/P/A-outer", 0
    while seen == 0 or here != "m0/P/A-outer":
        here, seen = outer[here], seen + 1
    assert seen == 1000


def test_time_grows_with_the_number_of_boards() -> None:
    """Eight times the boards in at most 20 times the time: a square would take 64."""
    assert timed(400) < 20 * timed(50)
