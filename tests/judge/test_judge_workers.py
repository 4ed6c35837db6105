"""Workers that die: their work is done again, or it is said what happened."""

from __future__ import annotations

import multiprocessing
import os
import signal
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import pytest

import sim.command.main
from sim.judge.compare import compare_cases
from sim.judge.comparison import Comparison
from sim.judge.workers import (
    LOSSES_AT_MOST,
    Crew,
    WorkersLostError,
    crew_here,
    crew_of_processes,
)
from sim.layout.traffic import Case
from sim.records.model import Record
from tests import made

CASES = [made.case(), made.case("half"), made.case("cure")]
PARENT = os.getpid()
TRIED = "GAPWRIGHT_TEST_TRIED"


def compared(workers: int, run: object = made.luck) -> Comparison:
    notes = ["", "one wire", "two wires"]
    return compare_cases(CASES, notes, 12, 1, workers, None, run, made.survey)  # type: ignore[arg-type]


def end_once(of: Case, seed: int) -> Record:
    """The first time that each run is tried its worker is ended, as the system would."""
    mark = Path(os.environ[TRIED]) / f"{of.fix} {seed}"
    if seed % 5 == 0 and not mark.exists():
        mark.touch()
        os.kill(os.getpid(), signal.SIGKILL)
    return made.luck(of, seed)


def end_always(of: Case, seed: int) -> Record:
    """One case takes every worker along; never this process."""
    if of.fix == "half" and os.getpid() != PARENT:
        with (Path(os.environ[TRIED]) / "times").open("a", encoding="utf-8") as file:
            file.write(".")
        os.kill(os.getpid(), signal.SIGKILL)
    return made.luck(of, seed)


@pytest.fixture(autouse=True)
def tried(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.setenv(TRIED, str(tmp_path))
    return tmp_path


def test_what_a_dead_worker_did_is_done_again(tried: Path) -> None:
    assert compared(2, end_once) == compared(1)
    assert list(tried.iterdir())  # some did die


def test_a_run_that_ends_every_worker_is_named(tried: Path) -> None:
    with pytest.raises(WorkersLostError, match="--workers 1"):
        compared(2, end_always)
    assert len((tried / "times").read_text(encoding="utf-8")) >= LOSSES_AT_MOST + 1


def test_the_user_is_told_what_to_do_and_of_no_defect(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setattr("sim.run.run.run", end_always)
    monkeypatch.setattr("sim.judge.replicate.Work.do", _kill)
    words = ["compare", "tests/command/loops.toml", "--runs", "4", "--workers", "2"]
    assert sim.command.main.main(words) == 2
    said = capsys.readouterr().err
    assert "--workers" in said and "memory" in said and "defect" not in said


def _kill(*_: object) -> None:
    os.kill(os.getpid(), signal.SIGKILL)


def halved(number: int) -> int:
    return number // 2


@pytest.mark.parametrize(
    "crew",
    [crew_here(), crew_of_processes(3), Crew(lambda: ThreadPoolExecutor(2), 3, executors=2)],
    ids=["here", "processes", "threads"],
)
def test_every_job_is_done_once_and_those_that_results_call_for(crew: Crew) -> None:
    """Each number calls for its half, until 0."""

    def half(number: int, result: int) -> list[int]:
        return [result] if number else []

    with crew.at_work(halved, [37, 5, 64], half, lambda number: number % 2) as results:
        found = list(results)
    assert all(result == number // 2 for number, result in found)
    numbers = [37, 18, 9, 4, 2, 1, 0, 5, 2, 1, 0, 64, 32, 16, 8, 4, 2, 1, 0]
    assert sorted(number for number, _ in found) == sorted(numbers)


def test_a_defect_of_a_job_comes_through_and_leaves_nobody_at_work() -> None:
    with (
        pytest.raises(ZeroDivisionError),
        crew_of_processes(2).at_work(one_over, [1, 0, *range(2, 20)]) as results,
    ):
        list(results)
    assert not multiprocessing.active_children()


def one_over(number: int) -> float:
    return 1 / number
