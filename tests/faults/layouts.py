"""Invented layouts for tests of faults, odds and campaigns."""

from __future__ import annotations

from sim.layout.assemble import assemble
from sim.layout.traffic import Case
from tests.checked import scenario_from_text

HEAD = """format = 1
title = "test"
scale_ratio = 160
gauge_mm = 9
"""


def loops(family: str = "live frog", gangs: str = "all", centre_gap: bool = True) -> str:
    """Two loops on a scissors, each with a supply, fed on the west side only."""
    return (
        HEAD
        + f"""
supply = [{{ name = "cab A" }}, {{ name = "cab B" }}]
feeder = [
  {{ name = "feed A", supply = "cab A", plus = "west/A/north", minus = "west/A/south" }},
  {{ name = "feed B", supply = "cab B", plus = "west/B/north", minus = "west/B/south" }},
]
line = [{{ modules = ["west", "board", "east"], ring = true }}]

[[module]]
name = "west"
piece = [
  {{ name = "A", kind = "straight", length_mm = 800 }},
  {{ name = "B", kind = "straight", length_mm = 800 }},
]
[[module]]
name = "board"
[[module.piece]]
name = "scissors"
kind = "scissors crossover"
track_centres_mm = 33
length_mm = 310
family = "{family}"
gangs = "{gangs}"
centre_gap = {str(centre_gap).lower()}
[[module]]
name = "east"
piece = [
  {{ name = "A", kind = "straight", length_mm = 600 }},
  {{ name = "B", kind = "straight", length_mm = 600 }},
]
"""
    )


#: Inner rails joined from west to east, in both tracks.
TWO = """
[[jumper]]
from = "board/scissors/A-inner-west"
to = "board/scissors/A-inner-east"
[[jumper]]
from = "board/scissors/B-inner-west"
to = "board/scissors/B-inner-east"
"""
#: The same, and frog section to frog section on each track.
FOUR = (
    TWO
    + """
[[jumper]]
from = "board/scissors/A-mid-west"
to = "board/scissors/A-mid-east"
[[jumper]]
from = "board/scissors/B-mid-west"
to = "board/scissors/B-mid-east"
"""
)


def plain(joins: str = "") -> str:
    """Three straights in a row, the first fed by one supply; ``joins`` is more text."""
    return (
        HEAD
        + """
supply = [{ name = "cab" }]
feeder = [{ name = "drop", supply = "cab", plus = "one/P/north", minus = "one/P/south" }]
line = [{ modules = ["one", "two", "three"] }]
[[module]]
name = "one"
piece = [{ name = "P", kind = "straight", length_mm = 300 }]
[[module]]
name = "two"
piece = [{ name = "P", kind = "straight", length_mm = 300 }]
[[module]]
name = "three"
piece = [{ name = "P", kind = "straight", length_mm = 300 }]
"""
        + joins
    )


def case(text: str, fix: str | None = None) -> Case:
    """The case of a scenario text."""
    return assemble(scenario_from_text(text), fix)
