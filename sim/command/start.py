"""Where the installed command begins: nothing is imported before Ctrl-C is minded."""

from __future__ import annotations

import sys


def main() -> int:
    """Load the command and run it; give the exit code."""
    try:
        from sim.command.main import main as run

        return run()
    except KeyboardInterrupt:
        print("gapwright: interrupted", file=sys.stderr)
        return 130
