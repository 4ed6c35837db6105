"""What a hand would do to each thing that a stall names as its cure."""

from __future__ import annotations

from collections.abc import Mapping

from sim.layout.model import ElementKind, Layout

_DO: dict[ElementKind, str] = {
    "bond": "make bond {} good",
    "joiner": "make joiner {} good",
    "contact": "let contact {} make",
    "feeder": "connect feeder {}",
    "bus": "connect bus {}",
    "common": "join the common {}",
    "jumper": "make jumper {} good",
    "gap": "bridge gap {} with a wire",
}


def changes_in_words(layout: Layout) -> Mapping[str, str]:
    """By id of an element, lever or supply: the change, as an order to a builder."""
    words = {e.id: _DO[e.kind].format(e.id) for e in layout.elements}
    words |= {x.id: f"move lever {x.id}" for x in layout.levers}
    words |= {s.name: f"switch supply {s.name} on again" for s in layout.supplies}
    return words
