"""Whole commands, as a person at the terminal waits for them.

The unit is the start of a bare interpreter, measured in turn with the command.
"""

from __future__ import annotations

import os
import subprocess
import sys
import time
from pathlib import Path

import pytest

pytestmark = pytest.mark.bench

CLUB = Path("scenarios/club-loops.toml")
RUN = "from sim.command.start import main; raise SystemExit(main())"
#: `compare` with its default number of runs, on two cores: 7 s where a start takes 20 ms.
#: Six cases are run and each of them judged; judging them cold takes about a third.
COMPARE_STARTS = 350
HELP_STARTS = 15
ROUNDS = 5


def _seconds(*arguments: str) -> float:
    begun = time.perf_counter()
    subprocess.run([sys.executable, *arguments], check=True, stdout=subprocess.DEVNULL)
    return time.perf_counter() - begun


def _best(*arguments: str) -> tuple[float, float]:
    """Seconds of the command and of a bare start, in turn, the best of each."""
    took = [(_seconds("-c", RUN, *arguments), _seconds("-c", "pass")) for _ in range(ROUNDS)]
    whole, bare = min(t[0] for t in took), min(t[1] for t in took)
    print(f"\n{' '.join(arguments)}: {whole:.2f} s, {whole / bare:.1f} bare starts")
    return whole, bare


def test_help(capsys: pytest.CaptureFixture[str]) -> None:
    with capsys.disabled():
        whole, bare = _best("--help")
    assert whole <= HELP_STARTS * bare


@pytest.mark.skipif(len(os.sched_getaffinity(0)) < 2, reason="one core only")
def test_compare_as_it_comes(capsys: pytest.CaptureFixture[str]) -> None:
    with capsys.disabled():
        whole, bare = _best("compare", str(CLUB))
    assert whole <= COMPARE_STARTS * bare
