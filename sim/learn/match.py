"""Library pieces that read as was read."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from sim.diagnose.alone import layout_of
from sim.learn.subject import Subject, Variant, sections_at
from sim.power.graph import is_closed
from sim.power.wiring import Forest
from sim.readings.model import Reading

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


def chart_of(subject: Subject, variant: Variant) -> Chart:
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
        by_chart.setdefault(chart_of(subject, variant), []).append(variant)
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
