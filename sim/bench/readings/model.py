"""Readings: what was seen or measured, where, in which setting, and in which words.

Readings and settings in words, for people.

Readings: what was seen or measured, where, and in which setting.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

from sim.layout.model import Layout
from sim.power.settings import rest_positions

#: What each answer says to a question: by meter or lamp, then by word.
SAID_WORDS = {
    ("meter", "ohms"): "0 to 2 ohm",
    ("meter", "joined"): "joined (it sounds; ohms not read)",
    ("meter", "tired"): "tired (more than 2 ohm, less than 10 000)",
    ("meter", "open"): "open",
    ("lamp", "lit"): "lit",
    ("lamp", "dim"): "dim",
    ("lamp", "dark"): "dark (it may also be too dim to see, or the supply may have cut out)",
    ("lamp", "trips"): "the supply trips",
}

ALL_AT_REST = "all levers at rest"
NO_LEVER = "no lever"


def moved_words(layout: Layout, positions: Positions) -> str:
    """Levers and gangs that are not at rest; ``all levers at rest`` where none is."""
    rest = rest_positions(layout)
    said, told = [], set[int]()
    for control in layout.controls:
        now = {layout.levers[x].positions[positions[x]] for x in control.levers}
        if len(now) == 1:
            told |= set(control.levers)
            if any(positions[x] != rest[x] for x in control.levers):
                said.append(f"{control.id} {now.pop()}")
    said += [
        f"{layout.levers[x].id} {layout.levers[x].positions[p]}"
        for x, p in enumerate(positions)
        if x not in told and p != rest[x]
    ]
    return ", ".join(said) or ALL_AT_REST


def control_words(layout: Layout, positions: Positions, within: str) -> str:
    """Levers and gangs of a module or piece and where they stand, names without its id."""
    said = []
    for control in layout.controls:
        if control.id.startswith(f"{within}/"):
            now = {layout.levers[x].positions[positions[x]] for x in control.levers}
            if len(now) == 1:
                said.append(f"{control.id.removeprefix(f'{within}/')} {now.pop()}")
    return ", ".join(said) or NO_LEVER


def setting_words(layout: Layout, positions: Positions, within: str) -> str:
    """As :func:`control_words`, and then the other levers and gangs that are not at rest."""
    own = control_words(layout, positions, within)
    others = tuple(
        lever.rest if lever.id.startswith(f"{within}/") else p
        for lever, p in zip(layout.levers, positions, strict=True)
    )
    if others == tuple(rest_positions(layout)):
        return own if own != NO_LEVER else ALL_AT_REST
    moved = moved_words(layout, others)
    return moved if own == NO_LEVER else f"{own}, {moved}"


def where_words(where: str) -> str:
    """Where a reading is taken."""
    return "in the layout" if where == "layout" else f"{where} taken out, by itself"


def probe_words(layout: Layout, probe: Probe, a: str = "", b: str = "") -> str:
    """What to read, between which places, how the levers stand."""
    a, b = a or layout.nodes[probe.a], b or layout.nodes[probe.b]
    levers = moved_words(layout, probe.positions)
    if probe.what == "train":
        names = ", ".join(dict.fromkeys(layout.nodes[n] for pair in probe.pairs for n in pair))
        return f"a train over {names}; {levers}"
    if probe.what == "lamp":
        return f"lamp across {a} and {b}, supply on; {levers}"
    return f"meter between {a} and {b}, {where_words(probe.where)}; {levers}"


def reading_words(layout: Layout, probe: Probe, said: str) -> str:
    """A reading as a line of a list."""
    return f"{probe_words(layout, probe)}: {said}"


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
#: What one letter says when a reading is asked for: these words, as in a file.
METER_LETTERS = {"j": "joined", "t": "tired", "o": "open", "l": "lit", "d": "dim", "n": "dark"}
LAMP_LETTERS = {"l": "lit", "d": "dim", "n": "dark", "t": "trips"}
#: The word for each outcome of a lamp.
LAMP_SAYS: dict[Shown, str] = {"live": "lit", "weak": "dim", "dead": "dark", "short": "trips"}
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


def sounds_only(readings: Sequence[Reading]) -> bool:
    """Whether the meter is one that only sounds, as far as ``readings`` tell.

    Who last said no more than `joined` cannot tell a tired contact from a good one,
    and will not in the next reading.
    """
    last = next(
        (r for r in reversed(readings) if r.probe.what == "meter" and "joined" in r.allows),
        None,
    )
    return last is not None and "tired" in last.allows


def meter_outcomes(said: str | float) -> frozenset[str] | None:
    """Outcomes that a meter's word or ohms allow; None for what it cannot say."""
    if isinstance(said, str):
        return METER_WORDS.get(said)
    if said < 0.0:
        return None
    if said <= JOINED_OHM:
        return frozenset(("joined",))
    return frozenset(("open",)) if said >= OPEN_OHM else frozenset(("tired",))
