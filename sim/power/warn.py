"""What a builder should know of the supply before anything is run."""

from __future__ import annotations

from dataclasses import replace

from sim.layout.model import Layout
from sim.layout.traffic import Case
from sim.power.chart import shorts_in
from sim.power.settings import rest_positions
from sim.scenario.problems import Problem, shown

#: So many of the elements of a short are named.
NAMED = 6


def shorts_at_rest(case: Case) -> list[Problem]:
    """A warning for each short that is there with every lever at rest and no train."""
    layout, rest = case.layout, tuple(rest_positions(case.layout))
    for_good = {short.poles: short for short in shorts_in(_without_contacts(layout), rest)}
    problems = []
    for now in shorts_in(layout, rest):
        short = for_good.get(now.poles, now)
        when = "with all levers at rest" if short is now else "in every setting"
        through = [shown(name) for name in short.elements[:NAMED]]
        more = len(short.elements) - len(through)
        found = f"a dead short of {' and '.join(short.poles)} {when}, through "
        found += ", ".join(through) + (f" and {more} more" if more else "")
        problems.append(Problem("layout", "no short as built", found, "warning"))
    return problems


def _without_contacts(layout: Layout) -> Layout:
    """``layout`` with every contact open for good."""
    kept = (replace(e, kind="gap") if e.kind == "contact" else e for e in layout.elements)
    return replace(layout, elements=tuple(kept))
