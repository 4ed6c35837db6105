"""Whole commands on a small invented scenario, as a user would call them."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest

ROOT = Path(__file__).resolve().parents[2]
LOOPS = str(Path(__file__).with_name("loops.toml").relative_to(ROOT))
STATES = {"live", "dead", "short"}
KINDS = {
    "floating",
    "same pole",
    "no return",
    "wrong voltage",
    "insulated",
    "tripped",
    "starved",
}
OUTCOMES = {"clean", "hesitated", "stalled", "tripped", "held", "not finished"}
HOWS = {"one pole", "common return", "paralleled", "opposed"}


def gapwright(*words: str, **more: str) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [sys.executable, "-m", "sim.command.main", *words],
        capture_output=True,
        text=True,
        encoding="utf-8",
        cwd=ROOT,
        timeout=120,
        env={**os.environ, "COLUMNS": "80", **more},
    )


def document(*words: str, **more: str) -> dict[str, Any]:
    told = gapwright(*words, "--json", "-", **more)
    assert (told.returncode, told.stderr) == (0, "")
    found: dict[str, Any] = json.loads(told.stdout)
    assert found["format_version"] == 2
    return found


# --- bad files ------------------------------------------------------------------


@pytest.fixture
def bad(tmp_path: Path) -> Path:
    path = tmp_path / "bad.toml"
    text = (ROOT / LOOPS).read_text(encoding="utf-8")
    path.write_text(text.replace("gauge_mm = 9", "gauge_mm = -9").replace("ring", "rong"))
    return path


@pytest.mark.parametrize("command", ["check", "states", "run", "compare"])
def test_a_bad_scenario_exits_1_with_every_problem(command: str, bad: Path) -> None:
    told = gapwright(command, str(bad))
    assert told.returncode == 1
    said = told.stdout if command == "check" else told.stderr
    assert "gauge_mm" in said
    assert "rong" in said
    assert "Traceback" not in told.stderr


@pytest.mark.parametrize("command", ["check", "states", "run", "compare"])
@pytest.mark.parametrize("content", [None, b"", b"\x00\xff\xfe", b"a = [" * 5000])
def test_what_is_no_scenario_at_all_exits_1(
    command: str, content: bytes | None, tmp_path: Path
) -> None:
    path = tmp_path / "x.toml"
    if content is not None:
        path.write_bytes(content)
    told = gapwright(command, str(path))
    assert told.returncode == 1
    assert "Traceback" not in told.stderr
    assert "defect" not in told.stderr
    assert gapwright(command, str(tmp_path)).returncode == 1


def test_check_document_of_a_bad_file(bad: Path) -> None:
    told = gapwright("check", str(bad), "--json", "-")
    assert told.returncode == 1
    problems = json.loads(told.stdout)["problems"]
    assert len(problems) >= 2
    for problem in problems:
        assert {"where", "expected", "found", "severity"} <= set(problem)
        assert problem["severity"] in ("error", "warning")


def test_check_of_a_good_file() -> None:
    told = gapwright("check", LOOPS)
    assert told.returncode == 0
    assert "no problems" in told.stdout
    assert document("check", LOOPS)["scenario"] == "Two loops on one feed"


@pytest.mark.parametrize("command", ["states", "run"])
def test_an_unknown_fix_is_an_unusable_argument(command: str) -> None:
    told = gapwright(command, LOOPS, "--fix", "two jumper")
    assert told.returncode == 2
    assert "'two jumpers'" in told.stderr
    assert told.stdout == ""


# --- states ---------------------------------------------------------------------


def test_states_document_of_the_loops() -> None:
    found = document("states", LOOPS)
    assert (found["fix"], found["groups"], found["skipped"]) == (None, 1, None)
    assert len(found["settings"]) == 4  # two gangs of two positions
    for setting in found["settings"]:
        for section in setting["sections"].values():
            assert set(section["fed_by"]) <= {"cab A+", "cab A-", "cab B+", "cab B-"}
        for route in setting["routes"].values():
            assert route["state"] in STATES
            assert all(d["kind"] in KINDS for d in route["dead"])
        assert all(j["how"] in HOWS for j in setting["joined_supplies"])
    through = found["settings"][0]
    assert set(through["levers"].values()) == {"through"}
    # An oval hides a break: all is fed the other way round (common practice, no source).
    assert through["sections"]["board/scissors/A-inner-east"] == {"fed_by": ["cab A-"]}
    assert through["routes"]["board/scissors/A-west-A-east"]["state"] == "live"


def test_levers_one_by_one() -> None:
    assert len(document("states", LOOPS, "--levers", "each")["settings"]) == 16


def test_as_built_may_be_named() -> None:
    assert document("states", LOOPS, "--fix", "as built")["fix"] is None
    assert document("states", LOOPS, "--fix", "two jumpers")["fix"] == "two jumpers"


def test_document_and_page_together(tmp_path: Path) -> None:
    path = tmp_path / "states.json"
    told = gapwright("states", LOOPS, "--json", str(path))
    assert told.returncode == 0
    assert "States of 'Two loops on one feed' as built" in told.stdout
    assert path.read_text("utf-8") == gapwright("states", LOOPS, "--json", "-").stdout


def test_schema_is_json() -> None:
    told = gapwright("schema")
    assert told.returncode == 0
    assert isinstance(json.loads(told.stdout), dict)


# --- run and compare ------------------------------------------------------------


@pytest.mark.parametrize("words", [("states",), ("run",), ("compare", "--runs", "3")])
def test_pages_in_a_pipe_are_plain_and_fit(words: tuple[str, ...]) -> None:
    told = gapwright(words[0], LOOPS, *words[1:])
    assert (told.returncode, told.stderr) == (0, "")
    assert "\x1b" not in told.stdout
    assert max(map(len, told.stdout.splitlines())) <= 80
    assert f"gapwright {words[0]} {LOOPS}" in " ".join(told.stdout.split())


def test_run_document() -> None:
    found = document("run", LOOPS, "--seed", "5")
    assert found["seed"] == 5
    assert found["duration_s"] == 120
    assert found["legs"]
    assert all(x["outcome"] in OUTCOMES for x in found["legs"] + found["passes"])
    assert all(s["kind"] in KINDS for s in found["stalls"])


def test_compare_document() -> None:
    found = document("compare", LOOPS, "--runs", "4")
    fixes = ["two jumpers", "reverse B", "clean contacts"]
    assert [c["name"] for c in found["cases"]] == ["as built", *fixes]
    assert [d["fix"] for d in found["differences"]] == fixes
    for case in found["cases"]:
        assert sum(s["stalls"] for s in case["by_section"]) == case["stalls"]
        assert case["settings"]["total"] == 4
    built = found["cases"][0]
    for case, difference in zip(found["cases"][1:], found["differences"], strict=True):
        removed = built["stalls"] - case["stalls"]
        assert difference["stalls_removed"] == pytest.approx(removed / found["runs"])


def test_a_fix_that_leaves_nothing_to_chance_is_told_so() -> None:
    found = document("compare", LOOPS, "--runs", "8")
    built, *_, clean = found["cases"]
    assert (built["random"], clean["random"]) == (True, False)
    assert built["stalls"] > 0
    assert (clean["stalls"], clean["low"], clean["high"]) == (0, None, None)
    assert built["low"] < built["stall_rate"] < built["high"]
    assert found["verdicts"][2]["says"][0] == f"Removes all {built['stalls']} stalls in 8 runs."


def test_compare_counts_what_single_runs_record() -> None:
    """A run of each replication's own seed gives the totals of the comparison."""
    found = document("compare", LOOPS, "--runs", "3")
    alone = [document("run", LOOPS, "--seed", str(s)) for s in found["run_seeds"]]
    built = found["cases"][0]
    assert built["legs"] == sum(len(r["legs"]) for r in alone)
    assert built["stalls"] == sum(len(r["stalls"]) for r in alone)
    assert built["hesitations"] == sum(len(r["hesitations"]) for r in alone)


@pytest.mark.parametrize(
    "words",
    [
        ("states", LOOPS),
        ("run", LOOPS, "--fix", "two jumpers"),
        ("compare", LOOPS, "--runs", "4"),
    ],
)
def test_same_seed_same_bytes(words: tuple[str, ...]) -> None:
    compare = words[0] == "compare"
    one = gapwright(
        *words, *(("--workers", "1") if compare else ()), "--json", "-", PYTHONHASHSEED="1"
    )
    two = gapwright(
        *words, *(("--workers", "2") if compare else ()), "--json", "-", PYTHONHASHSEED="2"
    )
    assert one.stdout == two.stdout
    assert len(one.stdout) > 200
