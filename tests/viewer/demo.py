"""Cases that viewer tests share: the shipped twin loop, and a small ring of straights."""

from __future__ import annotations

import os
from functools import cache
from pathlib import Path

from sim.layout.assemble import assemble
from sim.layout.traffic import Case
from sim.records.model import Record
from sim.run.run import run
from tests.checked import read_scenario

os.environ.setdefault("SDL_VIDEODRIVER", "dummy")
os.environ.setdefault("PYGAME_HIDE_SUPPORT_PROMPT", "1")

ROOT = Path(__file__).parent.parent.parent
CLUB = ROOT / "scenarios" / "club-loops.toml"
TERMINUS = ROOT / "scenarios" / "branch-terminus.toml"
LOOPS = ROOT / "tests" / "command" / "loops.toml"


@cache
def case_of(path: Path, fix: str | None = None) -> Case:
    """A case, put together once."""
    return assemble(read_scenario(str(path)), fix)


@cache
def record_of(path: Path, fix: str | None = None, seed: int = 1) -> Record:
    """Its record with motions, made once."""
    return run(case_of(path, fix), seed, motions=True)
