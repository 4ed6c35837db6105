"""``faults`` and ``odds`` as a user calls them."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest

ROOT = Path(__file__).resolve().parents[2]
LOOPS = "tests/command/loops.toml"


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


def test_faults_as_built_with_every_fix() -> None:
    found = document("faults", LOOPS, "--depth", "2")
    assert found["scenario"] == "Two loops on one feed"
    assert found["fix"] is None
    assert found["settings"] == 4
    assert [f["fix"] for f in found["fixes"]] == [
        "two jumpers",
        "reverse B",
        "clean contacts",
    ]
    lost = [h["lost"] for h in found["single"]]
    assert lost == sorted(lost, reverse=True)
    assert found["double"]
    assert all(len(h["faults"]) == 2 for h in found["double"])
    jumpers = found["fixes"][0]
    assert {f["kind"] for f in jumpers["cured"]} == {"joiner open"}


def test_faults_of_one_fix() -> None:
    found = document("faults", LOOPS, "--fix", "two jumpers")
    assert found["fix"] == "two jumpers"
    assert found["double"] is None
    parts = [h["faults"][0]["part"] for h in found["single"]]
    assert "jumper 1" in parts
    assert [f["fix"] for f in found["fixes"]] == ["two jumpers"]


def test_exact_odds() -> None:
    """Two contacts in series that stay open once in five: 1 - 0.8² (by multiplication)."""
    found = document("odds", LOOPS)
    routes = {
        r["route"]: r
        for s in found["settings"]
        if set(s["levers"].values()) == {"through"}
        for r in s["routes"]
    }
    main = routes["board/scissors/A-west-A-east"]
    assert main["odds"] == pytest.approx(0.36)
    assert sorted(main["cut_sets"]) == [
        ["board/scissors/AE-through"],
        ["board/scissors/AW-through"],
    ]
    assert [c["name"] for c in found["cases"]] == [
        "as built",
        "two jumpers",
        "reverse B",
        "clean contacts",
    ]
    assert found["cases"][3]["odds"] == 0


@pytest.mark.parametrize("command", ["faults", "odds"])
def test_pages_and_hash_seeds(command: str) -> None:
    told = [gapwright(command, LOOPS, PYTHONHASHSEED=seed) for seed in ("1", "99")]
    assert told[0].returncode == 0
    assert told[0].stderr == ""
    assert told[0].stdout == told[1].stdout
    assert "To get the same result again" in told[0].stdout


@pytest.mark.parametrize("command", ["faults", "odds", "campaign"])
def test_bad_files_and_arguments(command: str, tmp_path: Path) -> None:
    path = tmp_path / "bad.toml"
    text = (ROOT / LOOPS).read_text(encoding="utf-8")
    path.write_text(text.replace("gauge_mm = 9", "gauge_mm = -9"), encoding="utf-8")
    told = gapwright(command, str(path))
    assert told.returncode == 1
    assert "gauge_mm" in told.stderr
    assert "Traceback" not in told.stderr
    assert gapwright(command, str(tmp_path / "none.toml")).returncode == 1
    assert gapwright(command).returncode == 2
    assert gapwright(command, LOOPS, "--levers" if command != "campaign" else "--runs", "?"
                     ).returncode == 2  # fmt: skip


def test_an_unknown_fix_and_depth() -> None:
    told = gapwright("faults", LOOPS, "--fix", "three jumpers")
    assert told.returncode == 2
    assert "'two jumpers'" in told.stderr
    assert gapwright("faults", LOOPS, "--depth", "3").returncode == 2
