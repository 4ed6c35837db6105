"""Work with hands as facts: what to do, what was done, what to test.

Closed lists of kinds; :mod:`sim.pages.phrases` makes sentences of them.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from sim.analyses.handwork.hazards import Refusal

Stage = Literal[
    "before", "open", "track", "cut", "solder", "lay", "other", "test", "close", "power"
]
#: In the order of work.
WorkTask = Literal[
    "fill in tables",
    "note dead routes",
    "do the trial",
    "open",  # ``who``
    "photograph",
    "seen from below",
    "put length",  # ``who``, ``numbers[0]`` mm, at ``ids[0]``
    "alter",  # the piece ``ids[0]``: ``changes``
    "insulate",  # the joint ``ids[0]``, rail ``who``
    "cut",  # ``ids[0]``
    "cut wire",  # ``who``: ``numbers[0]`` mm of ``wire``
    "strip",
    "tin",
    "iron",  # at place ``numbers[0]`` for ``numbers[1]`` s
    "no iron",  # at place ``numbers[0]``: ``refused``
    "keep off",
    "look for blobs",
    "lay wire",  # ``who``: ``wire`` is the way
    "sleeves",
    "holes",  # ``numbers[0]`` in all
    "solder joiner",  # ``ids[0]``
    "clean",  # the contact ``ids[0]``
    "clean all",  # contacts by the pattern ``ids[0]``
    "rewire",  # ``who`` by ``wire``, ``numbers`` mm where a length is stated
    "reverse",  # the supply ``who``
    "energy store",  # ``numbers[0]`` s into the engine of ``who``
    "read all",
    "move levers",
    "close",  # ``who``
    "coin",
    "lamp",  # ``numbers[0]`` ohm
    "one engine",
    "write card",
]
#: The trial with loose wires.
TrialTask = Literal[
    "after track",
    "take leads",
    "clip",  # ``who``: from ``ids[0]`` to ``ids[1]``, ``numbers`` of their places, 0 for none
    "try all",
    "shorts expected",  # ``settings``
    "no short expected",
    "take off",
]
#: What was done to a module, to be undone.
DoneTask = Literal[
    "wire",  # from ``ids[0]`` to ``ids[1]``, the ``wire`` is its way or ""
    "feeder",  # from the supply or bus ``who`` to ``ids``, plus first
    "length",  # ``numbers[0]`` mm at ``ids[0]``
    "insulated",  # the joint ``ids[0]``, rail ``who``
    "changeover",  # on the lever ``ids[0]`` for ``ids[1]``: ``changes``
    "was cut",
    "soldered",
    "cleaned",
    "altered",  # the piece ``ids[0]``: ``changes``
]
#: What to test when a module is joined to others.
JoinTask = Literal[
    "all off",
    "rails apart",
    "loops apart",
    "through",  # from ``ids[0]`` to ``ids[1]``
    "edge",  # the end ``ids[0]`` wants the loop ``who``, its north rail on ``wire``
    "insulate an edge",
    "every setting",
]
TaskKind = Literal[WorkTask, TrialTask, DoneTask, JoinTask]


@dataclass(frozen=True, slots=True)
class Task:
    """One thing to do, done, or to test; what each kind fills in stands beside it above."""

    kind: TaskKind
    who: str = ""
    ids: tuple[str, ...] = ()
    numbers: tuple[float, ...] = ()
    wire: str = ""
    changes: tuple[tuple[str, object], ...] = ()
    settings: tuple[str, ...] = ()
    refused: Refusal | None = None
