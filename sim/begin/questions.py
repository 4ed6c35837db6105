"""What is asked for a first scenario, and what may be answered."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import get_args

from sim.pieces.families import Family

#: Name of a scale: (ratio, gauge in mm). NMRA S-1.2 and NEM 010, from memory.
SCALES: Mapping[str, tuple[float, float]] = {
    "N": (160.0, 9.0),
    "TT": (120.0, 12.0),
    "HO": (87.1, 16.5),
    "0": (45.0, 32.0),
}
PIECES = ("turnout", "single crossover", "scissors crossover")
FAMILIES: tuple[str, ...] = get_args(Family)
FED = ("west", "east", "both")
YES_NO = ("yes", "no")
BOARD_MM = (200.0, 5000.0)


@dataclass(frozen=True, slots=True)
class Question:
    """One question: its key, the words, the answers allowed (none: a length) and a default."""

    key: str
    text: str
    choices: tuple[str, ...]
    default: str
    help: str = ""


QUESTIONS = (
    Question("gauge", "Which scale?", tuple(SCALES), "N",
             "N 9 mm 1:160, TT 12 mm 1:120, HO 16.5 mm 1:87.1, 0 32 mm 1:45"),
    Question("piece", "Which piece is on the module?", PIECES, "scissors crossover"),
    Question("family", "How does it pass supply?", FAMILIES, "live frog",
             "live frog: blades and frog are one metal; power routing: only toward the route "
             "that is set; slide-routed: so too, but by slides that feed the frog and the rail "
             "past it apart"),
    Question("centre_gap", "Is there a gap in the middle of the inner rails?", YES_NO, "yes",
             "only a scissors crossover can have it"),
    Question("board", "How long is the board, mm?", (), "800"),
    Question("fed", "On which side of the module is the layout fed?", FED, "west"),
    Question("tested", "Has somebody proved every contact of the piece?", YES_NO, "no",
             "each route, both ways; of those that nobody has, a tenth is taken as bad"),
)  # fmt: skip


@dataclass(frozen=True, slots=True)
class Answers:
    """All that was answered."""

    scale: str
    piece: str
    family: str
    centre_gap: bool
    board_mm: float
    fed: str
    tested: bool = True

    @property
    def ratio(self) -> float:
        """160 for 1:160."""
        return SCALES[self.scale][0]

    @property
    def gauge_mm(self) -> float:
        """Between the rails."""
        return SCALES[self.scale][1]

    @property
    def twin(self) -> bool:
        """Whether the piece joins two tracks, A and B."""
        return self.piece != "turnout"


def is_asked(question: Question, given: Mapping[str, str]) -> bool:
    """Whether the question makes sense after what has been answered."""
    if question.key == "tested":
        return given.get("family") != "insulated frog, all live"  # it has no contact
    return question.key != "centre_gap" or given.get("piece") == "scissors crossover"


def understood(question: Question, said: str) -> str | None:
    """The answer that was meant; None where it is none.

    An empty line is the default; a number picks from the list; the first letters
    of one answer alone are enough.
    """
    text = said.strip()
    if not text:
        return question.default
    if not question.choices:
        return _length(text)
    lowered = text.lower()
    exact = [c for c in question.choices if c.lower() == lowered]
    if exact:
        return exact[0]
    if text.isascii() and text.isdecimal() and 1 <= int(text[:4]) <= len(question.choices):
        return question.choices[int(text[:4]) - 1]
    begun = [c for c in question.choices if c.lower().startswith(lowered)]
    return begun[0] if len(begun) == 1 else None


def _length(text: str) -> str | None:
    try:
        value = float(text.lower().removesuffix("mm").strip().replace(",", "."))
    except ValueError:
        return None
    return f"{value:g}" if BOARD_MM[0] <= value <= BOARD_MM[1] else None


def expected(question: Question) -> str:
    """What may be answered, in words."""
    if question.choices:
        return ", ".join(question.choices)
    return f"a length from {BOARD_MM[0]:g} to {BOARD_MM[1]:g} mm"


def answers_of(given: Mapping[str, str]) -> Answers:
    """The answers as they are used; what was not asked has its default."""
    said = {q.key: given.get(q.key, q.default) for q in QUESTIONS}
    return Answers(
        said["gauge"],
        said["piece"],
        said["family"],
        said["centre_gap"] == "yes",
        float(said["board"]),
        said["fed"],
        said["tested"] == "yes",
    )
