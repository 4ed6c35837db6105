"""What readings tell of an unknown piece, and which pair of places to read next.

The two places whose reading tells most about which chart is right.

What readings tell of an unknown piece: models, matches, what to read again or next.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import combinations, product

import numpy as np

from sim.bench.diagnosis.impossible import wrong_readings
from sim.bench.learning.infer import Learned, Relation, infer, relations_of, resting_alone
from sim.bench.learning.subject import Subject
from sim.bench.learning.wirings import (
    Chart,
    Every,
    Match,
    chart_of,
    every_wiring,
    matches,
    relations_in,
    unread,
)
from sim.bench.readings.model import Positions, Reading


@dataclass(frozen=True, slots=True)
class NextPair:
    """Two places to read in one setting, and what that is expected to tell, in bits."""

    positions: Positions
    a: int
    b: int
    bits: float
    joined: float  #: how likely they are joined


def changed(chart: Chart, k: int, a: int, b: int, joined: bool) -> Chart:
    """``chart`` with two places of a setting parted or joined."""
    nets = list(chart[k])
    if joined:
        nets[b] = b  # taken out of its net; whoever named the net after it keeps the name
        if any(n == b for p, n in enumerate(chart[k]) if p != b):
            nets[b] = -1
    else:
        low, high = sorted((nets[a], nets[b]))
        nets = [low if n == high else n for n in nets]
    return (*chart[:k], tuple(nets), *chart[k + 1 :])


def next_pair(
    subject: Subject,
    charts: dict[Chart, float],
    readings: Sequence[Reading],
    skipped: frozenset[tuple[Positions, int, int]],
) -> NextPair | None:
    """The reading that tells most about which chart is right."""
    if len(charts) < 2:
        return None
    weights = np.array(list(charts.values()))
    weights = weights / weights.sum()
    taken = {(r.probe.positions, *sorted((r.probe.a, r.probe.b))) for r in readings} | set(
        skipped
    )
    best: NextPair | None = None
    last = readings[-1].probe.positions if readings else None
    order = sorted(range(len(subject.settings)), key=lambda k: subject.settings[k] != last)
    for k in order:
        nets = np.array([chart[k] for chart in charts])
        same = nets[:, :, None] == nets[:, None, :]
        joined = np.tensordot(weights, same.astype(np.float64), axes=1)
        gains = _binary_bits(np.triu(joined, 1))
        positions = subject.settings[k]
        for flat in np.argsort(-gains, axis=None, kind="stable"):
            a, b = divmod(int(flat), gains.shape[1])
            gain = float(gains[a, b])
            if gain <= 1e-9 or (best is not None and gain <= best.bits + 1e-9):
                break
            if (positions, a, b) not in taken:
                best = NextPair(positions, a, b, gain, float(joined[a, b]))
                break
    return best


def _binary_bits(share: np.ndarray[tuple[int, ...], np.dtype[np.float64]]) -> (
    np.ndarray[tuple[int, ...], np.dtype[np.float64]]
):  # fmt: skip
    """Information of a yes or no whose probability of yes is ``share``."""
    inside = (share > 1e-12) & (share < 1.0 - 1e-12)
    p = np.where(inside, share, 0.5)
    bits: np.ndarray[tuple[int, ...], np.dtype[np.float64]] = np.where(
        inside, -(p * np.log2(p) + (1.0 - p) * np.log2(1.0 - p)), 0.0
    )
    return bits


#: Charts that are weighed against each other when the next reading is chosen.
CHARTS_AT_MOST = 80
#: Library pieces are told as near that disagree with at most this share of the readings.
NEAR = 0.12
#: Ways to take contradictory readings as wrong that are worked out.
WAYS_AT_MOST = 4
#: A library piece is so many times as likely as another wiring as simple (our choice).
LIBRARY_WEIGHT = 8.0
#: Wirings that are listed where more agree.
MODELS_AT_MOST = 12
#: Readings beyond which it is not worked out which of them nothing confirms.
ALONE_AT_MOST = 1500


@dataclass(frozen=True, slots=True)
class Model:
    """A wiring that agrees with all readings but ``wrong``."""

    learned: Learned
    chart: Chart
    wrong: tuple[int, ...]
    words: str


@dataclass(frozen=True, slots=True)
class Telling:
    """A reading that tells a wiring from the first: whether it is joined in each."""

    positions: Positions
    a: int
    b: int
    joined: bool  #: by the wiring in question; by the first it is the other way


@dataclass(frozen=True, slots=True)
class Study:
    """All that can be said.

    ``models`` come simplest first.  ``agree``: how many wirings agree with all readings,
    or at least so many where not ``counted``.  ``matches``, library pieces that agree,
    have their wirings among the models; ``near`` are library pieces that nearly agree.
    ``retakes``: smallest sets of readings that must be wrong.
    ``alone``: readings that nothing confirms; None where that was not worked out.
    ``unread``: pairs of nets of which nobody knows whether they are joined.
    """

    subject: Subject
    readings: tuple[Reading, ...]
    models: tuple[Model, ...]
    agree: int
    counted: bool
    matches: tuple[Match, ...]
    near: tuple[Match, ...]
    retakes: tuple[tuple[int, ...], ...]
    retakes_complete: bool
    alone: tuple[int, ...] | None
    unread: int
    next: NextPair | None

    @property
    def settled(self) -> bool:
        """One chart is left, and no reading had to be taken as wrong."""
        charts = {m.chart for m in self.models} | {m.chart for m in self.matches}
        return not self.retakes and not self.unread and len(charts) == 1

    def matching(self, model: Model) -> Match | None:
        """Library pieces of a wiring's chart."""
        every = (*self.matches, *self.near)
        return next((m for m in every if m.chart == model.chart), None)

    def telling(self, model: Model) -> Telling | None:
        """A reading that tells ``model`` from the first; one not taken yet, if there is one."""
        first = self.models[0].chart
        taken = {(r.probe.positions, *sorted((r.probe.a, r.probe.b))) for r in self.readings}
        found: Telling | None = None
        for k, positions in enumerate(self.subject.settings):
            for a, b in combinations(range(len(self.subject.places)), 2):
                joined = model.chart[k][a] == model.chart[k][b]
                if joined == (first[k][a] == first[k][b]):
                    continue
                if (positions, a, b) not in taken:
                    return Telling(positions, a, b, joined)
                found = found or Telling(positions, a, b, joined)
        return found


def study(
    subject: Subject,
    readings: Sequence[Reading],
    plastic: Sequence[int] = (),
    skipped: frozenset[tuple[Positions, int, int]] = frozenset(),
    models_at_most: int = MODELS_AT_MOST,
) -> Study:
    """Everything that ``readings`` tell of ``subject``.

    ``models_at_most`` wirings are listed, and those of the library besides; with 0 the
    wirings that agree are not gone through.
    """
    ways, complete = wrong_readings(readings)
    exact, near = _exact_and_near(subject, readings, plastic)
    if ways:
        agree = Every((), 0, True)
        models = _doubtful(subject, readings, plastic, ways[:WAYS_AT_MOST])
    else:
        relations = _relations(subject, readings, plastic)
        agree, models = _agreeing(subject, relations, exact, models_at_most)
    first = models[0]
    kept = [r for r in readings if r.number not in first.wrong]
    unknown = list(unread(_relations(subject, kept, plastic), first.chart))
    all_listed = agree.complete and agree.count == len(models)
    charts = _charts(first, models, exact, near if ways else [], [] if all_listed else unknown)
    return Study(
        subject,
        tuple(readings),
        tuple(models),
        agree.count,
        agree.complete,
        tuple(exact),
        tuple(near),
        tuple(tuple(sorted(way)) for way in ways),
        complete,
        _alone(subject, readings),
        len(unknown),
        next_pair(subject, charts, readings, skipped),
    )


def _exact_and_near(
    subject: Subject, readings: Sequence[Reading], plastic: Sequence[int]
) -> tuple[list[Match], list[Match]]:
    """Library pieces that agree with every reading, and those that nearly do."""
    found = matches(subject, readings, plastic)
    most = max(2, round(NEAR * len(readings)))
    return [m for m in found if not m.wrong], [m for m in found if 0 < len(m.wrong) <= most]


def _alone(subject: Subject, readings: Sequence[Reading]) -> tuple[int, ...] | None:
    """Readings that nothing confirms; None where they are too many to work that out."""
    if len(readings) > ALONE_AT_MOST:
        return None
    return tuple(resting_alone(readings, len(subject.places)))


def _relations(
    subject: Subject, readings: Sequence[Reading], plastic: Sequence[int]
) -> list[Relation]:
    """What is known: as read; plastic is joined to nothing, unless it was read to be; and
    rails that are one in every such shape are, unless read apart."""
    found = relations_of(readings, subject.settings, len(subject.places))
    for relation, place in product(found, plastic):
        for other in range(len(subject.places)):
            if other != place:
                relation.part(place, other)
    first: dict[str, int] = {}
    for place, p in enumerate(subject.places):
        same = first.setdefault(p.section, place)
        if all(r.known(same, place) is not False for r in found):
            for relation in found:
                relation.join(same, place)
    return found


def _agreeing(
    subject: Subject, relations: list[Relation], exact: Sequence[Match], at_most: int
) -> tuple[Every, list[Model]]:
    """How many agree, and their wirings: the simplest, the library's, the cautious."""
    places = len(subject.places)
    models = list(_models(subject, relations, ()))
    found = Every((), 1, False)
    if at_most:
        found = every_wiring(relations, subject.settings, places, at_most)
    models[:1] = [Model(*wiring, (), "agrees too") for wiring in found.wirings] or models[:1]
    for match in exact:
        learned = infer(relations_in(match.chart), subject.settings, places)
        if chart_of(learned, subject.settings) == match.chart:
            models.append(Model(learned, match.chart, (), "of a library piece"))
    return found, _distinct(models)


def _doubtful(
    subject: Subject,
    readings: Sequence[Reading],
    plastic: Sequence[int],
    ways: Sequence[frozenset[int]],
) -> list[Model]:
    """Wirings that agree once the readings of one way are taken as wrong."""
    models: list[Model] = []
    for way in ways:
        kept = [r for r in readings if r.number not in way]
        models += _models(subject, _relations(subject, kept, plastic), tuple(sorted(way)))
    return _distinct(models)


def _models(
    subject: Subject, relations: list[Relation], wrong: tuple[int, ...]
) -> Iterator[Model]:
    """The simplest wiring; and where much is unread, the one that joins no more than read."""
    places = len(subject.places)
    simplest = infer(relations, subject.settings, places)
    yield Model(simplest, chart_of(simplest, subject.settings), wrong, "simplest")
    cautious = [r.copy() for r in relations]
    more = False
    for relation in cautious:
        for a, b in combinations(range(places), 2):
            if relation.known(a, b) is None:
                more = relation.part(a, b) or more
    if more:
        least = infer(cautious, subject.settings, places)
        words = "joins only what was read as joined"
        yield Model(least, chart_of(least, subject.settings), wrong, words)


def _distinct(models: list[Model]) -> list[Model]:
    """One model for each chart: fewest wrong readings, then simplest, first."""
    kept: dict[Chart, Model] = {}
    for model in sorted(models, key=lambda m: (len(m.wrong), m.learned.cost)):
        if not kept:
            model = replace(model, words="simplest")
        kept.setdefault(model.chart, model)
    return list(kept.values())


def _charts(
    first: Model,
    models: Sequence[Model],
    exact: Sequence[Match],
    near: Sequence[Match],
    unknown: Sequence[tuple[int, int, int, bool]],
) -> dict[Chart, float]:
    """Charts that are possible, and how likely each is taken to be."""
    least = first.learned.cost
    weights: dict[Chart, float] = {}

    def add(chart: Chart, weight: float) -> None:
        weights[chart] = weights.get(chart, 0.0) + weight

    for match in exact:
        add(match.chart, LIBRARY_WEIGHT)
    for match in near:
        add(match.chart, LIBRARY_WEIGHT / 2.0 ** len(match.wrong))
    add(first.chart, 1.0)
    others = [2.0 ** (-(model.learned.cost - least) / 4.0) for model in models[1:]]
    share = min(1.0, 1.0 / sum(others)) if others else 1.0  # together no likelier than it
    for model, weight in zip(models[1:], others, strict=True):
        add(model.chart, weight * share)
    step = max(1, len(unknown) // CHARTS_AT_MOST)
    some = unknown[::step][:CHARTS_AT_MOST]
    for k, a, b, joined in some:  # together no more likely than the simplest wiring
        add(changed(first.chart, k, a, b, joined), 1.0 / len(some))
    return weights
