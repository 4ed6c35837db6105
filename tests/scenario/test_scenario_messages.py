"""What is wrong is told in the file's own words, where it is, and in good time.

Rules of this project; the limits of whole numbers are TOML 1.0.0's, 64 bits.
"""

from __future__ import annotations

import os
import time
from pathlib import Path

import pytest

from sim.scenario.load import BYTES_AT_MOST, Lines
from sim.scenario.problems import Problem
from tests.checked import check_scenario
from tests.scenario.texts import ONE, TRAIN


def problems_in(text: str, tmp_path: Path) -> list[Problem]:
    path = tmp_path / "s.toml"
    path.write_text(text, "utf-8")
    return check_scenario(path)


def line_of(text: str, part: str) -> int:
    return text[: text.index(part)].count("\n") + 1


CASES = [
    (
        "too fast",
        TRAIN.replace('speed = "25 mph"', 'speed = "999999999999 mph"'),
        ("train[0].speed", "a speed above 0 and of at most 3600000 km/h",
         "'999999999999 mph'"),
    ),
    (
        "half a pair",
        '[[module]]\nname = "b"\njoins = [["P/east"]]\n'
        '[[module.piece]]\nname = "P"\nkind = "straight"\nlength_mm = 9\n',
        ("module[1].joins[0]", "a pair, two entries", "['P/east']"),
    ),
    (
        "no module in a line",
        "[[line]]\nmodules = []\n",
        ("line[0].modules", "a list with at least 1 entry", "[]"),
    ),
    (
        "a note with an escape",
        '[[fix]]\nname = "f"\nnote = "a\\u001b[31mb"\n',
        ("fix[0].note", "text on one line, without control characters",
         "'a\\x1b[31mb'"),
    ),
    (
        "a note of two lines",
        '[[fix]]\nname = "f"\nnote = """a\nb"""\n',
        ("fix[0].note", "text on one line, without control characters", "'a\\nb'"),
    ),
]  # fmt: skip


@pytest.mark.parametrize(("more", "problem"), [c[1:] for c in CASES], ids=[c[0] for c in CASES])
def test_a_message(more: str, problem: tuple[str, str, str], tmp_path: Path) -> None:
    found = problems_in(ONE + more, tmp_path)
    told = [(p.where.removeprefix("fix 'f': "), p.expected, p.found) for p in found]
    assert problem in told


@pytest.mark.parametrize(
    ("title", "found"),
    [("2020-01-01", "2020-01-01"), ("07:32:00", "07:32:00"),
     ("2020-01-01T07:32:00Z", "2020-01-01T07:32:00+00:00")],
)  # fmt: skip
def test_dates_are_told_as_files_spell_them(title: str, found: str, tmp_path: Path) -> None:
    (problem,) = problems_in(ONE.replace('"test"', title), tmp_path)
    assert (problem.where, problem.found) == ("title", found)


@pytest.mark.parametrize("char", ["\\u0007", "\\n", "\\u0085", "\\u2028", "\\uFFFE"])
def test_titles_hold_no_control_characters(char: str, tmp_path: Path) -> None:
    (problem,) = problems_in(ONE.replace('"test"', f'"a{char}b"'), tmp_path)
    assert problem.expected == "text on one line, without control characters"
    assert problems_in(ONE.replace('"test"', '"é 漢字 🚂 & <b>"'), tmp_path) == []


@pytest.mark.parametrize("digits", [40, 6000])
def test_whole_numbers_too_long_are_told_with_their_line(digits: int, tmp_path: Path) -> None:
    number = "9" * digits
    text = ONE.replace("length_mm = 200", f"length_mm = {number}")
    (problem,) = problems_in(text, tmp_path)
    assert problem.expected == "whole numbers of at most 64 bits"
    assert problem.found == "a longer one"
    assert problem.line == line_of(text, number)


def test_a_gauge_beyond_all_is_told_once_where_it_is_given(tmp_path: Path) -> None:
    text = ONE.replace("gauge_mm = 9", "gauge_mm = 900")
    assert [(p.where, p.expected) for p in problems_in(text, tmp_path)] == [
        ("gauge_mm", "a number of at most 500")
    ]


def test_a_pipe_is_called_one(tmp_path: Path) -> None:
    os.mkfifo(tmp_path / "fifo.toml")
    (problem,) = check_scenario(tmp_path / "fifo.toml")
    assert problem.found == "'fifo.toml', a pipe or device and no ordinary file"


def test_entries_of_long_lists_have_their_own_lines() -> None:
    text = """a = [
  { x = [1, 2], y = "[" }, # a comment, with a comma
  { x = 1,
    y = 2 }, "z,z", ['q'],

  [1,
   2],
]
b = 3
[[c]]
d = [
  1,
]
"""
    lines = Lines(text)
    found = [lines.of(f"a[{n}]") for n in range(5)]
    assert found == [2, 3, 4, 4, 6]
    assert lines.of("a[4][1]") == 7
    assert (lines.of("a[0].x"), lines.of("b"), lines.of("c[0].d[0]")) == (2, 9, 12)


def test_an_order_on_a_line_of_its_own_is_found(tmp_path: Path) -> None:
    text = ONE + TRAIN.replace(
        "[[train.vehicle]]",
        'orders = [\n  { do = "wait", for_s = 1 },\n  { do = "run", to = "one/Q" },\n]\n'
        "[[train.vehicle]]", 1,
    )  # fmt: skip
    (problem,) = problems_in(text, tmp_path)
    assert problem.where == "train[0].orders[1].to"
    assert problem.line == line_of(text, "one/Q")


def test_a_train_just_as_long_as_its_ring_is_refused(tmp_path: Path) -> None:
    ring = ONE + '[[join]]\na = "one/P/west"\nb = "one/P/east"\n' + TRAIN
    by_length = {}
    for length in (199.9, 200, 200.1):
        text = ring.replace("length_mm = 100", f"length_mm = {length}")
        assert text != ring
        by_length[length] = [p.expected for p in problems_in(text, tmp_path)
                             if p.severity == "error"]  # fmt: skip
    too_long = ["a track longer than the train"]
    assert by_length == {199.9: [], 200: too_long, 200.1: too_long}


def of_size(line: str) -> str:
    return line * (BYTES_AT_MOST // len(line) - 1)


HOSTILE = {
    "one endless key": "a" + ".a" * (BYTES_AT_MOST // 2 - 10) + " = 1",
    "one endless header": "[" + "a." * (BYTES_AT_MOST // 2 - 10) + "a]",
    "a key in an inline table": "x = {" + "a." * 1_000_000 + "a = 1}",
    "quoted parts": '"a".' * 1_000_000 + "b = 1",
    "many deep keys": "".join(f"a.b.c.d.e.f.g.h.i.j.k{n} = 1\n" for n in range(100_000)),
    "many unknown keys": "".join(f"key{n} = 1\n" for n in range(250_000)),
    "many tables": of_size("[[module]]\n"),
    "many empty lists": "a = [" + of_size("[],") + "]",
    "many quotes": of_size('"\n'),
    "long texts": of_size('"""'),
    "dots": of_size("."),
    "digits": "a = " + of_size("1"),
}


@pytest.mark.slow
@pytest.mark.parametrize("text", HOSTILE.values(), ids=list(HOSTILE))
def test_a_hostile_file_takes_seconds(text: str, tmp_path: Path) -> None:
    begun = time.process_time()
    assert problems_in(text, tmp_path)
    assert time.process_time() - begun < 20.0


def test_an_endless_key_is_refused_at_once(tmp_path: Path) -> None:
    """Parsed, a key of 100 000 parts takes minutes; here the limit is a second."""
    begun = time.process_time()
    (problem,) = problems_in("\n\nb = 1.5\na" + ".a" * 100_000 + " = 1", tmp_path)
    assert (problem.expected, problem.line) == ("at most 12 levels of nesting", 4)
    assert time.process_time() - begun < 1.0


def test_dots_in_texts_and_comments_are_no_keys(tmp_path: Path) -> None:
    dots = "." * 50
    text = f"# {dots}\n" + ONE.replace('"test"', f'"""{dots} \\" {dots}"""')
    assert problems_in(text + f"# {dots}", tmp_path) == []
