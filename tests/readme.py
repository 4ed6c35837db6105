"""The examples of README.md: run them, and write anew what they print.

``python -m tests.readme`` brings README.md up to date.  An example is a block fenced
as ``console`` whose first line is ``$ `` and a command; the rest is what it prints.
"""

from __future__ import annotations

import os
import re
import subprocess
import sys
from pathlib import Path

ROOT = Path(__file__).resolve().parents[1]
README = ROOT / "README.md"
EXAMPLE = re.compile(
    r"^```console\n\$ (?P<command>gapwright .*)\n(?P<output>(?:.*\n)*?)```$", re.M
)


def examples(text: str) -> list[tuple[str, str]]:
    """(command, output) of each example in ``text``."""
    return [(found["command"], found["output"]) for found in EXAMPLE.finditer(text)]


def output_of(command: str) -> str:
    """What a command of the README prints here, 80 columns wide, without colour.

    ``gapwright`` is the one of the Python that runs this.  Raises
    ``CalledProcessError`` when it fails.
    """
    script = f'gapwright() {{ "{sys.executable}" -m sim.command.main "$@"; }}\n{command}\n'
    told = subprocess.run(
        ["sh", "-ec", script],
        cwd=ROOT,
        env={**os.environ, "COLUMNS": "80", "PYTHONIOENCODING": "utf-8", "NO_COLOR": "1"},
        capture_output=True,
        encoding="utf-8",
        timeout=300,
        check=True,
    )
    return told.stdout.strip("\n") + "\n"


def up_to_date(text: str) -> str:
    """``text`` with the output of every example as it is now."""
    return EXAMPLE.sub(
        lambda found: f"```console\n$ {found['command']}\n{output_of(found['command'])}```",
        text,
    )


if __name__ == "__main__":
    README.write_text(up_to_date(README.read_text(encoding="utf-8")), encoding="utf-8")
