"""``python -m sim``: the ``gapwright`` command."""

from __future__ import annotations

import sys

from sim.command.start import main

if __name__ == "__main__":
    sys.exit(main())
