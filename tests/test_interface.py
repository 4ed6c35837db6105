"""``import sim``: what Python is given says what the commands say.

Rules of this project, no source.
"""

from __future__ import annotations

import csv
import io
import json
import subprocess
import sys
import tomllib
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

import sim
from sim.command.main import main
from sim.pages.answer import COLUMNS, LINES_AT_MOST, Answer, Question, flat, rows_under

ROOT = Path(__file__).resolve().parents[1]
LOOPS = ROOT / "tests" / "command" / "loops.toml"
FIX = "two jumpers"

Ask = Callable[[sim.Project], Answer[Any]]
#: A command's words, the same question in Python, and how its rows are known.
ASKED: list[tuple[tuple[str, ...], Ask, set[str]]] = [
    (("compare", "--runs", "2", "--seed", "7", "--workers", "1"),
     lambda p: p.compare(runs=2, seed=7, workers=1), {"name", "stall_rate"}),
    (("compare", "--runs", "1", "--levers", "each", "--workers", "1"),
     lambda p: p.compare(1, levers="each", workers=1), {"name", "settings.dead"}),
    (("states",), lambda p: p.states(), {"setting", "route", "state"}),
    (("states", "--levers", "each", "--fix", FIX),
     lambda p: p.case(FIX).states("each"), {"setting", "route", "state"}),
    (("states", "--fix", "as built"),
     lambda p: p.case("as built").states(), {"setting", "route", "state"}),
    (("run", "--seed", "3"), lambda p: p.run(3), {"what", "time_s", "train"}),
    (("run", "--fix", FIX), lambda p: p.case(FIX).run(), {"what", "time_s", "train"}),
    (("volts", "--fix", FIX), lambda p: p.case(FIX).volts(), {"section", "volts"}),
    (("odds",), lambda p: p.odds(), {"setting", "route", "odds"}),
    (("odds", "--fix", FIX, "--levers", "each"),
     lambda p: p.case(FIX).odds("each"), {"setting", "route", "odds"}),
    (("faults", "--depth", "2"), lambda p: p.faults(depth=2), {"faults", "lost"}),
    (("faults", "--fix", FIX), lambda p: p.case(FIX).faults(), {"faults", "lost"}),
    (("seek", "--most", "2", "--settings", "gangs", "--use", "jumper,gap", "--at", "board"),
     lambda p: p.seek(most=2, settings="gangs", use=["jumper", "gap"], at="board"),
     {"size"}),
    (("seek", "--fix", FIX, "--survive", "contact", "--most", "1"),
     lambda p: p.case(FIX).seek(survive="contact", most=1), set()),
]  # fmt: skip


@pytest.fixture(scope="module")
def project() -> sim.Project:
    return sim.load(LOOPS)


@pytest.mark.parametrize(("words", "ask", "columns"), ASKED, ids=lambda x: str(x)[:40])
def test_an_answer_says_what_the_command_says(
    words: tuple[str, ...],
    ask: Ask,
    columns: set[str],
    project: sim.Project,
    capsys: pytest.CaptureFixture[str],
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setenv("COLUMNS", str(COLUMNS))
    command, *rest = words
    answer = ask(project)
    assert main([command, str(LOOPS), *rest, "--json", "-"]) == 0
    assert answer.to_dict() == json.loads(capsys.readouterr().out)
    assert main([command, str(LOOPS), *rest]) == 0
    page = capsys.readouterr().out
    assert answer.text() == page.strip("\n") + "\n"
    lines = str(answer).splitlines()
    assert len(lines) <= LINES_AT_MOST
    assert page.splitlines()[: len(lines) - 1] == lines[:-1]
    _are_flat(answer.rows(), columns)


def _are_flat(rows: list[dict[str, Any]], columns: set[str]) -> None:
    """One table: all columns in all rows, and in every cell one plain value."""
    assert not columns or rows
    for row in rows:
        assert columns <= set(row)
        assert list(row) == list(rows[0])
        assert all(isinstance(v, (str, int, float, type(None))) for v in row.values())
    text = io.StringIO()
    writer = csv.DictWriter(text, list(rows[0]) if rows else [])
    writer.writeheader()
    writer.writerows(rows)
    assert len(list(csv.DictReader(io.StringIO(text.getvalue())))) == len(rows)


def test_rows_are_of_what_was_found(project: sim.Project) -> None:
    """By hand: four settings of two crossovers over nine routes; three fixes."""
    compared = project.compare(1, workers=1)
    assert [row["name"] for row in compared.rows()] == ["as built", *project.fixes]
    assert compared.as_built is compared.found.cases[0]
    states = project.case(FIX).states()
    layout_routes = {r["route"] for r in states.rows()}
    assert len(states.rows()) == 4 * len(layout_routes)
    assert {row["setting"] for row in states.rows()} == {1, 2, 3, 4}
    dead = sum(setting.dead for setting in states.found.settings)
    assert len({r["setting"] for r in states.rows() if r["setting.dead"]}) == dead
    stalls = [row for row in project.run().rows() if row["what"] == "stall"]
    assert len(stalls) == len(project.run().found.stalls)
    assert len(project.faults().rows()) == len(project.faults().found.single)
    with pytest.raises(AttributeError):
        compared.nonsense  # noqa: B018


def test_tables_within_tables_made_flat() -> None:
    table = {
        "name": "x",
        "within": {"a": 1, "b": {"c": None}},
        "by_id": {"one": {"d": 1}},
        "words": ["p", "q"],
        "pairs": [["p", "q"], ["r"]],
        "named": [{"name": "n", "more": 1}, {"id": "i"}],
        "nameless": [{"more": 1}],
        "empty": [],
    }
    assert flat(table) == {
        "name": "x",
        "within.a": 1,
        "within.b.c": None,
        "words": "p; q",
        "pairs": "p + q; r",
        "named": "n; i",
    }
    document = {"settings": [{"odds": 1, "routes": {"r": {"odds": 2}, "s": {"odds": 3}}}]}
    assert list(rows_under("settings", "routes:route")(document)) == [
        {"setting": 1, "setting.odds": 1, "route": "r", "odds": 2},
        {"setting": 1, "setting.odds": 1, "route": "s", "odds": 3},
    ]


def test_what_is_empty_in_one_row_only_is_none_there() -> None:
    document: dict[str, Any] = {"cases": [{"n": 1, "l": []}, {"n": 2, "l": ["x"]}]}
    answer = Answer(
        None,
        Question("x", "x", ()),
        "x",
        lambda page, again: page.line("\n".join("abc")),
        lambda asked: document,
        rows_under("cases"),
    )
    assert answer.rows() == [{"n": 1, "l": None}, {"n": 2, "l": "x"}]
    assert str(answer) == repr(answer) == "a\nb\nc"


def test_a_bad_file_is_an_exception_with_all_its_problems(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path = tmp_path / "bad.toml"
    text = LOOPS.read_text(encoding="utf-8")
    bad = text.replace('kind = "straight"', 'kind = "straigt"', 1)
    path.write_text(bad.replace("count", "cuont").replace("gauge_mm = 9", "gauge_mm = -9"))
    with pytest.raises(sim.ScenarioError) as error:
        sim.load(path)
    assert main(["check", str(path), "--json", "-"]) == 1
    told = json.loads(capsys.readouterr().out)["problems"]
    errors = [(p["where"], p["line"]) for p in told if p["severity"] == "error"]
    assert [(p.where, p.line) for p in error.value.problems] == errors
    assert len(errors) > 1
    assert all(isinstance(p, sim.Problem) for p in error.value.problems)


def test_what_cannot_be_asked_is_told_as_expected_and_got(project: sim.Project) -> None:
    with pytest.raises(sim.ScenarioError) as error:
        project.case("two jumper")
    assert "'two jumpers'" in error.value.problems[0].expected
    bad: list[tuple[str, Callable[[], object]]] = [
        ("levers", lambda: project.states("gang")),  # type: ignore[arg-type]
        ("depth", lambda: project.faults(3)),  # type: ignore[arg-type]
        ("runs", lambda: project.compare(0)),
        ("at", lambda: project.seek(at="nowhere")),
        ("use", lambda: project.seek(use=["string"])),
        ("survive", lambda: project.seek(survive="all")),  # type: ignore[arg-type]
    ]
    for name, ask in bad:
        with pytest.raises(ValueError, match=rf"^{name}: expected .* got "):
            ask()
    with pytest.raises(AttributeError):
        sim.nonsense  # noqa: B018


def test_importing_sim_loads_nothing_else() -> None:
    code = (
        "import sys; before = set(sys.modules); import sim; sim.load\n"
        "print(sorted(m for m in set(sys.modules) - before if m.startswith('sim.')))\n"
        "print(sorted({m.split('.')[0] for m in sys.modules} & "
        "{'pygame', 'numpy', 'scipy', 'simpy', 'networkx', 'pydantic', 'rich', 'argparse'}))"
    )
    assert _python("-c", code) == "[]\n[]\n"


def test_python_m_sim_is_the_command() -> None:
    assert _python("-m", "sim", "--version") == _python("-m", "sim.command.main", "--version")
    assert _python("-m", "sim", "states", str(LOOPS), "--json", "-") == _python(
        "-m", "sim.command.main", "states", str(LOOPS), "--json", "-"
    )


def _python(*words: str) -> str:
    told = subprocess.run(
        [sys.executable, *words],
        cwd=ROOT,
        capture_output=True,
        text=True,
        timeout=60,
        check=True,
    )
    return told.stdout


def test_types_are_published() -> None:
    data = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))
    assert "py.typed" in data["tool"]["setuptools"]["package-data"]["sim"]
    assert (ROOT / "sim" / "py.typed").read_text() == ""
