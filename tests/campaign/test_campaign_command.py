"""The command as a user calls it: killed, resumed, interrupted, given nonsense."""

from __future__ import annotations

import json
import os
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest

from sim.command.campaign import DEFAULT_RUNS
from sim.judge.store import CampaignError, open_store
from tests.campaign.small import LOOPS

TIMEOUT_S = 120
#: Long enough that a campaign is caught in its middle.
HOURS = ("--hours", "0.1")
EXTENT = ("--runs", "12", "--band-runs", "0", *HOURS)


def words(*more: str) -> list[str]:
    return [sys.executable, "-m", "sim.command.main", "campaign", str(LOOPS), *more]


def gapwright(folder: Path, *more: str, **settings: str) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        words(*more),
        capture_output=True,
        text=True,
        encoding="utf-8",
        cwd=folder,
        timeout=TIMEOUT_S,
        env={**os.environ, "PYTHONPATH": str(LOOPS.parents[2]), "COLUMNS": "80", **settings},
    )


def document(folder: Path, *more: str, **settings: str) -> bytes:
    told = gapwright(folder, *EXTENT, *more, "--json", "out.json", **settings)
    assert told.returncode == 0, told.stderr
    return (folder / "out.json").read_bytes()


@pytest.fixture(scope="module")
def undisturbed(tmp_path_factory: pytest.TempPathFactory) -> bytes:
    return document(tmp_path_factory.mktemp("whole"), "--workers", "1", PYTHONHASHSEED="1")


def test_workers_and_hash_seed_change_nothing(tmp_path: Path, undisturbed: bytes) -> None:
    assert document(tmp_path, "--workers", "3", PYTHONHASHSEED="77") == undisturbed
    found = json.loads(undisturbed)
    assert found["format_version"] == 2
    assert found["runs"] == 12
    assert found["duration_s"] == 360
    assert found["cases"][0]["name"] == "as built"
    assert found["sensitivity"] == []


@pytest.mark.skipif(sys.platform == "win32", reason="no SIGKILL")
@pytest.mark.parametrize(
    "end", [signal.SIGKILL, pytest.param(signal.SIGINT, marks=pytest.mark.slow)]
)
def test_killed_in_the_middle_and_resumed(
    end: signal.Signals, tmp_path: Path, undisturbed: bytes
) -> None:
    kept = tmp_path / "loops.campaign"
    running = subprocess.Popen(
        words(*EXTENT, "--workers", "2"),
        cwd=tmp_path,
        env={**os.environ, "PYTHONPATH": str(LOOPS.parents[2])},
        stdout=subprocess.DEVNULL,
        stderr=subprocess.PIPE,
    )
    try:
        until = time.monotonic() + TIMEOUT_S
        while not kept.exists() or kept.read_bytes().count(b"\n") < 3:
            assert running.poll() is None
            assert time.monotonic() < until
            time.sleep(0.01)
        running.send_signal(end)
        said = running.communicate(timeout=TIMEOUT_S)[1]
    finally:
        running.kill()
    assert kept.read_bytes().count(b"\n") < 13
    if end == signal.SIGINT:
        assert running.returncode == 130
        assert b"kept in loops.campaign: " in said
        assert b"; --resume goes on" in said
        assert b"Traceback" not in said
    refused = gapwright(tmp_path, *EXTENT)
    assert refused.returncode == 2
    assert "go on with --resume" in refused.stderr
    assert document(tmp_path, "--resume") == undisturbed


@pytest.mark.slow
@pytest.mark.skipif(sys.platform == "win32", reason="no limit on the size of files")
def test_a_full_disk(tmp_path: Path, undisturbed: bytes) -> None:
    """A limit on file sizes stands for a disk without room."""
    limited = (
        "import resource, signal, sys;"
        "signal.signal(signal.SIGXFSZ, signal.SIG_IGN);"
        "resource.setrlimit(resource.RLIMIT_FSIZE, (20_000, 20_000));"
        "from sim.command.main import main; sys.exit(main(sys.argv[1:]))"
    )
    told = subprocess.run(
        [sys.executable, "-c", limited, "campaign", str(LOOPS), *EXTENT],
        capture_output=True,
        text=True,
        cwd=tmp_path,
        timeout=TIMEOUT_S,
        env={**os.environ, "PYTHONPATH": str(LOOPS.parents[2])},
    )
    assert told.returncode == 2
    assert "finished replications are safe in it" in told.stderr
    assert "Traceback" not in told.stderr
    assert document(tmp_path, "--resume") == undisturbed


def test_the_page(tmp_path: Path) -> None:
    told = gapwright(tmp_path, "--runs", "2", "--band-runs", "1", "--keep", "here", "--full")
    assert (told.returncode, told.stderr) == (0, "")
    assert "Runs in which anything stalled" in told.stdout
    assert "How far the assumptions reach" in told.stdout
    assert "contact that should close stays open: assumed 0.2" in told.stdout
    assert (tmp_path / "here").exists()


@pytest.mark.parametrize(
    ("more", "said"),
    [
        (("--runs", "0"), "from 1 to"),
        (("--hours", "nan"), "expected a number"),
        (("--until-width", "2"), "expected a number"),
        (("--records", "r.xls"), "expected a file that ends in"),
        (("--keep", "none/c"), "cannot write"),
        (("--dask", "x", "--workers", "2"), "expected none beside --dask"),
    ],
)
def test_unusable_arguments(more: tuple[str, ...], said: str, tmp_path: Path) -> None:
    told = gapwright(tmp_path, *more)
    assert told.returncode == 2
    assert said in " ".join(told.stderr.split())
    assert "Traceback" not in told.stderr
    assert not list(tmp_path.iterdir())


def test_records_beside(tmp_path: Path) -> None:
    told = gapwright(
        tmp_path, "--runs", "2", "--band-runs", "0", "--records", "r.csv", "--json", "-"
    )
    assert told.returncode == 0
    found = json.loads(told.stdout)
    lines = (tmp_path / "r.csv").read_text().splitlines()
    legs = sum(line.split(",")[3] == "leg" for line in lines)
    random_cases = [c for c in found["cases"] if c["random"]]
    once = [c for c in found["cases"] if not c["random"]]
    assert legs == sum(c["legs"] for c in random_cases) + sum(c["legs"] // 2 for c in once)


def test_help_gives_the_runs_that_a_campaign_makes() -> None:
    told = subprocess.run(
        [sys.executable, "-m", "sim.command.main", "campaign", "--help"],
        capture_output=True, text=True, cwd=Path(__file__).parents[2], timeout=60,
    )  # fmt: skip
    assert f"runs of each case (default {DEFAULT_RUNS});" in " ".join(told.stdout.split())


def test_runs_are_kept_in_ordinary_files_only(tmp_path: Path) -> None:
    os.mkfifo(tmp_path / "fifo")
    with pytest.raises(CampaignError, match="an ordinary file"):
        open_store(tmp_path / "fifo", "x", {}, resume=False)
