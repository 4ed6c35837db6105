"""The same file and seed give the same bytes, however a machine adds up.

OpenBLAS takes the code for another processor when it is told to; elsewhere the
variable says nothing and the test only repeats itself.
"""

from __future__ import annotations

import os
import shlex
import subprocess
import sys

import pytest

PROCESSORS = ("Prescott", "Haswell", "SkylakeX", "Zen")
COMMANDS = (
    "run scenarios/club-loops.toml --seed 3",
    "run scenarios/branch-terminus.toml",
    "volts scenarios/club-loops.toml",
    "volts scenarios/loose-gang.toml",
    "volts scenarios/branch-terminus.toml",
    "netlist scenarios/well-fed.toml",
    "odds scenarios/loose-gang.toml",
    "worksheet scenarios/club-loops.toml --fix 'four jumpers'",
)


def _output(command: str, **env: str) -> bytes:
    told = subprocess.run(
        [sys.executable, "-m", "sim.command.main", *shlex.split(command), "--json", "-"],
        env={**os.environ, **env},
        capture_output=True,
        check=True,
    )
    return told.stdout


@pytest.mark.slow
@pytest.mark.parametrize("command", COMMANDS)
def test_the_processor_does_not_show(command: str) -> None:
    told = {_output(command, OPENBLAS_CORETYPE=p, PYTHONHASHSEED="0") for p in PROCESSORS}
    told.add(_output(command, PYTHONHASHSEED="1"))
    assert len(told) == 1
