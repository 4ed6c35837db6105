"""Settings of a piece that is learned, in words."""

from __future__ import annotations

from sim.learn.subject import Subject
from sim.readings.model import Positions


def setting_words(subject: Subject, positions: Positions) -> str:
    """A setting in words, gangs by their names."""
    return ", ".join(f"{n} {p}" for n, p in levers_of(subject, positions).items()) or "no lever"


def levers_of(subject: Subject, positions: Positions) -> dict[str, str]:
    """By lever or gang: its position."""
    template = subject.template
    at = {x.name: x.positions[p] for x, p in zip(template.levers, positions, strict=True)}
    found: dict[str, str] = {}
    for gang in template.gangs:
        if len({at[x] for x in gang.levers}) == 1:
            found[gang.name] = at[gang.levers[0]]
            for x in gang.levers:
                at.pop(x)
    return {**found, **at}
