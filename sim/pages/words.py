"""What kinds, ways and changes mean in a builder's words."""

from __future__ import annotations

from collections.abc import Mapping

from sim.layout.model import ElementKind, Layout
from sim.pages.places import Ids, Names

#: Kinds of dead, as power tracing tells them apart.
KINDS = {
    "floating": "one rail is fed by nothing",
    "same pole": "both rails are on the same pole",
    "no return": "the rails are fed by two supplies that have no way back to each other",
    "wrong voltage": "the rails are on poles of two supplies that add up wrongly",
    "insulated": "no metal under a wheel",
    "tripped": "the supply has tripped",
    "starved": "connected, but too few volts arrive",
    "short": "the poles are shorted",
}

#: Ways in which two supplies can be joined.
HOWS = {
    "one pole": "by one pole only: no current flows, but they are no longer independent",
    "common return": "by one pole, with a common elsewhere: current can flow",
    "paralleled": "by both poles, in phase: they feed the same rails together",
    "opposed": "by both poles, opposed: a short of both voltages",
}


def kind_in_words(kind: str) -> str:
    """``floating (one rail is fed by nothing)``."""
    meaning = KINDS.get(kind)
    return f"{kind} ({meaning})" if meaning else kind


def how_in_words(how: str) -> str:
    """How two supplies are joined, to follow their poles in a sentence."""
    return HOWS.get(how, how)


_DO: dict[ElementKind, str] = {
    "bond": "make {} good",
    "joiner": "make {} good",
    "contact": "let {} make",
    "feeder": "connect {}",
    "bus": "connect {}",
    "common": "join {}",
    "jumper": "make {} good",
    "gap": "bridge {} with a wire",
}


def changes_in_words(layout: Layout, names: Names | None = None) -> Mapping[str, str]:
    """By id of an element, lever or supply: the change, as an order to a builder.

    ``names`` says what they are called; without it they keep their ids.
    """
    names = names or Ids()
    words = {e.id: _DO[e.kind].format(names.the(e.id, e.kind)) for e in layout.elements}
    words |= {x.id: f"move {names.the(x.id, 'lever')}" for x in layout.levers}
    words |= {s.name: f"switch supply {s.name} on again" for s in layout.supplies}
    return words
