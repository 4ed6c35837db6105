"""The guard: what all commands say, written before and after a change and compared.

::

    python -m tests.guard write DIR [--inputs OTHER] [--quick] [--workers N]
    python -m tests.guard compare DIR OTHER

``compare`` ends with 0 where every byte is the same, and else with 1.
"""

from __future__ import annotations

import argparse
import os
import sys
from pathlib import Path

from tests.guard.comparing import differences
from tests.guard.writing import write


def main() -> int:
    """Do what the words say; give the exit code."""
    parser = argparse.ArgumentParser(
        "python -m tests.guard", description=(__doc__ or "").split("\n")[0]
    )
    commands = parser.add_subparsers(dest="command", required=True)
    writing = commands.add_parser("write", help="write inputs and outputs into a new folder")
    writing.add_argument("folder", type=Path, metavar="DIR")
    writing.add_argument("--inputs", type=Path, help="take the inputs of this writing")
    writing.add_argument("--quick", action="store_true", help="the demos and ten layouts")
    writing.add_argument("--workers", type=int, default=2, help="processes (default 2)")
    comparing = commands.add_parser("compare", help="tell every file that differs")
    comparing.add_argument("folder", type=Path, metavar="DIR")
    comparing.add_argument("other", type=Path, metavar="OTHER")
    options = parser.parse_args()
    if options.command == "write":
        if options.folder.exists():
            parser.error(f"expected a folder that is not there yet, got {options.folder}")
        calls = write(options.folder, options.inputs, options.quick, options.workers)
        used = sum(os.times()[:4])
        print(f"{calls} calls written into {options.folder} ({used:.0f} s of processor)")
        return 0
    for folder in (options.folder, options.other):
        if not (folder / "outputs").is_dir():
            parser.error(f"expected a folder that 'write' has made, got {folder}")
    found = list(differences(options.folder, options.other))
    print("\n".join(found) or "every byte is the same")
    if found:
        print(f"files that differ: {len(found)}")
    return 1 if found else 0


if __name__ == "__main__":
    sys.exit(main())
