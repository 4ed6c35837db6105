"""Write a first scenario from a few answers: commented, and ready to run."""

from __future__ import annotations

from sim.begin.boards import PLAIN_GAUGES, boards_text
from sim.begin.fixes import fixes_text
from sim.begin.questions import Answers

#: Engine and coach by gauge: length and pickups in gauges (invented, scaled alike).
ENGINE_GAUGES = 11.0
PICKUPS_GAUGES = (1.4, 3.2, 7.8, 9.6)
#: A line of a timetable.
_CROSS = '    { do = "cross", at = "board/cross" },\n'


def scenario_text(answers: Answers, title: str) -> str:
    """The whole file. Raises :class:`sim.begin.boards.TooShortError`."""
    parts = [
        _head(answers, title),
        _supplies(answers),
        boards_text(answers),
        _line(answers),
        _feeders(answers),
        _train(answers),
        _run(),
        fixes_text(answers),
    ]
    return "\n".join(parts)


def _head(answers: Answers, title: str) -> str:
    twin = "two loops" if answers.twin else "one loop and a siding"
    return f"""# A first scenario: {twin}, with a {answers.piece} on one board.
#
# Written from a few answers. Everything marked "invented" is a guess that makes it
# run: put in what you have measured. Check the file with
#     gapwright check FILE
# and see what it says with `states`, `run` and `compare`.

format = 1
title = {_quoted(title)}
scale_ratio = {answers.ratio:g} # 1:{answers.ratio:g}
gauge_mm = {answers.gauge_mm:g}
"""


def _supplies(answers: Answers) -> str:
    tracks = "AB" if answers.twin else "A"
    tables = [
        f"""[[supply]]
name = "cab {t}"
kind = "dc" # or "digital"
voltage_v = 12
trip_a = 1 # invented
"""
        for t in tracks
    ]
    return "# --- supply: one controller a track " + "-" * 47 + "\n\n" + "\n".join(tables)


def _line(answers: Answers) -> str:
    siding = ""
    if not answers.twin:
        siding = """
[[join]] # the siding lies behind the leg that diverges
a = "board/points/diverging"
b = "siding/stop/west"
"""
    return f"""# --- the boards stand in a ring: west, board, east -----------------------------

[[line]]
modules = ["west", "board", "east"]
ring = true
{siding}"""


def _feeders(answers: Answers) -> str:
    text = "# --- where it is fed " + "-" * 62 + "\n"
    text += "# Plus on the right-hand rail drives forward (NMRA S-9): south, going east.\n\n"
    sides = ("west", "east") if answers.fed == "both" else (answers.fed,)
    for track in "AB" if answers.twin else "A":
        for side in sides:
            text += f"""[[feeder]]
name = "feed {track} {side}"
supply = "cab {track}"
plus = "{side}/{track}/south"
minus = "{side}/{track}/north"

"""
    return text


def _train(answers: Answers) -> str:
    g = answers.gauge_mm
    pickups = ", ".join(f"{p * g:g}" for p in PICKUPS_GAUGES)
    start = f"""# --- a train; everything about it is invented: measure yours {"-" * 22}

[[train]]
name = "local"
at = "west/A"
place_mm = {PLAIN_GAUGES * g * 0.8:g}
speed = "20 mph"
repeat = {"false" if answers.piece == "single crossover" else "true"}
"""
    if answers.twin:
        # A single crossover leads over one way only: then the train stays there.
        back = "" if answers.piece == "single crossover" else _CROSS
        orders = f"""orders = [
    {{ do = "circulate", laps = 2 }},
{_CROSS}    {{ do = "circulate", laps = {2 if back else 8} }},
{back}]
"""
    else:
        orders = """orders = [
    { do = "circulate", laps = 2 },
    { do = "throw", lever = "board/points/lever", to = "diverging" },
    { do = "stop", on = "siding/stop", for_s = 10 },
    { do = "stop", on = "west/A", backward = true, for_s = 5 },
    { do = "throw", lever = "board/points/lever", to = "through" },
]
"""
    return f"""{start}{orders}[[train.vehicle]]
name = "engine"
length_mm = {ENGINE_GAUGES * g:g}
pickups_mm = [{pickups}] # from the front coupling, on both sides
motor = {{ speed = "40 mph", at_voltage_v = 12 }}
"""


def _run() -> str:
    return """# --- how long it runs, and the chances that nobody has published ----------------

[run]
duration_s = 600

[assumptions]
contact_opens = 0.02 # invented: per throw, a contact that should close stays open
lever_fails = 0.002 # invented: per throw, a lever does not follow its gang
"""


def _quoted(text: str) -> str:
    """A TOML string."""
    kept = "".join(c for c in text if c.isprintable())
    return '"' + kept.replace("\\", "\\\\").replace('"', '\\"') + '"'
