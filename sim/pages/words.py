"""What kinds, ways and changes mean in a builder's words; times, shares and lists of names.

Times, shares and lists of names in words, the same on every page.

What kinds and ways mean, in a builder's words.

What a hand would do to each thing that a stall names as its cure.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from sim.layout.model import ElementKind, Layout
from sim.pages.places import Ids, Names


def clock(time_s: float) -> str:
    """Time since the start as ``min:s`` to a tenth: ``3:07.5``."""
    tenths = round(time_s * 10)
    return f"{tenths // 600}:{tenths % 600 // 10:02d}.{tenths % 10}"


def span(time_s: float) -> str:
    """How long something lasts: ``20 min``, ``7.5 s``."""
    if time_s >= 60 and time_s % 60 == 0:
        return f"{time_s / 60:.0f} min"
    return f"{time_s:.4g} s"


def joined(names: Sequence[str], last: str = "and") -> str:
    """``a``, ``a and b``, ``a, b and c``."""
    if len(names) < 2:
        return "".join(names)
    return f"{', '.join(names[:-1])} {last} {names[-1]}"


def percent(share: float | None) -> str:
    """A share as per cent to a tenth, ``-`` where there is none."""
    return "-" if share is None else f"{100 * share:.1f} %"


def case_name(fix: str | None) -> str:
    """How a case is called in a heading."""
    return "as built" if fix is None else f"with fix '{fix}'"


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
