"""Every wiring and every library piece that agrees with what was read.

Library pieces that read as was read.

Every wiring that agrees with what is known, the simplest first.

Two wirings are different when some reading at the piece's places would tell them apart:
when their charts differ.  What nobody has read is either way.  The simplest wiring of all
is taken; the rest are those that differ from it in the first unread relation, those that
agree in the first and differ in the second, and so on: parts that have nothing in common
and leave nothing out.  Of each part again the simplest is taken, and so forth (the
partition of K. G. Murty, Operations Research 16, 1968, for ranked assignments; cited from
memory).
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from heapq import heappop, heappush
from itertools import combinations

from sim.bench.diagnosis.model import layout_of
from sim.bench.learning.infer import Learned, Relation, infer
from sim.bench.learning.subject import Subject, Variant, sections_at
from sim.bench.readings.model import Positions, Reading
from sim.power.graph import is_closed
from sim.power.wiring import Forest

#: By setting and place: the lowest place that it is joined to.
Chart = tuple[tuple[int, ...], ...]


@dataclass(frozen=True, slots=True)
class Match:
    """Library pieces of one chart, and the readings that would have to be wrong."""

    variants: tuple[Variant, ...]
    chart: Chart
    wrong: tuple[int, ...]

    @property
    def words(self) -> str:
        """The pieces in words."""
        return "; or ".join(v.words or v.piece.kind for v in self.variants)


def chart_of_variant(subject: Subject, variant: Variant) -> Chart:
    """What would be read of a variant at the subject's places. Plastic is joined to nothing."""
    layout = layout_of(variant.piece)
    at = sections_at(subject, variant.piece)
    node = {section.name: k for k, section in enumerate(variant.piece.sections)}
    found = []
    for positions in subject.settings:
        forest = Forest(len(layout.nodes))
        for element in layout.elements:
            if is_closed(element, positions):
                forest.join(element.a, element.b)
        first: dict[int, int] = {}
        nets = []
        for place, section in enumerate(at):
            net = place
            if section is not None:
                net = first.setdefault(forest.find(node[section]), place)
            nets.append(net)
        found.append(tuple(nets))
    return tuple(found)


def matches(
    subject: Subject, readings: Sequence[Reading], plastic: Sequence[int] = ()
) -> list[Match]:
    """All library pieces of the subject's shape, those with fewest wrong readings first.

    ``plastic`` are places, counted from 0, that were seen to be plastic.
    """
    by_chart: dict[Chart, list[Variant]] = {}
    for variant in subject.variants:
        at = sections_at(subject, variant.piece)
        if any(at[place] is not None for place in plastic):
            continue
        by_chart.setdefault(chart_of_variant(subject, variant), []).append(variant)
    setting = {positions: k for k, positions in enumerate(subject.settings)}
    found = []
    for chart, variants in by_chart.items():
        wrong = [r.number for r in readings if not agrees(chart[setting[r.probe.positions]], r)]
        found.append(Match(tuple(variants), chart, tuple(wrong)))
    return sorted(found, key=lambda m: len(m.wrong))


def agrees(nets: Sequence[int], reading: Reading) -> bool:
    """Whether a reading could be taken where nets are such."""
    if nets[reading.probe.a] == nets[reading.probe.b]:
        return reading.allows != {"open"}
    return "open" in reading.allows


#: How much is worked out: parts looked at, times settings, times places squared.
WORK_AT_MOST = 800_000
PARTS_AT_MOST = 2000


@dataclass(frozen=True, slots=True)
class Every:
    """Wirings and their charts, the simplest first, and how many were found to agree.

    ``complete``: no other wiring agrees, and none of those left out is simpler.
    """

    wirings: tuple[tuple[Learned, Chart], ...]
    count: int
    complete: bool


def every_wiring(
    relations: Sequence[Relation], settings: Sequence[Positions], places: int, at_most: int
) -> Every:
    """Wirings that agree with ``relations``: the ``at_most`` simplest of those found.

    "Simple" is what :func:`sim.bench.learning.infer.infer` finds to be so.  Where work runs out
    before all parts were looked at, those that seem simplest were looked at first.
    """
    work = WORK_AT_MOST // max(1, places * places * len(settings))
    left = max(2, min(PARTS_AT_MOST, work))
    waiting: list[tuple[int, int, Chart, list[Relation]]] = []
    found: list[tuple[Learned, Chart]] = []
    complete = True
    todo: Iterator[list[Relation]] = iter([[r.copy() for r in relations]])
    while True:
        for part in todo:
            if left == 0:
                complete = False
                break
            left -= 1
            learned = infer(part, settings, places)
            chart = chart_of(learned, settings)
            if not _agrees(part, chart):
                complete = False  # a wiring that the chooser cannot express
                continue
            found.append((learned, chart))
            heappush(waiting, (learned.cost, len(found), chart, part))
        if not waiting or (left == 0 and not complete):
            break
        _, _, chart, part = heappop(waiting)
        todo = _others(part, chart)
    simplest = sorted(found, key=lambda f: f[0].cost)[:at_most]
    return Every(tuple(simplest), len(found), complete)


def chart_of(learned: Learned, settings: Sequence[Positions]) -> Chart:
    """The nets of a wiring in every setting."""
    return tuple(learned.nets(positions) for positions in settings)


def relations_in(chart: Chart) -> list[Relation]:
    """Everything that a chart says, as if all of it had been read."""
    found = []
    for nets in chart:
        relation = Relation(len(nets))
        for a, b in combinations(range(len(nets)), 2):
            if nets[a] == nets[b]:
                relation.join(a, b)
        for a, b in combinations(sorted(set(nets)), 2):
            relation.part(a, b)
        found.append(relation)
    return found


def unread(relations: Sequence[Relation], chart: Chart) -> Iterator[tuple[int, int, int, bool]]:
    """(setting, net, net, joined in ``chart``) of which nothing is known."""
    for k, relation in enumerate(relations):
        nets = sorted({relation.net(p) for p in range(len(chart[k]))})
        for a, b in combinations(nets, 2):
            if relation.known(a, b) is None:
                yield k, a, b, chart[k][a] == chart[k][b]


def _others(part: Sequence[Relation], chart: Chart) -> Iterator[list[Relation]]:
    """``part`` without ``chart``, in parts that have nothing in common."""
    like = [r.copy() for r in part]
    for k, a, b, joined in list(unread(part, chart)):
        if like[k].known(a, b) is not None:
            continue
        other = [r.copy() for r in like]
        if other[k].part(a, b) if joined else other[k].join(a, b):
            yield other
        if joined:
            like[k].join(a, b)
        else:
            like[k].part(a, b)


def _agrees(relations: Sequence[Relation], chart: Chart) -> bool:
    for relation, nets in zip(relations, chart, strict=True):
        for a, b in combinations(range(len(nets)), 2):
            known = relation.known(a, b)
            if known is not None and known != (nets[a] == nets[b]):
                return False
    return True
