"""Small scenario texts for tests, all invented."""

from __future__ import annotations

from pathlib import Path

FILES = Path(__file__).parent / "files"
LOOPS = (FILES / "loops.toml").read_text("utf-8")

HEAD = """format = 1
title = "test"
scale_ratio = 160
gauge_mm = 9
"""

#: One board with one straight, 200 mm, fed in the middle of its own rails.
ONE = (
    HEAD
    + """
[[supply]]
name = "cab"

[[feeder]]
name = "drop"
supply = "cab"
plus = "one/P/north"
minus = "one/P/south"

[[module]]
name = "one"
[[module.piece]]
name = "P"
kind = "straight"
length_mm = 200
"""
)

#: A turnout and two straights on one board, beside ONE.
BRANCH = """
[[module]]
name = "fork"
joins = [["T/through", "main/west"], ["T/diverging", "side/west"]]
[[module.piece]]
name = "T"
kind = "turnout"
[[module.piece]]
name = "main"
kind = "straight"
length_mm = 300
[[module.piece]]
name = "side"
kind = "siding end"
length_mm = 300
"""

TRAIN = """
[[train]]
name = "local"
at = "one/P"
place_mm = 150
speed = "25 mph"
[[train.vehicle]]
name = "engine"
length_mm = 100
pickups_mm = [10, 90]
motor = { speed = "60 mph", at_voltage_v = 10 }
"""
