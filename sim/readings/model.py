"""Readings: what was seen or measured, where, and in which setting."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

#: What a meter can find between two places with the supply off.
Outcome = Literal["joined", "tired", "open"]
#: What a lamp across two rails, or a train, can find with the supply on.
Shown = Literal["live", "weak", "dead", "short"]

Positions = tuple[int, ...]  #: position index by lever of the layout

#: Ohms up to which two places count as joined: a meter's leads alone read about 0.3
#: (common practice, no source); the rest is room for rail, wire and cheap meters.
JOINED_OHM = 2.0
#: Ohms from which two places count as open: fingers, damp and dirt read like that (ours).
OPEN_OHM = 10_000.0

#: What each word allows.  A buzzer sounds through a tired contact too.
METER_WORDS: dict[str, frozenset[Outcome]] = {
    "joined": frozenset(("joined", "tired")),
    "open": frozenset(("open",)),
    "tired": frozenset(("tired",)),
    "lit": frozenset(("joined",)),
    "dim": frozenset(("tired",)),
    "dark": frozenset(("tired", "open")),
}
LAMP_WORDS: dict[str, frozenset[Shown]] = {
    "lit": frozenset(("live",)),
    "dim": frozenset(("weak",)),
    "dark": frozenset(("weak", "dead", "short")),
    "trips": frozenset(("short",)),
}
TRAIN_WORDS: dict[str, frozenset[Shown]] = {
    "runs": frozenset(("live", "weak")),
    "stalls": frozenset(("weak", "dead")),
    "trips": frozenset(("short",)),
}


@dataclass(frozen=True, slots=True)
class Probe:
    """Something that can be read.

    ``meter``: between ``a`` and ``b`` (nodes), supply unplugged, trains lifted.
    ``lamp``: the same two places with the supply on.  ``train``: over ``pairs`` of
    (left, right) nodes.  ``where`` is ``layout``, or the id of a module or piece that
    was taken out and lies on the bench by itself.
    """

    what: Literal["meter", "lamp", "train"]
    a: int
    b: int
    positions: Positions
    where: str = "layout"
    pairs: tuple[tuple[int, int], ...] = ()


@dataclass(frozen=True, slots=True)
class Reading:
    """A probe and what it said: the outcomes that agree with it."""

    number: int
    probe: Probe
    said: str
    allows: frozenset[str]
    text: str = ""  #: the reading in words, for people


def meter_outcomes(said: str | float) -> frozenset[str] | None:
    """Outcomes that a meter's word or ohms allow; None for what it cannot say."""
    if isinstance(said, str):
        return METER_WORDS.get(said)
    if said < 0.0:
        return None
    if said <= JOINED_OHM:
        return frozenset(("joined",))
    return frozenset(("open",)) if said >= OPEN_OHM else frozenset(("tired",))
