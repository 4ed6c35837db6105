"""Large layouts: time grows with their size, and nothing else does."""

from __future__ import annotations

from sim.layout.assemble import assemble
from tests.checked import scenario_from_text
from tests.scenario.texts import HEAD


def ring_of(count: int) -> str:
    boards = "".join(
        f'[[module]]\nname = "m{n}"\n[[module.piece]]\nname = "P"\n'
        'kind = "scissors crossover"\ntrack_centres_mm = 33\nlength_mm = 310\n'
        for n in range(count)
    )
    names = [f"m{n}" for n in range(count)]
    return HEAD + boards + f"[[line]]\nmodules = {names}\nring = true\n"


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
