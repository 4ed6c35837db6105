"""The next reading that tells most: what it is, and what each answer would leave."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass
from itertools import product
from math import prod
from typing import TypeVar

import numpy as np
from numpy.typing import NDArray

from sim.diagnose.information import entropy
from sim.diagnose.states import LAYOUT, Columns, States
from sim.layout.model import Layout
from sim.power.settings import apply
from sim.readings.model import Positions, Probe
from sim.readings.places import REACHES, Place, Reach

#: Settings that are gone through at most when the next reading is chosen.
SETTINGS_AT_MOST = 64
#: Gains nearer to each other than this count as equal: the easier reading is taken.
SAME_BITS = 0.001

Mask = NDArray[np.bool_]
Move = TypeVar("Move")


@dataclass(frozen=True, slots=True)
class Ask:
    """A reading that could be taken: the probe, and how its places are reached."""

    probe: Probe
    a: str
    b: str
    reach: Reach


@dataclass(frozen=True, slots=True)
class Suggestion:
    """A reading worth taking.

    ``bits``: information expected of it.  ``answers``: for each outcome, how likely it
    is and how many candidates would be left.
    """

    ask: Ask
    bits: float
    answers: tuple[tuple[str, float, int], ...]


@dataclass(frozen=True, slots=True)
class Reachable:
    """What may be read: places, settings, wheres, and pairs of rails with supply on."""

    places: tuple[Place, ...]
    settings: tuple[Positions, ...]
    wheres: tuple[str, ...] = (LAYOUT,)
    lamps: tuple[tuple[int, int], ...] = ()
    worst: Reach = "opened"

    def usable(self) -> tuple[Place, ...]:
        """Places that are not harder to reach than is allowed."""
        most = REACHES.index(self.worst)
        return tuple(p for p in self.places if REACHES.index(p.reach) <= most)


def asks(
    states: States, columns: Columns, may: Reachable
) -> Iterator[tuple[Ask, dict[str, int]]]:
    """Every reading that may be taken, with the candidates that give each outcome."""
    places = may.usable()
    name = {p.node: p for p in reversed(places)}
    for where in may.wheres:
        here = [p for p in places if where == LAYOUT or p.ref.startswith(f"{where}/")]
        for positions in may.settings:
            view = states.meter(columns, positions, where)
            for k, one in enumerate(here):
                for other in here[k + 1 :]:
                    answers = view.answers(one.node, other.node)
                    if _tells(answers, columns.every):
                        yield _ask("meter", one, other, positions, where), answers
    if may.lamps:
        for positions in may.settings:
            lit = states.powered(columns, positions)
            for left, right in may.lamps:
                if left in name and right in name:
                    answers = lit.answers(((left, right),))
                    if _tells(answers, columns.every):
                        yield _ask("lamp", name[left], name[right], positions, LAYOUT), answers


def _tells(answers: dict[str, int], every: int) -> bool:
    return all(bits != every for bits in answers.values())


def _ask(what: str, a: Place, b: Place, positions: Positions, where: str) -> Ask:
    kind = "lamp" if what == "lamp" else "meter"
    reach = max(a.reach, b.reach, key=REACHES.index)
    return Ask(Probe(kind, a.node, b.node, positions, where), a.ref, b.ref, reach)  # type: ignore[arg-type]


class Chooser:
    """Weighs readings by the information they are expected to give."""

    def __init__(self, weights: Sequence[float]) -> None:
        self._weights = np.array(weights, np.float64)
        self._total = float(self._weights.sum())
        self._masks: dict[int, tuple[Mask, float]] = {}
        self._bits: dict[tuple[int, ...], float] = {}

    def share(self, bits: int) -> float:
        """Share of the weight that the candidates in ``bits`` have."""
        return self._of(bits)[1] / self._total

    def _of(self, bits: int) -> tuple[Mask, float]:
        known = self._masks.get(bits)
        if known is None:
            count = len(self._weights)
            raw = np.frombuffer(bits.to_bytes(count // 8 + 1, "little"), np.uint8)
            mask: Mask = np.unpackbits(raw, bitorder="little")[:count].astype(bool)
            known = self._masks[bits] = mask, float(self._weights[mask].sum())
        return known

    def bits(self, answers: dict[str, int]) -> float:
        """Information expected of a reading."""
        key = tuple(answers.values())
        known = self._bits.get(key)
        if known is None:
            known = self._bits[key] = entropy(self._of(b)[1] for b in key if b)
        return known

    def groups(self) -> list[int]:
        """Label of each candidate; equal ones no reading seen so far tells apart."""
        labels = np.zeros(len(self._weights), np.int64)
        for key in self._bits:
            for bits in key[:-1]:
                labels = np.unique(labels * 2 + self._of(bits)[0], return_inverse=True)[1]
        return [int(x) for x in labels]


def choose(
    found: Iterable[tuple[Ask, dict[str, int]]],
    chooser: Chooser,
    taken: Callable[[Ask], bool],
    last: Positions | None,
) -> dict[Reach, Suggestion]:
    """The best reading for each of the ways to reach a place.

    Of readings that tell as much the one that is easiest to take comes first: easy
    to reach, few levers to move, early in the file.
    """
    best: dict[Reach, tuple[tuple[float, int], Ask, dict[str, int]]] = {}
    for ask, answers in found:
        gain = chooser.bits(answers)
        if gain <= 0.0 or taken(ask):
            continue
        moved = 0
        if last is not None:
            moved = sum(x != y for x, y in zip(last, ask.probe.positions, strict=True))
        key = (-round(gain / SAME_BITS), moved)
        if ask.reach not in best or key < best[ask.reach][0]:
            best[ask.reach] = key, ask, answers
    return {
        reach: Suggestion(ask, chooser.bits(answers), _answers(answers, chooser))
        for reach, (_, ask, answers) in best.items()
    }


def _answers(answers: dict[str, int], chooser: Chooser) -> tuple[tuple[str, float, int], ...]:
    return tuple(
        (outcome, chooser.share(bits), bits.bit_count())
        for outcome, bits in answers.items()
        if bits
    )


def settings_near(
    layout: Layout, levers: Iterable[int], base: Positions, each: bool = False
) -> tuple[Positions, ...]:
    """Settings of the controls that move ``levers``, all others as in ``base``.

    With more than :data:`SETTINGS_AT_MOST` of them: one control moved at a time.
    With ``each`` levers move one by one, whatever gangs there are.
    """
    wanted = set(levers)
    if each:
        return tuple(dict.fromkeys([base, *_levers_moved(layout, wanted, base)]))
    made = dict.fromkeys([base, *_controls_moved(layout, wanted, base)])
    return tuple(made)[: SETTINGS_AT_MOST + 1]


def _levers_moved(layout: Layout, wanted: set[int], base: Positions) -> Iterator[Positions]:
    """``base`` with single levers of ``wanted`` moved."""
    ways = [
        [(lever, p) for p in range(len(layout.levers[lever].positions))]
        for lever in sorted(wanted)
    ]
    for choice in _choices(ways):
        positions = list(base)
        for lever, p in choice:
            positions[lever] = p
        yield tuple(positions)


def _controls_moved(layout: Layout, wanted: set[int], base: Positions) -> Iterator[Positions]:
    """``base`` with controls moved that move any of ``wanted``."""
    ways = [
        [(control, word) for word in control.positions]
        for control in layout.controls
        if control.positions and wanted & set(control.levers)
    ]
    for choice in _choices(ways):
        positions = list(base)
        for control, word in choice:
            apply(layout, positions, control, word)
        yield tuple(positions)


def _choices(ways: Sequence[Sequence[Move]]) -> Iterator[tuple[Move, ...]]:
    """One move of each; where these are too many to go through, one move at a time."""
    if prod(len(way) for way in ways) > SETTINGS_AT_MOST:
        return ((move,) for way in ways for move in way)
    return product(*ways)
