"""The boards of a first scenario, with the piece on one of them."""

from __future__ import annotations

from sim.begin.questions import Answers
from sim.pieces.errors import PieceError
from sim.pieces.kinds import build

#: Track centres by scale, mm. Common practice, no source.
CENTRES_MM = {"N": 33.0, "TT": 43.0, "HO": 52.0, "0": 115.0}
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
frog_number = 6 # invented: count it
family = "{answers.family}"
{gap}
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
frog_number = 6 # invented: count it
family = "{answers.family}"

[[module]]
name = "siding"
[[module.piece]]
name = "stop"
kind = "siding end"
length_mm = {40 * answers.gauge_mm:g} # invented

"""


def _check_fits(answers: Answers, params: dict[str, object]) -> None:
    """Say early that the piece needs a longer board."""
    wanted = {"gauge_mm": answers.gauge_mm, "length_mm": answers.board_mm, "frog_number": 6.0}
    try:
        build(answers.piece, {**wanted, **params})
    except PieceError as error:
        text = "; ".join(f"{field}: expected {e}" for field, e, _ in error.problems)
        raise TooShortError(text) from None
