"""Where the installed command begins: nothing is imported before Ctrl-C is minded."""

from __future__ import annotations

import gc
import sys

#: New things between two searches for rubbish: a command makes much and drops little.
NEW_THINGS = 50_000


def main() -> int:
    """Load the command and run it; give the exit code."""
    gc.set_threshold(NEW_THINGS, 20, 50)
    try:
        from sim.command.main import main as run

        return run()
    except KeyboardInterrupt:
        print("gapwright: interrupted", file=sys.stderr)
        return 130
