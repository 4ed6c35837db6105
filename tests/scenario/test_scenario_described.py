"""Pieces described rail by rail, in the scenario or in a file of their own."""

from __future__ import annotations

from pathlib import Path

import pytest
import tomli_w

from sim.layout.assemble import assemble
from sim.pieces.described import to_data
from sim.pieces.kinds import build
from tests.checked import check_scenario, read_scenario
from tests.scenario.texts import ONE

STUB = """
[[piece]]
kind = "stub"
sections = ["left rail", "right rail"]
[[piece.ends]]
name = "open"
outward = "west"
north = "left rail"
south = "right rail"
[[piece.ends]]
name = "stop"
outward = "east"
north = "left rail"
south = "right rail"
joinable = false
[[piece.routes]]
from = "open"
to = "stop"
spans = [{ from_mm = 0, to_mm = "1 ft", left = "left rail", right = "right rail" }]
"""
USED = '[[module.piece]]\nname = "S"\nkind = "stub"\n'


def told(path: Path, text: str) -> list[tuple[str, str, str]]:
    path.write_text(text, "utf-8")
    return [(p.where, p.expected, p.found) for p in check_scenario(path)]


@pytest.fixture
def path(tmp_path: Path) -> Path:
    return tmp_path / "s.toml"


def test_a_piece_in_the_scenario(path: Path) -> None:
    assert told(path, ONE + USED + STUB) == []
    layout = assemble(read_scenario(path)).layout
    assert layout.nodes[2:4] == ("one/S/left rail", "one/S/right rail")
    assert layout.routes[1].length_um == 304_800  # 1 ft is 304.8 mm by definition


def test_a_piece_in_a_file_of_its_own(path: Path) -> None:
    data = to_data(build("turnout", {"gauge_mm": 9.0}))
    (path.parent / "pieces").mkdir()
    (path.parent / "pieces" / "t.toml").write_text(tomli_w.dumps(data), "utf-8")
    text = ONE + USED + '[[piece]]\nkind = "stub"\nfile = "pieces/t.toml"\n'
    assert told(path, text) == []
    assert assemble(read_scenario(path)).layout.levers[0].id == "one/S/lever"


FILE = "a relative path to a file in the scenario's folder or below"


@pytest.mark.parametrize(
    ("file", "expected", "found"),
    [
        ("../t.toml", FILE, "'../t.toml'"),
        ("/etc/hostname", FILE, "'/etc/hostname'"),
        ("", FILE, "''"),
        ("none.toml", "a scenario file", "no such file as 'none.toml'"),
    ],
)
def test_a_file_that_cannot_be_used(file: str, expected: str, found: str, path: Path) -> None:
    text = ONE + USED + f'[[piece]]\nkind = "stub"\nfile = "{file}"\n'
    assert told(path, text)[0] == ("piece[0].file", expected, found)


def test_a_description_that_does_not_hold_together(path: Path) -> None:
    found = told(path, ONE + USED + STUB.replace('left = "left rail"', 'left = "lost rail"'))
    assert found[0] == (
        "piece[0].routes[0].spans[0].left",
        "a section of the piece",
        "'lost rail'",
    )
    assert {where.split(".")[0] for where, _, _ in found} == {"piece[0]"}


def test_a_kind_of_the_library_cannot_be_described_again(path: Path) -> None:
    assert told(path, ONE + STUB.replace('"stub"', '"straight"')) == [
        (
            "piece[0].kind",
            "a kind that is neither in the library nor described before",
            "'straight'",
        )
    ]


def test_a_described_kind_has_no_parameters(path: Path) -> None:
    assert told(path, ONE + USED + "length_mm = 3\n" + STUB) == [
        ("module[0].piece[1].length_mm", "a known key", "unknown key 'length_mm'")
    ]


def test_a_fix_whose_name_holds_a_quote(path: Path) -> None:
    text = ONE + '[[fix]]\nname = "Ann\'s: fix"\nreverse = ["cob"]\n'
    path.write_text(text, "utf-8")
    (problem,) = check_scenario(path)
    assert problem.where == "fix 'Ann's: fix': fix[0].reverse[0]"
    assert problem.line == text.count("\n")
