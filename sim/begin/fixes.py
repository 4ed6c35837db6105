"""Fixes to compare in a first scenario, of those that make sense for its piece."""

from __future__ import annotations

from sim.begin.questions import Answers
from sim.pieces.family import CAN_CUT_PAST_FROG


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
