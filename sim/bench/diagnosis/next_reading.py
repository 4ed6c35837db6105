"""The next reading that tells most: where, in which setting, and how much it tells.

How much a reading is expected to tell: Shannon's information, in bits.

C. E. Shannon, A mathematical theory of communication (1948): of an outcome with
probability p one learns -log2 p bits.

Where it is worth reading next: places, settings and wheres near what is suspected.

The next reading that tells most: what it is, and what each answer would leave.
"""

from __future__ import annotations

from collections.abc import Callable, Hashable, Iterable, Iterator, Sequence
from dataclasses import dataclass
from itertools import product
from math import frexp, ldexp, log2, prod
from typing import TypeVar

import numpy as np
from numpy.typing import NDArray

from sim.bench.diagnosis.states import LAYOUT, Columns, States
from sim.bench.readings.model import LAMP_SAYS, LAMP_WORDS, METER_WORDS, Positions, Probe
from sim.bench.readings.places import REACHES, Place, Reach, pieces_at, places_of
from sim.faults.possible import Fault
from sim.layout.model import PLASTIC, Layout
from sim.power.settings import apply, rest_positions

#: Less than this is nothing: it comes from rounding.
LEAST_BITS = 1e-9


def entropy(weights: Iterable[float]) -> float:
    """Bits that are still open between possibilities of those weights, in any scale."""
    some = [w for w in weights if w > 0.0]
    if len(some) < 2:
        return 0.0
    # A power of two takes no digit away, and the sum cannot overflow.
    power = frexp(max(some))[1]
    some = [ldexp(w, -power) for w in some]
    total = sum(some)
    shares = (w / total for w in some)
    bits = -sum(share * log2(share) for share in shares if share > 0.0)
    return bits if bits > LEAST_BITS else 0.0


def expected_bits(weights: Sequence[float], outcomes: Sequence[Hashable | None]) -> float:
    """Bits that a reading is expected to tell about which candidate is the true one.

    ``weights`` and ``outcomes`` are by candidate: how likely it is, and what would
    be read if it were true; None where the candidate does not say.  A candidate
    that does not say is as likely to give any of the outcomes that others give, or
    one that nobody gives, so it tells nothing about itself.
    """
    classes: dict[Hashable, float] = {}
    unsaid = 0.0
    for weight, outcome in zip(weights, outcomes, strict=True):
        if outcome is None:
            unsaid += weight
        else:
            classes[outcome] = classes.get(outcome, 0.0) + weight
    total = sum(classes.values()) + unsaid
    if total <= 0.0 or not classes:
        return 0.0
    ways = len(classes) + (1 if unsaid else 0)
    share = unsaid / ways
    mixed = [w + share for w in classes.values()] + ([share] if unsaid else [])
    bits = entropy(mixed)
    if unsaid:
        bits -= unsaid / total * log2(ways)
    return bits if bits > LEAST_BITS else 0.0


#: Places and pieces that suggestions come from, in a big layout those nearest to suspects.
PLACES_AT_MOST = 40
PIECES_AT_MOST = 6
BENCH = "bench"


@dataclass(frozen=True, slots=True)
class Ways:
    """How may be read; see :class:`sim.bench.diagnosis.locate.Locator`."""

    where: tuple[str, ...]
    worst: Reach
    lamps: bool
    each: bool


def near(
    layout: Layout,
    suspects: Iterable[Fault],
    at: Iterable[int],
    last: Positions | None,
    ways: Ways,
) -> Reachable:
    """Readings near ``suspects`` and near nodes ``at`` which something was read.

    Of many pieces some are taken, spread evenly over them.
    """
    pieces = every = _pieces(layout, list(suspects), at)
    most = PLACES_AT_MOST * 2
    if len(pieces) > PIECES_AT_MOST:
        step = len(pieces) // PIECES_AT_MOST
        moved = [x.piece for x in layout.levers if x.piece in set(pieces)][:2]
        pieces = list(dict.fromkeys([*pieces[::step][: PIECES_AT_MOST + 1], *moved]))
        most = PLACES_AT_MOST
    base = tuple(rest_positions(layout)) if last is None else last
    levers = [x for k in pieces for x in layout.pieces[k].levers]
    wheres = [w for w in dict.fromkeys(ways.where) if w != BENCH]
    if BENCH in ways.where:
        wheres += [layout.pieces[k].id for k in pieces]
    lamps = _lamps(layout, pieces) if ways.lamps and LAYOUT in wheres else ()
    places = places_of(layout, pieces)
    return Reachable(
        places[:most],
        settings_near(layout, levers, base, ways.each),
        tuple(wheres),
        lamps,
        ways.worst,
        of_pieces=(len(pieces), len(every)),
        of_places=(len(places[:most]), len(places)),
        some_settings=too_many_settings(layout, levers, ways.each),
    )


def _pieces(layout: Layout, suspects: Sequence[Fault], at: Iterable[int]) -> list[int]:
    nodes: list[int] = []
    levers: list[int] = []
    for f in suspects:
        if f.of == "lever":
            levers.append(layout.levers[f.index].piece)
        elif f.of != "supply":
            nodes += [layout.elements[f.index].a, layout.elements[f.index].b]
    found = [*pieces_at(layout, nodes), *levers, *pieces_at(layout, at)]
    return list(dict.fromkeys(found)) or list(range(len(layout.pieces)))


def _lamps(layout: Layout, pieces: Iterable[int]) -> tuple[tuple[int, int], ...]:
    """Pairs of rails along the routes of ``pieces``, where there is a supply."""
    if not layout.supplies:
        return ()
    found: dict[tuple[int, int], None] = {}
    for k in pieces:
        for r in layout.pieces[k].routes:
            for span in layout.routes[r].spans:
                if PLASTIC not in (span.left, span.right):
                    found[span.left, span.right] = None
    return tuple(found)


#: Settings that are gone through at most when the next reading is chosen.
SETTINGS_AT_MOST = 64
#: What is said of a meter that shows up to ``JOINED_OHM``.
OHMS = "ohms"
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
class Reply:
    """One thing that may be said to a suggested reading.

    ``said`` is a word of files of readings, or ``ohms`` for few of them; ``allows``
    the outcomes that agree with it, as a reading's.  ``share``: how likely it is; None
    for a word that says less than others here do.  ``left``: how many explanations
    would be listed after it, an estimate unless ``exact``.
    """

    said: str
    allows: frozenset[str]
    share: float | None
    left: int
    exact: bool


@dataclass(frozen=True, slots=True)
class Choice:
    """A reading worth taking: the candidates that give each outcome, and the bits expected."""

    ask: Ask
    bits: float
    answers: dict[str, int]


@dataclass(frozen=True, slots=True)
class Suggestion:
    """A reading worth taking. ``bits``: information expected of it."""

    ask: Ask
    bits: float
    replies: tuple[Reply, ...]


@dataclass(frozen=True, slots=True)
class Reachable:
    """What may be read: places, settings, wheres, and pairs of rails with supply on."""

    places: tuple[Place, ...]
    settings: tuple[Positions, ...]
    wheres: tuple[str, ...] = (LAYOUT,)
    lamps: tuple[tuple[int, int], ...] = ()
    worst: Reach = "opened"
    sounds_only: bool = False  #: the meter does not show ohms
    of_pieces: tuple[int, int] = (0, 0)  #: pieces that places are of, of how many
    of_places: tuple[int, int] = (0, 0)  #: places on them, of how many
    some_settings: bool = False  #: levers are moved one at a time only

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
                    if may.sounds_only:
                        answers = by_sound(answers)
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


def by_sound(answers: dict[str, int]) -> dict[str, int]:
    """``answers`` of a meter that sounds through a tired contact as through a good one."""
    if "tired" not in answers:
        return answers
    return {"joined": answers["joined"] | answers["tired"], "open": answers["open"]}


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
    taken: Callable[[Ask, dict[str, int]], bool],
    last: Positions | None,
) -> dict[Reach, Choice]:
    """The best reading for each of the ways to reach a place.

    Of readings that tell as much the one that is easiest to take comes first: easy
    to reach, few levers to move, early in the file.
    """
    best: dict[Reach, tuple[tuple[float, int], Ask, dict[str, int]]] = {}
    for ask, answers in found:
        gain = chooser.bits(answers)
        if gain <= 0.0 or taken(ask, answers):
            continue
        moved = 0
        if last is not None:
            moved = sum(x != y for x, y in zip(last, ask.probe.positions, strict=True))
        key = (-round(gain / SAME_BITS), moved)
        if ask.reach not in best or key < best[ask.reach][0]:
            best[ask.reach] = key, ask, answers
    return {
        reach: Choice(ask, chooser.bits(answers), answers)
        for reach, (_, ask, answers) in best.items()
    }


def sayings(choice: Choice) -> list[tuple[str, frozenset[str], int | None]]:
    """What may be said to ``choice``: the word, what it allows, and who would say it.

    Last and with None comes a word that leaves open which of two outcomes it was.
    """
    answers = choice.answers
    if choice.ask.probe.what != "meter":
        words = ((LAMP_SAYS[o], bits) for o, bits in answers.items() if bits)  # type: ignore[index]
        return [(word, LAMP_WORDS[word], bits) for word, bits in words]
    if "tired" not in answers:
        return [(o, METER_WORDS[o], bits) for o, bits in answers.items() if bits]
    found: list[tuple[str, frozenset[str], int | None]] = []
    if answers["joined"]:
        found.append((OHMS, frozenset(("joined",)), answers["joined"]))
    found += [(o, METER_WORDS[o], answers[o]) for o in ("tired", "open") if answers[o]]
    return [*found, ("joined", METER_WORDS["joined"], None)]


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


def too_many_settings(layout: Layout, levers: Iterable[int], each: bool = False) -> bool:
    """Whether :func:`settings_near` leaves settings of ``levers`` out."""
    wanted = set(levers)
    if each:
        ways = [len(layout.levers[lever].positions) for lever in wanted]
    else:
        ways = [
            len(control.positions)
            for control in layout.controls
            if control.positions and wanted & set(control.levers)
        ]
    return prod(ways) > SETTINGS_AT_MOST


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
