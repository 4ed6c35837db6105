"""A piece written out rail by rail and read back gives the same chart."""

from __future__ import annotations

import json
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
import tomli_w
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from sim.layout.assemble import assemble
from sim.layout.model import Layout
from sim.pages.documents import Asked, states_document
from sim.pieces.described import from_data, to_data
from sim.pieces.model import Piece
from sim.power.chart import chart
from sim.power.parts import LIMIT
from tests.checked import read_scenario, scenario_from_text
from tests.pieces.cases import (
    FAMILIES,
    SLIP_FAMILIES,
    crossover,
    pieces,
    scissors,
    turnout,
)
from tests.power.test_power_twin import compare_setting
from tests.scenario.texts import HEAD

ANY = settings(max_examples=60, deadline=None, suppress_health_check=list(HealthCheck))


def text_of(piece: Piece, wires: list[tuple[str, str, str]]) -> str:
    """A scenario of one board with ``piece`` described, and feeders to its sections."""
    head = HEAD.replace("gauge_mm = 9", f"gauge_mm = {piece.gauge_mm!r}")
    data = {"piece": [to_data(replace(piece, kind="mine"))]}
    text = head + tomli_w.dumps(data)
    text += '\n[[module]]\nname = "b"\n[[module.piece]]\nname = "p"\nkind = "mine"\n'
    for name in dict.fromkeys(name for name, _, _ in wires):
        text += f'[[supply]]\nname = "{name}"\n'
    for number, (name, plus, minus) in enumerate(wires):
        text += f'[[feeder]]\nname = "f{number}"\nsupply = "{name}"\n'
        text += f'plus = "b/p/{plus}"\nminus = "b/p/{minus}"\n'
    return text


def document(text: str, each: bool = True) -> dict[str, Any]:
    case = assemble(scenario_from_text(text))
    return states_document(Asked("", ""), chart(case, each))


def _made(kind: str, **params: object) -> tuple[Piece, str]:
    """A library piece, and the lines of a scenario that make it."""
    makers = {
        "turnout": turnout,
        "single crossover": crossover,
        "scissors crossover": scissors,
    }
    own = params if kind == "turnout" else {"track_centres_mm": 33, "length_mm": 310} | params
    lines = [f"{key} = {json.dumps(value)}" for key, value in {"kind": kind, **own}.items()]
    return makers[kind](**params), "\n".join(lines)


MADE = [
    *(
        _made(kind, family=family)
        for kind in ("turnout", "single crossover", "scissors crossover")
        for family in FAMILIES
    ),
    _made("scissors crossover", centre_gap=False, corners="fed", gangs="per diagonal"),
    _made("turnout", frog_gaps=True, hand="symmetrical"),
]


@pytest.mark.parametrize(("piece", "lines"), MADE)
def test_a_library_piece_in_a_file_of_its_own(piece: Piece, lines: str, tmp_path: Path) -> None:
    """The scenario with the library piece, and with its description from a file."""
    ends = [(e.north, e.south) for e in piece.ends]
    wires = [("A", *ends[0]), ("B", *ends[-1])] if len(ends) > 3 else [("A", *ends[0])]
    inline = text_of(piece, wires)
    kept = inline[: inline.index("[[piece]]")] + inline[inline.index("\n[[module]]") :]
    (tmp_path / "mine.toml").write_text(
        tomli_w.dumps(to_data(replace(piece, kind="mine"))), "utf-8"
    )
    path = tmp_path / "scenario.toml"
    path.write_text(kept + '[[piece]]\nkind = "mine"\nfile = "mine.toml"\n', "utf-8")
    library = kept.replace('kind = "mine"', lines)
    for each in (False, True):
        told = document(library, each)
        assert (
            states_document(Asked("", ""), chart(assemble(read_scenario(path)), each)) == told
        )
        assert document(inline, each) == told


@ANY
@given(st.data())
def test_any_piece_survives_being_written_and_read(data: st.DataObject) -> None:
    """Random pieces, random feeders: the same chart, and the one the twin expects."""
    piece = data.draw(pieces())
    section = st.sampled_from([s.name for s in piece.sections])
    wires = data.draw(
        st.lists(st.tuples(st.sampled_from("ABC"), section, section), min_size=1, max_size=4)
    )
    again = from_data(to_data(piece))
    first, second = (assemble(scenario_from_text(text_of(p, wires))) for p in (piece, again))
    told = chart(first, each=True)
    assert told == chart(second, each=True)
    assert told.total <= LIMIT
    layout: Layout = first.layout
    for setting in told.settings:
        compare_setting(layout, setting, alone=told.groups < 2)


@ANY
@given(st.data())
def test_random_layouts_of_library_pieces(data: st.DataObject) -> None:
    """Boards beside each other with jumpers anywhere: charts agree with the twin."""
    kind = st.sampled_from(["turnout", "single crossover", "scissors crossover"])
    switched = st.tuples(kind, st.sampled_from(FAMILIES))
    slip = st.tuples(st.just("double slip"), st.sampled_from(SLIP_FAMILIES))
    boards = data.draw(st.lists(switched | slip, min_size=1, max_size=2))
    text = HEAD
    for number, (what, own) in enumerate(boards):
        name = f"m{number}"
        text += f'[[module]]\nname = "{name}"\n[[module.piece]]\nname = "p"\n'
        text += f'kind = "{what}"\nfamily = "{own}"\n'
        if what.endswith("crossover"):
            text += "track_centres_mm = 33\nlength_mm = 310\n"
    layout = assemble(scenario_from_text(text)).layout
    section = st.sampled_from(layout.nodes)
    for name in "AB":
        turned = "true" if data.draw(st.booleans()) else "false"
        text += f'[[supply]]\nname = "{name}"\nreversed = {turned}\n'
    for number in range(data.draw(st.integers(1, 4))):
        text += (
            f'[[feeder]]\nname = "f{number}"\nsupply = "{data.draw(st.sampled_from("AB"))}"\n'
        )
        text += f'plus = "{data.draw(section)}"\nminus = "{data.draw(section)}"\n'
    for _ in range(data.draw(st.integers(0, 3))):
        a, b = data.draw(section), data.draw(section)
        if a != b:
            text += f'[[jumper]]\nfrom = "{a}"\nto = "{b}"\n'
    case = assemble(scenario_from_text(text))
    told = chart(case)
    for setting in told.settings:
        compare_setting(case.layout, setting, alone=told.groups < 2)
