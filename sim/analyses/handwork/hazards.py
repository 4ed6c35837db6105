"""Hazards of work with hands, as facts: closed lists of kinds, with ids and numbers.

:mod:`sim.pages.phrases` makes sentences of them.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

RefusalKind = Literal[
    "contact slides",  # a moving contact slides over the pad
    "too small",  # the pad is ``numbers[0]`` mm wide, too small for ``wire``
    "no room",  # ``wire`` is ``numbers[0]`` mm high, the ``cover`` leaves ``numbers[1]`` mm
    "no hole",  # nothing may be drilled beside it
]
CautionKind = Literal[
    "switch needs room",  # a microswitch, where the lever ``id`` moves it
    "joints on one pad",  # ``number`` of them on the pad ``id``
    "pad taken",  # the pad ``id`` was taken, as none was named
    "in the way",  # the tie bar of the lever ``id``
    "short with the iron",  # on the pad ``id`` for ``number`` s at most
]


@dataclass(frozen=True, slots=True)
class Refusal:
    """Why nothing may be soldered to a pad, or no hole be drilled beside it."""

    kind: RefusalKind
    pad: str
    wire: str = ""
    cover: str = ""
    numbers: tuple[float, ...] = ()


@dataclass(frozen=True, slots=True)
class Caution:
    """Something to mind while doing it."""

    kind: CautionKind
    id: str
    number: float = 0.0


@dataclass(frozen=True, slots=True)
class HeldDown:
    """A piece that wires through the board hold down afterwards."""

    piece: str
