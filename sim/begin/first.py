"""Write a first scenario from a few answers: boards, trains and fixes, ready to run.

The boards of a first scenario, with the piece on one of them.

Fixes to compare in a first scenario, of those that make sense for its piece.

Write a first scenario from a few answers: commented, and ready to run.
"""

from __future__ import annotations

from sim.begin.questions import Answers
from sim.pieces.families import CAN_CUT_PAST_FROG
from sim.pieces.kinds import build
from sim.pieces.parameters import PieceError

#: Track centres by scale, mm. Common practice, no source.
CENTRES_MM = {"N": 30.0, "TT": 43.0, "HO": 52.0, "0": 115.0}
#: Length of the plain boards on either side, in gauges.
PLAIN_GAUGES = 90.0


class TooShortError(Exception):
    """The piece does not fit the board; says how long it is."""


def boards_text(answers: Answers) -> str:
    """The boards, west to east. Raises :class:`TooShortError`."""
    head = "# --- boards " + "-" * 71 + "\n\n"
    if answers.twin:
        return (
            head
            + _plain("west", answers, "AB")
            + _cross_board(answers)
            + _plain("east", answers, "AB")
        )
    return (
        head
        + _plain("west", answers, "A")
        + _turnout_board(answers)
        + _plain("east", answers, "A")
    )


def _plain(name: str, answers: Answers, tracks: str) -> str:
    text = f'[[module]]\nname = "{name}"\n'
    for track in tracks:
        text += f"""[[module.piece]]
name = "{track}"
kind = "straight"
length_mm = {PLAIN_GAUGES * answers.gauge_mm:g} # invented
"""
    return text + "\n"


def _cross_board(answers: Answers) -> str:
    gap = ""
    if answers.piece == "scissors crossover":
        word = "true" if answers.centre_gap else "false"
        gap = f"centre_gap = {word} # a gap in the middle of both inner rails\n"
    centres = CENTRES_MM[answers.scale]
    params: dict[str, object] = {"track_centres_mm": centres, "family": answers.family}
    _check_fits(answers, params)
    return f"""[[module]]
name = "board"
length_mm = {answers.board_mm:g}
[[module.piece]]
name = "cross"
kind = "{answers.piece}"
length_mm = {answers.board_mm:g}
track_centres_mm = {centres:g} # invented: measure from centre to centre
frog_number = 8 # invented: count it
family = "{answers.family}"
{_tested(answers)}{gap}
"""


def _turnout_board(answers: Answers) -> str:
    _check_fits(answers, {"family": answers.family})
    return f"""[[module]]
name = "board"
length_mm = {answers.board_mm:g}
ends = {{ west = ["points/points"], east = ["points/through"] }}
[[module.piece]]
name = "points"
kind = "turnout"
length_mm = {answers.board_mm:g}
frog_number = 8 # invented: count it
family = "{answers.family}"
{_tested(answers)}
[[module]]
name = "siding"
[[module.piece]]
name = "stop"
kind = "siding end"
length_mm = {40 * answers.gauge_mm:g} # invented

"""


def _tested(answers: Answers) -> str:
    """Whether its contacts are proved, where it has any."""
    if answers.family == "insulated frog, all live":
        return ""
    word = "true" if answers.tested else "false"
    return f"tested = {word} # whether every contact was proved, each route both ways\n"


def _check_fits(answers: Answers, params: dict[str, object]) -> None:
    """Say early that the piece needs a longer board."""
    wanted = {"gauge_mm": answers.gauge_mm, "length_mm": answers.board_mm, "frog_number": 8.0}
    try:
        build(answers.piece, {**wanted, **params})
    except PieceError as error:
        text = "; ".join(f"{field}: expected {e}" for field, e, _ in error.problems)
        raise TooShortError(text) from None


def fixes_text(answers: Answers) -> str:
    """All fixes, each a table."""
    text = "# --- fixes to compare; write more of them " + "-" * 41 + "\n\n"
    text += _gaps(answers)
    if answers.fed != "both":
        text += _second_feed(answers)
    if answers.piece == "scissors crossover" and answers.centre_gap:
        text += _jumpers()
    return text + _cleaning(answers)


def _second_feed(answers: Answers) -> str:
    other = "east" if answers.fed == "west" else "west"
    tracks = "AB" if answers.twin else "A"
    text = f"""[[fix]]
name = "second feed"
note = "a second pair of wires from each controller, to the {other} board"
"""
    for track in tracks:
        text += f"""[[fix.feeder]]
name = "feed {track} {other}"
supply = "cab {track}"
plus = "{other}/{track}/south"
minus = "{other}/{track}/north"
"""
    return text + "\n"


def _jumpers() -> str:
    text = """[[fix]]
name = "two jumpers"
note = "each inner rail from west to east, inside the piece"
"""
    for track in "AB":
        text += f"""[[fix.jumper]]
from = "board/cross/{track}-inner-west"
to = "board/cross/{track}-inner-east"
"""
    return text + "\n"


def _gaps(answers: Answers) -> str:
    """Live frogs that are fed from beyond short, or die: gaps past them are the cure."""
    if answers.piece == "scissors crossover" or answers.family not in CAN_CUT_PAST_FROG:
        return ""
    piece = "points" if answers.piece == "turnout" else "cross"
    cut = f"""[[fix.alter]]
piece = "board/{piece}"
set = {{ frog_gaps = true }}

"""
    text = f"""[[fix]]
name = "gaps past the frogs"
note = "cut the rails past each frog, so that what is fed from beyond cannot reach it"
{cut}"""
    if answers.piece != "turnout":
        return text
    return f"""{text}[[fix]]
name = "gaps and a feed"
note = "the same cuts, and wires to the siding, which the gaps alone leave dead"
[[fix.feeder]]
name = "feed siding"
supply = "cab A"
plus = "siding/stop/south"
minus = "siding/stop/north"
{cut}"""


def _cleaning(answers: Answers) -> str:
    if answers.family == "insulated frog, all live":
        return ""  # it has no contact to clean
    return """[[fix]]
name = "clean contacts"
note = "open the piece and clean every contact; nothing else changes"
clean = ["board/*"]
clean_opens = 0.002 # invented
"""


#: Engine and coach by gauge: length and pickups in gauges (invented, scaled alike).
ENGINE_GAUGES = 11.0
PICKUPS_GAUGES = (1.4, 3.2, 7.8, 9.6)
#: A line of a timetable.
_CROSS = '    { do = "cross", at = "board/cross" },\n'


def scenario_text(answers: Answers, title: str) -> str:
    """The whole file. Raises :class:`sim.begin.first.TooShortError`."""
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
contact_opens = 0.002 # common practice: a sound contact misses 1 throw in 500
lever_fails = 0.005 # common practice: a lever does not follow its gang, 1 throw in 200
"""


def _quoted(text: str) -> str:
    """A TOML string."""
    kept = "".join(c for c in text if c.isprintable())
    return '"' + kept.replace("\\", "\\\\").replace('"', '\\"') + '"'
