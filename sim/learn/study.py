"""What readings tell of an unknown piece: models, matches, what to read again or next."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from sim.diagnose.impossible import wrong_readings
from sim.learn.infer import Learned, infer
from sim.learn.match import Chart, Match, matches
from sim.learn.relations import Relation, relations_of, resting_alone
from sim.learn.subject import Subject
from sim.readings.model import Positions, Reading

#: Charts that are weighed against each other when the next reading is chosen.
CHARTS_AT_MOST = 80
#: Library pieces are told as near that disagree with at most this share of the readings.
NEAR = 0.12
#: Ways to take contradictory readings as wrong that are worked out.
WAYS_AT_MOST = 4
#: A library piece is so many times as likely as another wiring as simple (our choice).
LIBRARY_WEIGHT = 8.0
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
class NextPair:
    """Two places to read in one setting, and what that is expected to tell, in bits."""

    positions: Positions
    a: int
    b: int
    bits: float
    joined: float  #: how likely they are joined


@dataclass(frozen=True, slots=True)
class Study:
    """All that can be said.

    ``models`` come simplest first; ``matches`` are library pieces that agree, ``near``
    those that nearly do.  ``retakes``: smallest sets of readings that must be wrong.
    ``alone``: readings that nothing confirms; None where that was not worked out.
    ``unread``: pairs of nets of which nobody knows whether they are joined.
    """

    subject: Subject
    readings: tuple[Reading, ...]
    models: tuple[Model, ...]
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


def study(
    subject: Subject,
    readings: Sequence[Reading],
    plastic: Sequence[int] = (),
    skipped: frozenset[tuple[Positions, int, int]] = frozenset(),
) -> Study:
    """Everything that ``readings`` tell of ``subject``."""
    ways, complete = wrong_readings(readings)
    models: list[Model] = []
    relations: list[Relation] = []
    for way in (ways or [frozenset()])[:WAYS_AT_MOST]:
        kept = [r for r in readings if r.number not in way]
        relations = _relations(subject, kept)
        models += _models(subject, relations, tuple(sorted(way)))
    models = _distinct(models)
    found = matches(subject, readings, plastic)
    exact = [m for m in found if not m.wrong]
    most = max(2, round(NEAR * len(readings)))
    near = [m for m in found if 0 < len(m.wrong) <= most]
    first = models[0]
    relations = _relations(subject, [r for r in readings if r.number not in first.wrong])
    unknown = list(_unknown(relations, first.chart))
    charts = _charts(first, models, exact, near if ways else [], unknown)
    alone = None
    if len(readings) <= ALONE_AT_MOST:
        alone = tuple(resting_alone(readings, len(subject.places)))
    return Study(
        subject,
        tuple(readings),
        tuple(models),
        tuple(exact),
        tuple(near),
        tuple(tuple(sorted(way)) for way in ways),
        complete,
        alone,
        len(unknown),
        _next(subject, charts, readings, skipped),
    )


def _relations(subject: Subject, readings: Sequence[Reading]) -> list[Relation]:
    """What is known: as read, and rails that are one in every such shape unless read apart."""
    found = relations_of(readings, subject.settings, len(subject.places))
    first: dict[str, int] = {}
    for place, p in enumerate(subject.places):
        same = first.setdefault(p.section, place)
        if all(r.known(same, place) is not False for r in found):
            for relation in found:
                relation.join(same, place)
    return found


def _models(
    subject: Subject, relations: list[Relation], wrong: tuple[int, ...]
) -> Iterator[Model]:
    """The simplest wiring; and where much is unread, the one that joins no more than read."""
    places = len(subject.places)
    simplest = infer(relations, subject.settings, places)
    yield Model(simplest, _chart(subject, simplest), wrong, "simplest")
    cautious = [r.copy() for r in relations]
    more = False
    for relation in cautious:
        for a in range(places):
            for b in range(a + 1, places):
                if relation.known(a, b) is None:
                    more = relation.part(a, b) or more
    if more:
        least = infer(cautious, subject.settings, places)
        yield Model(least, _chart(subject, least), wrong, "joins only what was read as joined")


def _chart(subject: Subject, learned: Learned) -> Chart:
    return tuple(learned.nets(positions) for positions in subject.settings)


def _distinct(models: list[Model]) -> list[Model]:
    """One model for each chart: fewest wrong readings, then simplest, first."""
    kept: dict[Chart, Model] = {}
    for model in sorted(models, key=lambda m: (len(m.wrong), m.learned.cost)):
        kept.setdefault(model.chart, model)
    return list(kept.values())


def _unknown(
    relations: Sequence[Relation], chart: Chart
) -> Iterator[tuple[int, int, int, bool]]:
    """(setting, net, net, joined in ``chart``) of which nothing is known."""
    for k, relation in enumerate(relations):
        nets = sorted({relation.net(p) for p in range(len(chart[k]))})
        for i, a in enumerate(nets):
            for b in nets[i + 1 :]:
                if relation.known(a, b) is None:
                    yield k, a, b, chart[k][a] == chart[k][b]


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
    for model in models:
        add(model.chart, 2.0 ** (-(model.learned.cost - least) / 4.0))
    step = max(1, len(unknown) // CHARTS_AT_MOST)
    some = unknown[::step][:CHARTS_AT_MOST]
    for k, a, b, joined in some:  # together no more likely than the simplest wiring
        add(_changed(first.chart, k, a, b, joined), 1.0 / len(some))
    return weights


def _changed(chart: Chart, k: int, a: int, b: int, joined: bool) -> Chart:
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


def _next(
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
