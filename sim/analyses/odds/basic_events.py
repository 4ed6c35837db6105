"""What may fail, with what chance, and what exact odds leave out.

Which faults of a scenario have a part in exact odds, and which are left to runs.

What may fail, with what chance, as variables of decision diagrams.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass

from sim.analyses.odds.decision_diagrams import Diagrams, When
from sim.layout.model import Layout
from sim.layout.traffic import Wear, standing
from sim.power.trace import Positions, Traced, closed_bits, trace_closed
from sim.power.wiring import is_permanent, wire

#: Parts of one rule that are named.
NAMED = 3


def off_from_the_start(wear: Iterable[Wear]) -> dict[str, float]:
    """The chance that a supply is off for a whole run, by its name."""
    return {part: chance for (_, part), chance in standing(filter(_is_off, wear)).items()}


def _is_off(rule: Wear) -> bool:
    return rule.effect == "gives nothing" and rule.stands


def left_out(wear: Iterable[Wear]) -> tuple[str, ...]:
    """Faults that come and go within a run, or that tracing cannot see, in words."""
    rules: dict[tuple[str, str], list[str]] = {}
    for rule in wear:
        if not _is_off(rule):
            rules.setdefault((rule.what, _when(rule)), []).append(rule.part)
    return tuple(f"{_named(parts)}: {what}, {when}" for (what, when), parts in rules.items())


def _when(rule: Wear) -> str:
    if rule.at_s is not None:
        return f"at {rule.at_s:g} s"
    if rule.at_throw is not None:
        return f"at throw {rule.at_throw}"
    return f"{rule.chance:g} per {rule.per}"


def _named(parts: list[str]) -> str:
    more = len(parts) - NAMED
    return ", ".join(parts[:NAMED]) + (f" and {more} more" if more > 0 else "")


@dataclass(frozen=True, slots=True)
class Doubt:
    """One element, lever or supply that may fail.

    ``chance`` is the probability that it is failed: that a contact which should be
    closed is open, that a joiner, wire or supply is off, that a lever is not where
    it was sent.
    """

    part: str
    kind: str  #: an element's kind, ``lever`` or ``supply``
    index: int
    chance: float


class Doubts:
    """All doubts of a layout, numbered along the track from its far end to the poles.

    What decides together lies together, and what reaches a rail is the element
    next to it and what reaches its neighbour: with the far end asked first, the
    answers of a whole line share their nodes.  ``off`` is the chance that a supply
    is off, by its name.
    """

    def __init__(self, layout: Layout, off: Mapping[str, float] | None = None) -> None:
        self.layout = layout
        supplies = [
            Doubt(s.name, "supply", i, chance)
            for i, s in enumerate(layout.supplies)
            if (chance := (off or {}).get(s.name, 0.0)) > 0.0
        ]
        elements = [
            Doubt(e.id, e.kind, i, e.found_open)
            for i, e in enumerate(layout.elements)
            if e.kind != "gap" and e.found_open > 0.0
        ]
        levers = [
            Doubt(x.id, "lever", i, x.fails)
            for i, x in enumerate(layout.levers)
            if x.fails > 0.0
        ]
        # asked last of all, as the poles are where the walk begins
        self.all = (*reversed(list(_along(layout, elements, levers))), *supplies)
        self.chances = tuple(d.chance for d in self.all)
        self._lever = {d.index: v for v, d in enumerate(self.all) if d.kind == "lever"}
        #: by element: the variables that have to be good for it to conduct
        self._needs: dict[int, list[int]] = {}
        self._off = {d.index: v for v, d in enumerate(self.all) if d.kind == "supply"}
        for v, d in enumerate(self.all):
            if d.kind not in ("lever", "supply"):
                self._needs.setdefault(d.index, []).append(v)
        loose = [i for i in self._needs if is_permanent(layout.elements[i])]
        self._wiring = wire(layout, switched=loose)

    def traced(self, diagrams: Diagrams, asked: Positions) -> Traced[When]:
        """Everything about the setting ``asked``, as functions of what has failed."""
        literal = dict(self._literals(diagrams, asked))
        always = diagrams.always
        closed: dict[int, When] = {}
        for i, e in enumerate(self.layout.elements):
            if e.kind == "contact":
                closed[i] = closed_bits(e.when, literal, always) & self._good(diagrams, i)
            elif i in self._needs:
                closed[i] = self._good(diagrams, i)
        return trace_closed(
            self.layout,
            self._wiring,
            closed,
            always,
            one_by_one=True,
            off={supply: diagrams.failed(v) for supply, v in self._off.items()},
        )

    def _good(self, diagrams: Diagrams, element: int) -> When:
        good = diagrams.always
        for variable in self._needs.get(element, ()):
            good = good & ~diagrams.failed(variable)
        return good

    def _literals(
        self, diagrams: Diagrams, asked: Positions
    ) -> Iterator[tuple[tuple[int, int], When]]:
        """When each lever stands at each position.

        A lever that fails stays where it was.  With two positions that is the
        other one; with more it is taken to have come from rest, or, where it is
        sent to rest, from the position after it.
        """
        for lever, position in enumerate(asked):
            variable = self._lever.get(lever)
            if variable is None:
                yield (lever, position), diagrams.always
                continue
            described = self.layout.levers[lever]
            other = described.rest
            if other == position:
                other = (position + 1) % len(described.positions)
            stays = diagrams.failed(variable)
            yield (lever, other), stays
            yield (lever, position), ~stays


def _along(
    layout: Layout, elements: Iterable[Doubt], levers: Iterable[Doubt]
) -> Iterator[Doubt]:
    """Doubts in the order of a walk from the poles outward, levers at their contacts."""
    by_element = {d.index: d for d in elements}
    by_lever = {d.index: d for d in levers}
    for i in _walk(layout):
        for clause in layout.elements[i].when:
            for lever, _ in clause:
                if lever in by_lever:
                    yield by_lever.pop(lever)
        if i in by_element:
            yield by_element.pop(i)
    yield from by_lever.values()
    yield from by_element.values()


def _walk(layout: Layout) -> Iterator[int]:
    """Elements in the order in which they are met, breadth first.

    All poles are one front; what no pole can reach comes last.
    """
    touching: list[list[int]] = [[] for _ in layout.nodes]
    for i, e in enumerate(layout.elements):
        if e.kind != "gap":
            touching[e.a].append(i)
            touching[e.b].append(i)
    poles = [p for s in layout.supplies for p in (s.plus, s.minus)]
    met_nodes: set[int] = set()
    met: set[int] = set()
    for start in (poles, *([n] for n in range(len(layout.nodes)))):
        front = [n for n in start if n not in met_nodes]
        while front:
            met_nodes.update(front)
            found = dict.fromkeys(i for n in front for i in touching[n] if i not in met)
            met.update(found)
            yield from found
            ends = [n for i in found for n in (layout.elements[i].a, layout.elements[i].b)]
            front = [n for n in dict.fromkeys(ends) if n not in met_nodes]
