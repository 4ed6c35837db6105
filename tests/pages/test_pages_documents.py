"""Documents: keys and closed lists as promised to other programs, stable bytes."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from pathlib import Path
from typing import Any, get_args

import pytest

from sim.judge.compare import compare_cases
from sim.layout.traffic import Assumption
from sim.pages import compare as document_compare
from sim.pages import documents
from sim.pages.documents import Asked, to_json, write_text_atomically
from sim.records.model import Kind, Outcome
from sim.scenario.problems import Problem
from tests import made

ASKED = Asked("Two loops", "gapwright run loops.toml --seed 7")

# The closed lists that other programs rely on, written down here once more.
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


def through_json(document: dict[str, Any]) -> dict[str, Any]:
    read: dict[str, Any] = json.loads(to_json(document))
    return read


def needs(keys: str, data: dict[str, Any]) -> None:
    missing = set(keys.split()) - set(data)
    assert not missing, f"missing {missing}"


def test_the_models_speak_the_closed_lists() -> None:
    assert set(get_args(Outcome)) == OUTCOMES
    assert set(get_args(Kind)) - {"short"} == KINDS


def test_check_document() -> None:
    problems = [Problem("module[0].length_mm", "a length", "'x'", "error", 4, "no-length")]
    assumed = [Assumption("a contact stays open", "0.002 per throw", "practice", True)]
    found = through_json(documents.check_document(Asked(None, "c"), problems, assumed))
    assert found["format_version"] == 2
    assert found["problems"] == [
        {
            "code": "no-length",
            "where": "module[0].length_mm",
            "line": 4,
            "expected": "a length",
            "found": "'x'",
            "severity": "error",
        }
    ]
    assert found["assumed"] == [
        {"what": "a contact stays open", "value": "0.002 per throw", "whose": "practice"}
    ]
    (plain,) = documents.check_document(ASKED, [Problem("x", "y", "z")])["problems"]
    assert plain["code"] is None


def test_states_document() -> None:
    found = through_json(documents.states_document(ASKED, made.chart()))
    needs("format_version scenario fix settings groups skipped", found)
    assert (found["scenario"], found["fix"], found["groups"]) == ("Two loops", "jumpers", 1)
    through, diverging = found["settings"]
    for setting in (through, diverging):
        needs("levers sections routes shorts joined_supplies", setting)
    assert through["levers"] == {"board/points/lever": "through"}
    assert through["sections"]["board/points/SN"] == {"fed_by": ["cab A+"]}
    assert through["routes"]["board/points/points-through"] == {
        "set": True,
        "state": "dead",
        "dead": [
            {
                "left": "board/points/SN",
                "right": "board/points/HT",
                "kind": "floating",
                "from_mm": 80.0,
                "to_mm": 124.0,
            }
        ],
        "insulated_spans": [{"side": "right", "from_mm": 70.0, "to_mm": 80.0}],
    }
    assert (through["dead"], through["short"]) == (True, False)
    assert (diverging["dead"], diverging["short"]) == (True, True)
    assert diverging["shorts"] == [
        {"poles": ["cab A+", "cab A-"], "elements": ["board/points/diverging", "jumper 1"]}
    ]
    assert diverging["joined_supplies"] == [
        {"poles": ["cab A+", "cab B+"], "how": "one pole", "elements": ["jumper 1"]}
    ]


def test_run_document() -> None:
    found = through_json(documents.run_document(ASKED, made.record(), made.ASSUMPTIONS))
    needs("format_version scenario fix seed duration_s legs passes stalls", found)
    needs("hesitations trips derailments run_throughs", found)
    assert (found["fix"], found["seed"], found["duration_s"]) == (None, 7, 1200.0)
    for leg in found["legs"]:
        needs("train leg outcome start_s end_s", leg)
        assert leg["outcome"] in OUTCOMES
    assert [p["leave_s"] for p in found["passes"]] == [5.5, None]
    stall = found["stalls"][0]
    needs("time_s train route section place_mm side kind cause would_restore nudges", stall)
    assert stall["would_restore"] == [
        ["board/scissors/AW-through"],
        ["jumper 1", "jumper 2"],
    ]
    assert stall["kind"] in KINDS
    needs("time_s train route duration_s", found["hesitations"][0])
    assert found["trips"][0]["current_a"] == 1.25
    needs("time_s supply current_a cause", found["trips"][0])
    assert found["assumptions"][0] == {
        "what": "a contact stays open",
        "value": "5 % of throws",
        "whose": "yours",
    }
    assert found["command"] == ASKED.command


def test_compare_document() -> None:
    cases = [made.case(), made.case("half"), made.case("cure")]
    comparison = compare_cases(cases, ["", "", ""], 8, 1, 1, None, made.luck, made.survey)
    found = through_json(document_compare.compare_document(ASKED, comparison))
    needs("format_version scenario seed runs cases differences assumptions", found)
    assert found["runs"] == 8
    assert found["cases"][0]["name"] == "as built"
    for case in found["cases"]:
        needs("name legs stalled_legs passes stalled_passes stalls hesitations trips", case)
        needs("stall_rate low high by_section settings", case)
        assert sum(s["stalls"] for s in case["by_section"]) == case["stalls"]
        assert sum(p["stalls"] for p in case["by_piece"]) == case["stalls"]
        assert 0 <= case["stall_rate_low"] <= case["stall_rate"] <= case["stall_rate_high"] <= 1
        needs("clean_legs ideal_legs clean_share low high not_clean tripped_legs", case)
        assert case["clean_legs"] + sum(case["not_clean"].values()) == case["ideal_legs"]
        for section in case["by_section"]:
            needs("section stalls kind cause", section)
            assert section["kind"] in KINDS
        needs("total dead short", case["settings"])
    for difference in found["differences"]:
        needs("fix stalls_removed low high p_value", difference)
    assert len(found["verdicts"]) == 2


def test_numbers_are_rounded_and_never_minus_zero() -> None:
    stall = made.stall(place_mm=-0.0, time_s=1.23456789)
    found = documents.run_document(ASKED, made.record(stalls=(stall,)))
    text = to_json(found)
    assert '"time_s": 1.234568' in text
    assert "-0.0" not in text


def test_same_bytes_whatever_the_hash_seed() -> None:
    program = (
        "import sys; from tests import made; from sim.pages import documents as d\n"
        "from sim.pages import compare as c; from sim.pages.documents import to_json\n"
        "from sim.judge.compare import compare_cases\n"
        "a = d.Asked('Two loops', 'x')\n"
        "cases = [made.case(), made.case('half'), made.case('cure')]\n"
        "found = compare_cases(cases, ['', '', ''], 6, 1, int(sys.argv[1]), None, "
        "made.luck, made.survey)\n"
        "print(to_json(c.compare_document(a, found)))\n"
        "print(to_json(d.states_document(a, made.chart())))\n"
        "print(to_json(d.run_document(a, made.record())))\n"
    )
    said = {
        subprocess.run(
            [sys.executable, "-c", program, workers],
            env={**os.environ, "PYTHONHASHSEED": hash_seed},
            capture_output=True,
            check=True,
        ).stdout
        for hash_seed, workers in (("0", "1"), ("1", "2"), ("4242", "3"))
    }
    assert len(said) == 1
    assert len(said.pop()) > 1000


def test_write_replaces_whole_files_and_leaves_nothing_beside(tmp_path: Path) -> None:
    path = tmp_path / "out.json"
    write_text_atomically(path, "one\n")
    write_text_atomically(path, "zwei Ω\n")
    assert path.read_bytes() == "zwei Ω\n".encode()
    assert [p.name for p in tmp_path.iterdir()] == ["out.json"]


def test_a_failed_write_keeps_the_old_file(tmp_path: Path) -> None:
    path = tmp_path / "out.json"
    path.write_text("old")
    with pytest.raises(UnicodeEncodeError):
        write_text_atomically(path, "\ud800")
    assert path.read_text() == "old"
    assert [p.name for p in tmp_path.iterdir()] == ["out.json"]


def test_write_respects_the_umask_and_an_old_mode(tmp_path: Path) -> None:
    path = tmp_path / "out.json"
    old = os.umask(0o027)
    try:
        write_text_atomically(path, "x")
        assert path.stat().st_mode & 0o777 == 0o640
        path.chmod(0o600)
        write_text_atomically(path, "y")
        assert path.stat().st_mode & 0o777 == 0o600
    finally:
        os.umask(old)


def test_standard_output(capsys: pytest.CaptureFixture[str]) -> None:
    write_text_atomically("-", "{}\n")
    assert capsys.readouterr().out == "{}\n"
